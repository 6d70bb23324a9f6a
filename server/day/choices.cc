#include "server/day/choices.h"

#include "server/day/power_limit.h"
#include "server/day/scene.h"

#include <algorithm>
#include <set>

namespace fieldpeg::day {

std::vector<v1::Channel> channels_of(const Holder& held, const v1::DaySheet& sheet) {
    std::vector<v1::Channel> all(held.gear->channels().begin(), held.gear->channels().end());
    if (!all.empty()) return all;
    std::set<double> taken;
    const auto* owner = pilot(sheet, held.owner);
    for (const auto& row : sheet.rows()) {
        for (const auto& channel : row.channels()) {
            const bool heard =
                !owner || std::ranges::any_of(owner->receivers(),
                                              [&](const auto& v) { return can_tune(v, channel); });
            if (heard && taken.insert(channel.mhz()).second) all.push_back(channel);
        }
    }
    return all;
}

std::vector<double> powers_of(const v1::Transmitter& gear) {
    if (gear.power_dbm().empty()) return {usual_dbm};
    std::vector<double> rising(gear.power_dbm().begin(), gear.power_dbm().end());
    std::ranges::sort(rising);
    return rising;
}

std::vector<double> powers_within(const v1::DaySheet& sheet, const v1::Transmitter& gear) {
    auto rising = powers_of(gear);
    if (gear.power_dbm().empty() && is_above_limit(sheet, rising.front()))
        return {sheet.power_limit_dbm()};  // it can be set to anything
    while (rising.size() > 1 && is_above_limit(sheet, rising.back())) rising.pop_back();
    return rising;
}

bool can_be_set_to(const v1::Transmitter& gear, double power_dbm) {
    return gear.power_dbm().empty() || std::ranges::any_of(gear.power_dbm(), [&](double step) {
               return spectrum::is_same_power(spectrum::Dbm(step), spectrum::Dbm(power_dbm));
           });
}

bool can_be_tuned_to(const v1::Transmitter& gear, const v1::Channel& channel) {
    return gear.channels().empty() || std::ranges::find(gear.channels(), channel.mhz(),
                                                        &v1::Channel::mhz) != gear.channels().end();
}

}  // namespace fieldpeg::day
