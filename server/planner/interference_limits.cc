#include "server/planner/interference.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

namespace fieldpeg::planner {
namespace {

/// The channels, out of some, for which test(channel) holds: a few one by one, many side by side.
template <class Test>
std::uint64_t mask(std::uint64_t channels, Test test) {
    constexpr int few = 10;
    if (std::popcount(channels) <= few) {
        for (auto open = channels; open != 0; open &= open - 1)
            if (!test(static_cast<std::size_t>(std::countr_zero(open))))
                channels &= ~(open & -open);
        return channels;
    }
    std::array<std::uint32_t, band_size_max> holds;
    for (std::size_t c = 0; c < band_size_max; ++c) holds[c] = test(c) ? 1U << (c % 32) : 0;
    std::uint32_t low = 0, high = 0;
    for (std::size_t c = 0; c < 32; ++c) low |= holds[c];
    for (std::size_t c = 32; c < 64; ++c) high |= holds[c];
    return channels & (std::uint64_t{high} << 32 | low);
}

}  // namespace

void Interference::set_target_db(double target_db) {
    target_db_ = target_db;
    for (std::size_t g = 0; g < problem_.goals.size(); ++g)
        for (const auto e : problem_.goals[g])
            target_[e] = std::pow(10, (problem_.demand_db(g, target_db) - rounding_db) / 10);
}

/// How many noises an ear may hear, noise included, with its front end wide open; 0 if the target
/// is out of its reach.
double Interference::room(std::size_t e, std::size_t group, std::size_t band,
                          std::size_t power) const {
    const auto& ear = problem_.ears[e];
    const auto& profile = problem_.profiles[ear.profile];
    const double others = blockers_[e * problem_.groups + group];
    return ear.signal[band] * problem_.stations[ear.station].powers[power] *
           desensitisation(others / profile.blocking) / (profile.noise * target_[e]);
}

std::uint64_t Interference::hears_well(std::size_t e, const Pick& at,
                                       std::uint64_t channels) const {
    const auto& ear = problem_.ears[e];
    const Levels& level = slices_[slice_[slot(e, at.group, at.band)]];
    const Levels& front = levels_.front(ear.profile, at.band);
    const auto most = static_cast<float>(room(e, at.group, at.band, at.power));
    const auto near = static_cast<float>(
        ear.close[at.band] / (target_[e] * problem_.stations[ear.station].powers[at.power]));
    return mask(channels,
                [&](std::size_t c) { return level[c] + 1 <= most * front[c] && front[c] <= near; });
}

/// The channels on which a newcomer leaves an ear put above the target.
std::uint64_t Interference::spares(std::size_t e, std::size_t station, const Pick& where,
                                   std::uint64_t channels) const {
    const auto& ear = problem_.ears[e];
    const auto& profile = problem_.profiles[ear.profile];
    const auto& at = *picks_[ear.station];
    const float left = left_[e] + least_at(e, station);
    if (left < 0) return 0;
    const auto weight =
        static_cast<float>(problem_.stations[station].powers[where.power] *
                           ear.path[problem_.seat(station, where.band)] / profile.noise);
    const Levels& leak =
        levels_.leak(ear.profile, problem_.stations[station].kind, where.band, at.band, at.channel);
    const Levels& passed = levels_.front(ear.profile, where.band);
    return mask(channels, [&](std::size_t c) { return weight * passed[c] * leak[c] <= left; });
}

std::uint64_t Interference::fits(std::size_t station, const Pick& where,
                                 std::uint64_t channels) const {
    for (const auto g : goals_of_[station]) {
        std::uint64_t any = 0;
        for (const auto e : problem_.goals[g]) any |= hears_well(e, where, channels);
        if ((channels &= any) == 0) return 0;
    }
    for (const auto s : members_[where.group]) {
        for (const auto g : goals_of_[s]) {
            std::uint64_t any = 0;
            for (const auto e : problem_.goals[g]) any |= spares(e, station, where, channels);
            if ((channels &= any) == 0) return 0;
        }
    }
    return channels;
}

/// Whether everybody put in a group still reaches the target; how much each ear has left for more.
bool Interference::all_fit(std::size_t group) {
    return std::ranges::all_of(members_[group], [&](std::size_t s) {
        return std::ranges::all_of(goals_of_[s], [&](std::size_t g) {
            bool any = false;
            for (const auto e : problem_.goals[g]) {
                left_[e] = left(e, *picks_[s]);
                any = any || left_[e] >= 0;
            }
            return any;
        });
    });
}

/// Whether those of a group reach the target together too.
bool Interference::all_join(std::size_t group) const {
    return std::ranges::all_of(problem_.joints, [&](const Joint& joint) {
        std::vector<EarNow> now;
        for (const auto e : joint.ears) {
            const auto& ear = problem_.ears[e];
            const auto& pick = picks_[ear.station];
            if (!pick || pick->group != group) return true;
            const auto& profile = problem_.profiles[ear.profile];
            const auto others = blockers_[e * problem_.groups + group];
            now.push_back({pick->band,
                           problem_.stations[ear.station].powers[pick->power] *
                               problem_.front(profile, step(ear.station)),
                           profile.noise * (1 + static_cast<double>(heard_[e])) /
                               desensitisation(others / profile.blocking)});
        }
        return joint.margin_db(now) >= problem_.demand_db(joint.goal, target_db_) - rounding_db;
    });
}

/// How many more noises an ear put stands; less than 0: it is below the target.
float Interference::left(std::size_t e, const Pick& at) const {
    const auto& ear = problem_.ears[e];
    const float front = levels_.front(ear.profile, at.band)[at.channel];
    const double power = problem_.stations[ear.station].powers[at.power];
    if (power * static_cast<double>(front) * target_[e] > ear.close[at.band]) return -1;
    return static_cast<float>(room(e, at.group, at.band, at.power)) * front - 1 - heard_[e];
}

double Interference::used(std::size_t station, const Pick& where) const {
    double most = 0;
    for (const auto g : goals_of_[station]) {
        double least = INFINITY;
        for (const auto e : problem_.goals[g]) {
            const Levels& level = slices_[slice_[slot(e, where.group, where.band)]];
            const double has = room(e, where.group, where.band, where.power);
            least = std::min(least, (static_cast<double>(level[where.channel]) + 1) / has);
        }
        most = std::max(most, least);
    }
    return most;
}

}  // namespace fieldpeg::planner
