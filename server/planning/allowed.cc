#include "server/day/remarks.h"
#include "server/day/scene.h"
#include "server/planning/plan_scene.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <map>
#include <optional>
#include <vector>

/// What a PlanScene lets be chosen: which channels, which powers.
namespace fieldpeg::planning {

using planner::Tables;

/// Of what may be chosen, leaves the channels on which the rule set and the services to keep clear
/// of have the fewest remarks, and of the powers those without one, or else the least.
void PlanScene::prefer_unremarked() {
    auto situation = day::situation(sheet_, v1::Basis::held);
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        auto& seat = seats_[t];
        if (seat.stays) continue;
        auto& allowed = question_.allowed[t];
        const auto emission = std::ranges::find(
            sheet_.emissions(), situation.transmitters[t].gear->emission(), &v1::Emission::name);
        const auto remarks = [&](const v1::Channel& channel, std::optional<double> eirp_dbm) {
            return day::remarks({channel, emission->occupied_mhz(), eirp_dbm},
                                sheet_.has_rules() ? &sheet_.rules() : nullptr, sheet_.services())
                .size();
        };
        std::map<std::size_t, std::vector<v1::Channel>> by_remarks;
        for (const auto& channel : seat.channels)
            by_remarks[remarks(channel, std::nullopt)].push_back(channel);
        const std::size_t least = by_remarks.begin()->first;
        seat.channels = by_remarks.begin()->second;
        if (seat.held && std::ranges::find(seat.channels, seat.held->channel().mhz(),
                                           &v1::Channel::mhz) == seat.channels.end())
            seat.channels.push_back(seat.held->channel());  // known when it was claimed
        allowed.channels.clear();
        for (const auto& channel : seat.channels)
            allowed.channels.push_back(spectrum::from_mhz(channel.mhz()));
        if (least > 0)
            said_.push_back(
                fmt::format("{}: there is a remark on every channel it can have", seat.name));

        auto& transmitter = situation.scene.transmitters[t];
        const auto is_too_much = [&](spectrum::Dbm power) {
            transmitter.power = power;
            const double eirp_dbm = day::eirp(transmitter).count();
            return std::ranges::any_of(by_remarks.begin()->second,
                                       [&](const auto& c) { return remarks(c, eirp_dbm) > least; });
        };
        const auto lowest = allowed.powers.front();
        std::erase_if(allowed.powers, [&](spectrum::Dbm power) {
            const bool is_held = seat.held && power == spectrum::Dbm(seat.held->power_dbm());
            return !is_held && is_too_much(power);
        });
        if (!allowed.powers.empty()) continue;
        allowed.powers = {lowest};
        said_.push_back(
            fmt::format("{}: there is a remark on every power it can be set to", seat.name));
    }
}

/// For whoever holds no power: the least at which the picture is sharp with nobody else on the air,
/// or else the highest [ours: design decision].
void PlanScene::settle_powers() {
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        auto& powers = question_.allowed[t].powers;
        if (!seats_[t].least_power || powers.size() == 1) continue;
        std::ranges::sort(powers);
        const Tables alone(planner::only(question_, t));
        const auto is_sharp = [&](spectrum::Dbm power) {
            const auto pick = alone.pick(0, question_.allowed[t].channels.front(), power);
            return std::ranges::all_of(alone.standings({*pick}), [](const auto& standing) {
                return standing.sharp >= spectrum::Decibel(0);
            });
        };
        const auto least = std::ranges::find_if(powers, is_sharp);
        powers = {least == powers.end() ? powers.back() : *least};
    }
}

}  // namespace fieldpeg::planning
