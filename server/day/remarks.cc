#include "server/day/remarks.h"

#include "server/day/words.h"
#include "server/spectrum/geometry.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fieldpeg::day {
namespace {

bool overlaps(double low, double high, double from, double to) {
    return low < to && from < high;
}

std::string rule_source(const v1::RuleSet& rules) {
    return fmt::format("{}, edition {}, {}", rules.source(), rules.edition(), rules.date());
}

double metres_between(const spectrum::Point& a, const spectrum::Point& b) {
    return spectrum::Ray(a, b).slant_m();
}

bool in_front_end(const Situation& s, std::size_t t, std::size_t v) {
    return spectrum::is_in_front_end(s.scene.profiles[s.scene.receivers[v].profile],
                                     s.scene.transmitters[t].frequency);
}

/// Antennas so near to each other that the model knows no direction.
void add_touching(const Situation& s, std::vector<Caution>& list) {
    for (std::size_t t = 0; t < s.transmitters.size(); ++t) {
        const auto* at = std::get_if<spectrum::Point>(&s.scene.transmitters[t].at);
        if (!at) continue;
        for (std::size_t v = 0; v < s.receivers.size(); ++v)
            if (in_front_end(s, t, v) &&
                metres_between(*at, s.scene.receivers[v].at) < spectrum::touching.count())
                list.push_back(
                    {{s.transmitters[t].owner, s.receivers[v].owner},
                     fmt::format("{} and {}'s {} stand in the same place; margins there are rough: "
                                 "measure, or give each its own place",
                                 s.transmitters[t].name, s.receivers[v].owner,
                                 s.receivers[v].name)});
    }
}

/// A receiver tuned to something its front end does not let through.
void add_out_of_band(const Situation& s, std::vector<Caution>& list) {
    for (std::size_t v = 0; v < s.receivers.size(); ++v) {
        const auto hears = s.scene.receivers[v].hears;
        if (!hears || in_front_end(s, *hears, v)) continue;
        list.push_back(
            {{s.receivers[v].owner},
             fmt::format("{}'s {} is a {}: {} lies outside its band", s.receivers[v].owner,
                         s.receivers[v].name, s.receivers[v].gear->receiver(),
                         channel_text(s.transmitters[*hears].channel))});
    }
}

/// Video, or a harmonic of the pilot's own, in a band that something on an aircraft listens to.
void add_onboard(const Situation& s, const v1::Pilot& pilot, double low_mhz, double high_mhz,
                 std::string_view what, std::vector<Caution>& list) {
    constexpr double half_width_mhz = 10;
    for (const auto& of : s.transmitters) {
        const double mhz = of.channel.mhz();
        const auto hits = [&](double order) {
            return overlaps(low_mhz, high_mhz, order * (mhz - half_width_mhz),
                            order * (mhz + half_width_mhz));
        };
        const bool direct = hits(1);
        if (!direct && !(of.owner == pilot.name() && (hits(2) || hits(3)))) continue;
        list.push_back(
            {{pilot.name(), of.owner},
             fmt::format("{} on {} {} the band of {}'s {}; that is not in the margins: range-test "
                         "with the video on before flying",
                         of.name, channel_text(of.channel),
                         direct ? "lies in" : "has a harmonic in", pilot.name(), what)});
    }
}

void add_all_onboard(const Situation& s, const v1::DaySheet& sheet, std::vector<Caution>& list) {
    for (const auto& pilot : sheet.pilots()) {
        for (const auto& link : sheet.control_links())
            if (link.name() == pilot.control_link())
                add_onboard(s, pilot, link.low_mhz(), link.high_mhz(), "control link", list);
        for (const auto& receiver : sheet.positioning_receivers())
            if (receiver.name() == pilot.positioning_receiver())
                for (const auto& band : receiver.bands())
                    add_onboard(s, pilot, band.low_mhz(), band.high_mhz(), "positioning receiver",
                                list);
    }
}

}  // namespace

spectrum::Dbm eirp(const spectrum::Transmitter& transmitter) {
    return transmitter.power - transmitter.loss + transmitter.antenna.pattern.peak_gain;
}

std::vector<v1::Remark> remarks(const Occupied& occupied, const v1::RuleSet* rules,
                                const google::protobuf::RepeatedPtrField<v1::Service>& services) {
    std::vector<v1::Remark> list;
    const auto add = [&](std::string text, std::string source) {
        v1::Remark remark;
        remark.set_text(std::move(text));
        remark.set_source(std::move(source));
        list.push_back(std::move(remark));
    };
    const double low = occupied.channel.mhz() - occupied.width_mhz / 2;
    const double high = occupied.channel.mhz() + occupied.width_mhz / 2;
    const auto band =
        fmt::format("{}, occupied {:.1f}-{:.1f} MHz", channel_text(occupied.channel), low, high);
    if (rules) {
        const auto inside = [&](const v1::Allowance& a) {
            return a.low_mhz() <= low && high <= a.high_mhz();
        };
        const auto allowance = std::ranges::find_if(rules->allowances(), inside);
        if (allowance == rules->allowances().end())
            add(fmt::format("{}: not within a band of '{}'", band, rules->title()),
                rule_source(*rules));
        else if (allowance->has_eirp_dbm_max() && occupied.eirp_dbm &&
                 *occupied.eirp_dbm > allowance->eirp_dbm_max() + 0.01)
            add(fmt::format("{}: {} e.i.r.p. exceeds {} of '{}' by {:.1f} dB", band,
                            power_text(*occupied.eirp_dbm), power_text(allowance->eirp_dbm_max()),
                            rules->title(), *occupied.eirp_dbm - allowance->eirp_dbm_max()),
                rule_source(*rules));
    }
    for (const auto& service : services)
        if (overlaps(low, high, service.low_mhz(), service.high_mhz()))
            add(fmt::format("{}: touches {}, {}-{} MHz: {}", band, service.name(),
                            mhz_text(service.low_mhz()), mhz_text(service.high_mhz()),
                            service.note()),
                service.source());
    return list;
}

std::vector<v1::Remark> remarks(const Situation& situation, std::size_t transmitter,
                                const v1::DaySheet& sheet) {
    const auto& of = situation.transmitters[transmitter];
    const auto emission =
        std::ranges::find(sheet.emissions(), of.gear->emission(), &v1::Emission::name);
    auto list = remarks(Occupied{of.channel, emission->occupied_mhz(),
                                 eirp(situation.scene.transmitters[transmitter]).count()},
                        sheet.has_rules() ? &sheet.rules() : nullptr, sheet.services());
    for (auto& remark : list) {
        remark.set_owner(of.owner);
        remark.set_transmitter(of.name);
    }
    return list;
}

std::vector<Caution> cautions(const Situation& situation, const v1::DaySheet& sheet) {
    std::vector<Caution> list;
    add_touching(situation, list);
    add_out_of_band(situation, list);
    add_all_onboard(situation, sheet, list);
    return list;
}

}  // namespace fieldpeg::day
