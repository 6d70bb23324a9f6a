#include "server/planner/domains.h"

#include <algorithm>
#include <bit>

namespace fieldpeg::planner {

Domains::Domains(const Problem& problem) : problem_(problem) {
    const auto everywhere = [&](const Station& s) {
        return problem.groups <= 64 && s.groups == ~std::uint64_t{0};
    };
    const auto holds_a_group = [](const Kept& kept) {
        return kept.group && kept.group != Kept::gone_group;
    };
    groups_alike_ = (problem.groups > 64 || std::ranges::all_of(problem.stations, everywhere)) &&
                    std::ranges::none_of(problem.roster.kept, holds_a_group);
    std::size_t size = 0;
    for (const auto& station : problem.stations) {
        first_.push_back(size);
        size += problem.groups * station.powers.size() * problem.bands.size();
    }
    first_.push_back(size);
}

Words Domains::all() const {
    Words words;
    for (const auto& station : problem_.stations)
        for (std::size_t group = 0; group < problem_.groups; ++group)
            for (std::size_t power = 0; power < station.powers.size(); ++power)
                for (const auto word : station.channels)
                    words.push_back(group >= 64 || (station.groups >> group & 1) != 0 ? word : 0);
    return words;
}

/// Takes from a station all that is outside a group, or inside.
void Domains::keep_to_group(Words& words, std::size_t station, std::size_t group,
                            bool inside) const {
    const std::size_t width = problem_.stations[station].powers.size() * problem_.bands.size();
    for (std::size_t g = 0; g < problem_.groups; ++g)
        if ((g == group) != inside)
            std::fill_n(words.begin() + static_cast<std::ptrdiff_t>(first_[station] + g * width),
                        width, 0);
}

/// Leaves a station a channel and a power alone, in whatever group.
void Domains::keep_to(Words& words, std::size_t station, const Pick& pick) const {
    for_each(words, station, [&](const Pick& at, std::uint64_t word) {
        const bool is_there = at.band == pick.band && at.power == pick.power;
        words[slot(station, at)] = is_there ? word & std::uint64_t{1} << pick.channel : 0;
    });
}

/// Takes from a station what does not fit in a group; false if nothing is left anywhere.
bool Domains::fit_group(Words& words, const Interference& interference, std::size_t station,
                        std::size_t group) const {
    Pick pick{group, 0, 0, 0};
    std::size_t at = slot(station, pick);
    for (pick.power = 0; pick.power < problem_.stations[station].powers.size(); ++pick.power)
        for (pick.band = 0; pick.band < problem_.bands.size(); ++pick.band, ++at)
            if (words[at] != 0) words[at] = interference.fits(station, pick, words[at]);
    return std::any_of(words.begin() + static_cast<std::ptrdiff_t>(first_[station]),
                       words.begin() + static_cast<std::ptrdiff_t>(first_[station + 1]),
                       [](std::uint64_t word) { return word != 0; });
}

bool Domains::narrow(Words& words, const Interference& interference, std::size_t put) const {
    const std::size_t group = interference.pick(put).group;
    const auto keep = [&](const auto& pairs, bool inside) {
        for (const auto& [a, b] : pairs) {
            if (a == put && !interference.is_put(b)) keep_to_group(words, b, group, inside);
            if (b == put && !interference.is_put(a)) keep_to_group(words, a, group, inside);
        }
    };
    keep(problem_.apart, false);
    keep(problem_.together, true);
    for (const auto& [a, b] : problem_.same) {
        if (a == put && !interference.is_put(b)) keep_to(words, b, interference.pick(put));
        if (b == put && !interference.is_put(a)) keep_to(words, a, interference.pick(put));
    }
    for (std::size_t s = 0; s < problem_.stations.size(); ++s)
        if (!interference.is_put(s) && !fit_group(words, interference, s, group)) return false;
    return true;
}

bool Domains::narrow(Words& words, const Interference& interference) const {
    for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
        bool any = false;
        for (std::size_t group = 0; group < problem_.groups; ++group)
            any = fit_group(words, interference, s, group);
        if (!any) return false;
    }
    return true;
}

bool Domains::forbid(Words& words, const Interference& interference, std::size_t station,
                     const Pick& pick, std::size_t groups_in_use) const {
    const auto forbid_for = [&](std::size_t s) {
        std::uint64_t any = 0;
        Pick like = pick;
        const bool in_new_group = groups_alike_ && pick.group >= groups_in_use;
        for (; like.group < (in_new_group ? problem_.groups : pick.group + 1); ++like.group)
            words[slot(s, like)] &= ~(std::uint64_t{1} << pick.channel);
        for (std::size_t at = first_[s]; at < first_[s + 1]; ++at) any |= words[at];
        return any != 0;
    };
    for (std::size_t s = 0; s < problem_.stations.size(); ++s)
        if (s != station && !interference.is_put(s) &&
            problem_.stations[s].twins == problem_.stations[station].twins && !forbid_for(s))
            return false;
    return forbid_for(station);
}

std::size_t Domains::left(const Words& words, std::size_t station,
                          std::size_t groups_in_use) const {
    const std::size_t groups =
        groups_alike_ ? std::min(problem_.groups, groups_in_use + 1) : problem_.groups;
    const std::size_t width = problem_.stations[station].powers.size() * problem_.bands.size();
    std::size_t count = 0;
    for (std::size_t i = 0; i < groups * width; ++i)
        count += static_cast<std::size_t>(std::popcount(words[first_[station] + i]));
    return count;
}

}  // namespace fieldpeg::planner
