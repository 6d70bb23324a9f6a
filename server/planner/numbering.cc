#include "server/planner/numbering.h"

#include <algorithm>
#include <functional>
#include <map>
#include <set>
#include <tuple>
#include <utility>

namespace fieldpeg::planner {
namespace {

constexpr std::size_t numberings_max = 32;
/// One who stays in a group outweighs all who may leave it.
constexpr std::size_t weight_of_who_stays = 1000;

/// Numbers of the rota before, and how much there is to each.
std::map<std::uint32_t, std::size_t> weights(const RotaTerms& terms) {
    std::map<std::uint32_t, std::size_t> weights;
    for (const auto& one : terms.before)
        if (one.group != 0)
            weights[one.group] += one.stays_in_it ? weight_of_who_stays : std::size_t{1};
    return weights;
}

Numbers with_new_numbers(Numbers numbers, std::size_t groups, const RotaTerms& terms) {
    std::set<std::uint32_t> taken(terms.taken.begin(), terms.taken.end());
    taken.insert(numbers.begin(), numbers.end());
    for (std::uint32_t next = 1; numbers.size() < groups; ++next)
        if (!taken.contains(next)) numbers.push_back(next);
    return numbers;
}

/// Every selection of so many out of some, those of the greatest weight first.
Numberings selections(const std::map<std::uint32_t, std::size_t>& weights, std::size_t groups) {
    std::vector<std::pair<std::size_t, std::uint32_t>> by_weight;
    std::size_t staying = 0;
    for (const auto& [number, weight] : weights) {
        by_weight.emplace_back(weight, number);
        staying += weight >= weight_of_who_stays ? 1U : 0U;
    }
    std::ranges::stable_sort(by_weight, std::greater<>{}, &decltype(by_weight)::value_type::first);
    Numberings ways;
    std::vector<bool> chosen(by_weight.size(), false);
    std::fill_n(chosen.begin(), groups, true);
    do {
        if (ways.all.size() == numberings_max) {
            ways.complete = false;
            break;
        }
        Numbers numbers;
        std::size_t stay = 0;
        for (std::size_t i = 0; i < chosen.size(); ++i) {
            if (!chosen[i]) continue;
            numbers.push_back(by_weight[i].second);
            stay += by_weight[i].first >= weight_of_who_stays ? 1U : 0U;
        }
        std::ranges::sort(numbers);
        if (stay == staying) ways.all.push_back(std::move(numbers));
    } while (std::prev_permutation(chosen.begin(), chosen.end()));
    return ways;
}

/// Who is on in all groups has an order of its own.
std::vector<bool> is_everywhere(const Tables& tables) {
    std::vector<bool> everywhere(tables.question().allowed.size(), false);
    for (const auto& [copy, original] : tables.question().copies)
        everywhere[copy] = everywhere[original] = true;
    return everywhere;
}

/// For each group of a choice where it goes: the heaviest matches first.
std::vector<std::size_t> match(const RotaTerms& terms, const Numbers& numbers,
                               const Choice& choice) {
    const auto groups = numbers.size();
    std::vector<std::vector<std::size_t>> weight(groups, std::vector<std::size_t>(groups, 0));
    for (std::size_t s = 0; s < terms.before.size(); ++s) {
        const auto slot = std::ranges::find(numbers, terms.before[s].group);
        if (terms.before[s].group != 0 && slot != numbers.end())
            weight[choice[s].group][static_cast<std::size_t>(slot - numbers.begin())] +=
                terms.before[s].stays_in_it ? weight_of_who_stays : std::size_t{1};
    }
    std::vector<std::size_t> to(groups, SIZE_MAX);
    std::vector<bool> is_taken(groups, false);
    for (std::size_t round = 0; round < groups; ++round) {
        std::size_t from = SIZE_MAX, into = 0;
        for (std::size_t g = 0; g < groups; ++g)
            for (std::size_t slot = 0; slot < groups; ++slot)
                if (to[g] == SIZE_MAX && !is_taken[slot] &&
                    (from == SIZE_MAX || weight[g][slot] > weight[from][into]))
                    std::tie(from, into) = std::pair(g, slot);
        to[from] = into;
        is_taken[into] = true;
    }
    return to;
}

}  // namespace

Numberings numberings(const Problem& problem, const RotaTerms& terms) {
    const auto known = weights(terms);
    if (known.size() > problem.groups) return selections(known, problem.groups);
    Numbers numbers;
    for (const auto& entry : known) numbers.push_back(entry.first);
    return {{with_new_numbers(std::move(numbers), problem.groups, terms)}, true};
}

std::vector<Kept> kept(const Tables& tables, const RotaTerms& terms, const Numbers& numbers) {
    std::vector<Kept> all(tables.problem().stations.size());
    for (std::size_t s = 0; s < terms.before.size(); ++s) {
        const auto& before = terms.before[s];
        if (before.channel) {
            const auto& power = tables.question().allowed[s].powers.front();
            const auto pick = tables.pick(s, *before.channel, power);
            all[s].channel = pick ? std::pair(pick->band, pick->channel) : Kept::gone_channel;
        }
        if (before.group == 0) continue;
        const auto at = std::ranges::find(numbers, before.group);
        all[s].group =
            at == numbers.end() ? Kept::gone_group : static_cast<std::size_t>(at - numbers.begin());
    }
    return all;
}

std::size_t sure_changes(const std::vector<Kept>& kept) {
    std::size_t count = 0;
    for (const auto& one : kept) {
        count += one.channel == Kept::gone_channel ? 1U : 0U;
        count += one.group == Kept::gone_group ? 1U : 0U;
    }
    return count;
}

void keep_in_groups(Problem& problem, const RotaTerms& terms, const Numbers& numbers) {
    for (std::size_t s = 0; s < terms.before.size(); ++s) {
        const auto at = std::ranges::find(numbers, terms.before[s].group);
        if (terms.before[s].stays_in_it && at != numbers.end())
            problem.stations[s].groups &= std::uint64_t{1} << (at - numbers.begin());
    }
}

Numbered numbered_alike(const Tables& tables, const RotaTerms& terms, const Numberings& ways,
                        const Choice& choice) {
    const auto everywhere = is_everywhere(tables);
    Numbered best{ways.all.front(), choice};
    std::size_t least = SIZE_MAX;
    for (const auto& numbers : ways.all) {
        const auto to = match(terms, numbers, choice);
        Choice moved = choice;
        for (std::size_t s = 0; s < moved.size(); ++s)
            if (!everywhere[s]) moved[s].group = to[moved[s].group];
        Roster roster;
        roster.kept = kept(tables, terms, numbers);
        if (const auto count = changes(roster, moved); count < least) {
            least = count;
            best = {numbers, std::move(moved)};
        }
    }
    return best;
}

}  // namespace fieldpeg::planner
