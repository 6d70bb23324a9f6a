#include "server/planner/raise_margins.h"

#include "server/planner/capacity.h"
#include "server/planner/part.h"
#include "server/planner/rota.h"
#include "server/planner/tree.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <set>
#include <utility>
#include <vector>

namespace fieldpeg::planner {
namespace {

/// An exact search this long first; a group by itself; a bound.
constexpr std::uint64_t nodes_at_once = 5'000, nodes_a_step = 20'000, nodes_a_near_step = 200'000,
                        nodes_a_bound = 20'000;
/// Picks that a local search looks at, and turns of it and of searches in the worst group.
constexpr std::size_t picks_a_turn = 30'000, turns_max = 40;
/// After this share of the time, exact search over all has the rest.
constexpr double turns_share = 0.95;
constexpr double bound_step_db = 0.005;
/// A group by itself is to be better by so much, then by half of it and so on down to the least.
constexpr double group_step_db = 0.8, near_step_db = 0.2, step_least_db = 0.02;

class Raising {
public:
    Raising(const Problem& problem, const Tables& tables, const Effort& effort)
        : problem_(problem), tables_(tables), effort_(effort) {}

    Outcome find(std::optional<Choice> from) {
        auto brief = effort_;
        brief.nodes_max = std::min(effort_.nodes_max, nodes_at_once);
        brief.from = std::move(from);
        out_ = best_choice(problem_, tables_.reckon(), brief);
        const bool is_lost = !out_.best || !is_lawful(problem_, *out_.best);
        if (out_.proved || is_lost || problem_.groups < 2 || is_over(1)) return out_;
        lower_bound();
        take_turns();
        if (!is_met() && !is_over(1)) search_all();
        out_.proved = is_met();
        return out_;
    }

private:
    bool is_over(double share) const {
        return out_.nodes >= effort_.nodes_max || effort_.stop() || effort_.is_past(share);
    }
    bool is_met() const { return out_.bound_db <= out_.worst_db + effort_.tolerance_db; }

    /// More groups than there are would be needed for more than this.
    void lower_bound() {
        double low = out_.worst_db, high = out_.bound_db;
        if (!std::isfinite(low) || !std::isfinite(high)) return;
        while (high - low > bound_step_db && !is_over(turns_share)) {
            const double middle = (low + high) / 2;
            Patience patience{nodes_a_bound, effort_.stop};
            const auto groups = std::max(groups_needed(problem_, middle),
                                         groups_by_capacity(problem_, middle, patience));
            (groups > problem_.groups ? high : low) = middle;
        }
        out_.bound_db = high;
    }

