#include "server/planner/roster.h"

#include <algorithm>
#include <numeric>
#include <utility>

namespace fieldpeg::planner {
namespace {

std::uint64_t bit(std::size_t channel) {
    return std::uint64_t{1} << channel;
}

}  // namespace

std::size_t changes(const Kept& kept, const Pick& pick) {
    const bool moves = kept.channel && *kept.channel != std::pair(pick.band, pick.channel);
    const bool joins = kept.group && *kept.group != pick.group;
    return std::size_t{moves} + std::size_t{joins};
}

std::size_t changes(const Roster& roster, const Choice& choice) {
    std::size_t count = 0;
    for (std::size_t s = 0; s < roster.kept.size(); ++s)
        count += changes(roster.kept[s], choice[s]);
    return count;
}

std::vector<std::size_t> sizes(const Problem& problem, const Choice& choice) {
    std::vector<std::size_t> of(problem.groups, 0);
    for (std::size_t s = 0; s < problem.roster.is_head.size(); ++s)
        if (problem.roster.is_head[s]) ++of[choice[s].group];
    return of;
}

bool is_lawful(const Problem& problem, const Choice& choice) {
    const auto in_one_group = [&](const auto& pair) {
        return choice[pair.first].group == choice[pair.second].group;
    };
    const auto alike = [&](const auto& pair) {
        const auto &a = choice[pair.first], &b = choice[pair.second];
        return a.band == b.band && a.channel == b.channel && a.power == b.power;
    };
    const auto& roster = problem.roster;
    const auto size = std::ranges::minmax(sizes(problem, choice));
    return std::ranges::none_of(problem.apart, in_one_group) &&
           std::ranges::all_of(problem.together, in_one_group) &&
           std::ranges::all_of(problem.same, alike) &&
           (roster.is_head.empty() ||
            (size.max <= roster.most && size.max - size.min <= roster.spread_max)) &&
           changes(roster, choice) <= roster.changes_max;
}

RosterLimits::RosterLimits(const Problem& problem)
    : problem_(problem),
      sizes_matter_(!problem.roster.is_head.empty()),
      changes_matter_(!problem.roster.kept.empty() && problem.roster.changes_max != SIZE_MAX),
      sizes_(problem.groups),
      changes_(problem.stations.size()) {}

std::size_t RosterLimits::changes(std::size_t station, const Pick& pick) const {
    return changes_matter_ ? planner::changes(problem_.roster.kept[station], pick) : 0;
}

bool RosterLimits::narrow(Words& words, const Domains& domains, const Interference& interference) {
    return (!sizes_matter_ || fit_sizes(words, domains, interference)) &&
           (!changes_matter_ || fit_changes(words, domains, interference));
}

/// Groups that may yet grow, in whatever way the sizes may come out in the end.
bool RosterLimits::find_open_groups(std::size_t waiting) {
    const auto& roster = problem_.roster;
    is_open_.assign(problem_.groups, false);
    const std::size_t all = std::accumulate(sizes_.begin(), sizes_.end(), waiting);
    bool any = false;
    for (std::size_t least = 0; least <= all / problem_.groups; ++least) {
        const std::size_t most =
            std::min(roster.most, roster.spread_max < all ? least + roster.spread_max : all);
        std::size_t missing = 0, room = 0;
        for (const auto size : sizes_) {
            missing += least > size ? least - size : 0;
            room += most > size ? most - size : 0;
        }
        if (missing > waiting || room < waiting || std::ranges::max(sizes_) > most) continue;
        any = true;
        for (std::size_t g = 0; g < sizes_.size(); ++g)
            if (sizes_[g] < (missing == waiting ? std::min(least, most) : most)) is_open_[g] = true;
    }
    return any;
}

bool RosterLimits::fit_sizes(Words& words, const Domains& domains,
                             const Interference& interference) {
    const auto& is_head = problem_.roster.is_head;
    std::ranges::fill(sizes_, 0);
    std::size_t waiting = 0;
    for (std::size_t s = 0; s < is_head.size(); ++s) {
        if (!is_head[s]) continue;
        if (interference.is_put(s))
            ++sizes_[interference.pick(s).group];
        else
            ++waiting;
    }
    if (!find_open_groups(waiting)) return false;
    for (std::size_t s = 0; s < is_head.size(); ++s) {
        if (!is_head[s] || interference.is_put(s)) continue;
        bool any = false;
        domains.for_each(words, s, [&](const Pick& pick, std::uint64_t) {
            if (is_open_[pick.group])
                any = true;
            else
                words[domains.slot(s, pick)] = 0;
        });
        if (!any) return false;
    }
    return true;
}

bool RosterLimits::fit_changes(Words& words, const Domains& domains,
                               const Interference& interference) {
    const auto& roster = problem_.roster;
    std::size_t sure = 0;
    for (std::size_t s = 0; s < roster.kept.size(); ++s)
        sure += changes_[s] = interference.is_put(s)
                                  ? planner::changes(roster.kept[s], interference.pick(s))
                                  : least_changes(words, domains, s);
    if (sure > roster.changes_max) return false;
    constexpr std::size_t most_of_one = 2;
    const std::size_t more = roster.changes_max - sure;
    if (more >= most_of_one) return true;
    for (std::size_t s = 0; s < roster.kept.size(); ++s)
        if (!interference.is_put(s)) keep_within(words, domains, s, changes_[s] + more);
    return true;
}

std::size_t RosterLimits::least_changes(const Words& words, const Domains& domains,
                                        std::size_t station) const {
    const auto& kept = problem_.roster.kept[station];
    if (!kept.channel && !kept.group) return 0;
    std::size_t least = SIZE_MAX;
    domains.for_each(words, station, [&](Pick pick, std::uint64_t word) {
        if (kept.channel && kept.channel->first == pick.band &&
            (word & bit(kept.channel->second)) != 0)
            pick.channel = kept.channel->second;
        else
            pick.channel = band_size_max;  // none of those held
        least = std::min(least, planner::changes(kept, pick));
    });
    return least == SIZE_MAX ? 0 : least;
}

/// Takes away the picks of a station that change more than so much.
void RosterLimits::keep_within(Words& words, const Domains& domains, std::size_t station,
                               std::size_t most) const {
    const auto& kept = problem_.roster.kept[station];
    if (!kept.channel && !kept.group) return;
    domains.for_each(words, station, [&](const Pick& pick, std::uint64_t word) {
        const std::size_t joins = kept.group && *kept.group != pick.group ? 1 : 0;
        auto& left = words[domains.slot(station, pick)];
        if (joins > most)
            left = 0;
        else if (joins == most && kept.channel)
            left = kept.channel->first == pick.band ? word & bit(kept.channel->second) : 0;
    });
}

}  // namespace fieldpeg::planner