    void take_turns() {
        for (std::size_t turn = 1; turn <= turns_max && !is_met() && !is_over(turns_share);
             ++turn) {
            while (raise_worst_group()) {
            }
            auto local = effort_;
            local.seed = effort_.seed * turns_max + turn;
            local.moves_max = std::max<std::size_t>(picks_a_turn / picks_of_one(), 50);
            local.nodes_max = 1;
            try_from(problem_, local);
        }
    }
    std::size_t picks_of_one() const {
        std::size_t picks = 0;
        for (const auto& station : problem_.stations)
            for (const auto word : station.channels)
                picks += static_cast<std::size_t>(std::popcount(word)) * problem_.groups;
        return std::max<std::size_t>(1, picks / problem_.stations.size());
    }
    /// Whether a search from the best so far found better.
    bool try_from(const Problem& problem, Effort effort) {
        effort.from = out_.best;
        effort.progress = [](const Outcome&) {};
        const auto found = best_choice(problem, tables_.reckon(), effort);
        out_.nodes += found.nodes;
        if (found.worst_db <= out_.worst_db + effort_.tolerance_db / 2) return false;
        out_.best = found.best;
        out_.worst_db = found.worst_db;
        out_.bound_db = std::max(out_.bound_db, out_.worst_db);
        effort_.progress(out_);
        return true;
    }
    bool raise_worst_group() {
        if (is_met() || is_over(turns_share)) return false;
        const auto by_group = worst_by_group(*out_.best);
        const auto group =
            static_cast<std::size_t>(std::ranges::min_element(by_group) - by_group.begin());
        const auto members = members_of(group);
        if (!tried_.insert(members).second) return false;
        auto whole = *out_.best;
        Choice part;
        for (const auto s : members) {
            part.push_back(whole[s]);
            part.back().group = 0;
        }
        const auto with = [&](const Choice& of_members) {
            auto choice = whole;
            for (std::size_t i = 0; i < members.size(); ++i) {
                choice[members[i]] = of_members[i];
                choice[members[i]].group = group;
            }
            return choice;
        };
        const auto problem = part_of(problem_, members);
        const auto reckon = [&](const Choice& choice) {
            return worst_by_group(with(choice))[group];
        };
        auto found = climbed(problem, reckon, part, group_step_db, nodes_a_step);
        if (!found) found = climbed(problem, reckon, part, near_step_db, nodes_a_near_step);
        if (!found) return false;
        whole = with(*found);
        if (!is_lawful(problem_, whole)) return false;
        out_.best = whole;
        out_.worst_db = tables_.reckon(whole);
        out_.bound_db = std::max(out_.bound_db, out_.worst_db);
        effort_.progress(out_);
        return true;
    }
    /// A better choice for a group by itself, if one is found: far targets first, each for a while.
    std::optional<Choice> climbed(const Problem& part, const Reckon& reckon, Choice from,
                                  double step, std::uint64_t nodes_max) {
        auto brief = effort_;
        brief.nodes_max = nodes_max;
        brief.moves_max = 0;
        brief.progress = [](const Outcome&) {};
        brief.stop = [this] { return effort_.stop() || effort_.is_past(turns_share); };
        brief.from = std::move(from);
        double worst_db = reckon(*brief.from);
        bool is_better = false;
        for (; step > step_least_db && !is_over(turns_share);) {
            const auto found = choice_reaching(part, reckon, worst_db + step, brief);
            out_.nodes += found.nodes;
            if (found.best && found.worst_db >= worst_db + step) {
                brief.from = found.best;
                worst_db = found.worst_db;
                is_better = true;
            } else {
                step /= 2;
            }
        }
        return is_better ? brief.from : std::nullopt;
    }
    std::vector<std::size_t> members_of(std::size_t group) const {
        std::vector<std::size_t> members;
        for (std::size_t s = 0; s < out_.best->size(); ++s)
            if ((*out_.best)[s].group == group) members.push_back(s);
        return members;
    }
    /// [group]: the least margin of those that count and fly in it.
    std::vector<double> worst_by_group(const Choice& choice) const {
        std::vector<double> worst(problem_.groups, INFINITY);
        const auto standings = tables_.standings(choice);
        for (std::size_t i = 0; i < standings.size(); ++i) {
            const auto& viewer = tables_.viewers()[i];
            auto& least = worst[choice[viewer.ways.front().hops.front().transmitter].group];
            if (!standings[i] || tables_.is_wronged(i, *standings[i]))
                least = -INFINITY;
            else if (tables_.counts(i))
                least = std::min(least, tables_.margin(*standings[i]).count());
        }
        return worst;
    }
    void search_all() {
        auto rest = effort_;
        rest.nodes_max -= std::min(out_.nodes, rest.nodes_max);
        rest.moves_max = 0;
        rest.from = out_.best;
        const auto found = best_choice(problem_, tables_.reckon(), rest);
        out_.nodes += found.nodes;
        out_.bound_db = std::max(std::min(out_.bound_db, found.bound_db), found.worst_db);
        out_.best = found.best;
        out_.worst_db = found.worst_db;
    }

    const Problem& problem_;
    const Tables& tables_;
    const Effort& effort_;
    Outcome out_{};
    std::set<std::vector<std::size_t>> tried_;  ///< groups searched by themselves
};

}  // namespace

Outcome raised(const Problem& problem, const Tables& tables, std::optional<Choice> from,
               const Effort& effort) {
    return Raising(problem, tables, effort).find(std::move(from));
}

}  // namespace fieldpeg::planner
