#include "server/planner/few_moves.h"

#include "server/planner/tree.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

namespace fieldpeg::planner {
namespace {

/// Looks for plans among the choices that move a set of transmitters and nobody else.
class Movers {
public:
    Movers(const Tables& tables, const Holds& holds, double target_db, const Effort& effort)
        : tables_(tables),
          holds_(holds),
          tree_(tables.problem()),
          tolerance_db_(effort.tolerance_db),
          patience_{effort.nodes_max, effort.stop},
          target_db_(target_db),
          best_{std::nullopt, -INFINITY, INFINITY, false, 0} {}

    /// Every set of `count`; whether all were looked through.
    bool try_all(std::size_t count) {
        std::vector<std::size_t> holders;
        for (std::size_t t = 0; t < holds_.size(); ++t)
            if (holds_[t] && original(t) == t) holders.push_back(t);
        if (count > holders.size()) return true;
        std::vector<std::size_t> set(count);
        std::iota(set.begin(), set.end(), std::size_t{0});
        do {
            std::vector<std::size_t> movers;
            movers.reserve(count);
            for (const auto i : set) movers.push_back(holders[i]);
            try_set(movers);
            if (patience_.is_over) return false;
        } while (next(set, holders.size()));
        return true;
    }

    Outcome best() const {
        Outcome best = best_;
        best.nodes = patience_.nodes;
        return best;
    }
    double target_db() const { return target_db_; }

private:
    /// Raises the target with every plan found, so that the best of all sets remains.
    void try_set(const std::vector<std::size_t>& set) {
        Words words(tree_.all().size(), 0);
        for (std::size_t t = 0; t < holds_.size(); ++t) {
            if (holds_[t] && std::ranges::find(set, original(t)) == set.end()) {
                words[tree_.domains().slot(t, *holds_[t])] = std::uint64_t{1} << holds_[t]->channel;
            } else {
                tree_.domains().for_each(tree_.all(), t, [&](const Pick& pick, std::uint64_t word) {
                    words[tree_.domains().slot(t, pick)] = word;
                });
            }
        }
        while (tree_.search(
            words, target_db_, [&](const Choice& c) { return accept(c); }, patience_)) {
        }
    }
    /// Of one who is in every group the one in the first: they move together.
    std::size_t original(std::size_t t) const {
        for (const auto& [copy, original] : tables_.question().copies)
            if (copy == t) return original;
        return t;
    }
    bool accept(const Choice& choice) {
        const double worst = tables_.reckon(choice);
        if (worst < target_db_) return false;
        best_.best = choice;
        best_.worst_db = worst;
        target_db_ = worst + tolerance_db_;
        return true;
    }
    static bool next(std::vector<std::size_t>& set, std::size_t of) {
        for (std::size_t i = set.size(); i-- > 0;) {
            if (set[i] == of - set.size() + i) continue;
            ++set[i];
            for (std::size_t j = i + 1; j < set.size(); ++j) set[j] = set[j - 1] + 1;
            return true;
        }
        return false;
    }

    const Tables& tables_;
    const Holds& holds_;
    Tree tree_;
    double tolerance_db_;
    Patience patience_;
    double target_db_;
    Outcome best_;
};

}  // namespace

Moves few_moves(const Tables& tables, const Holds& holds, spectrum::Decibel target,
                std::size_t moves_max, const Effort& effort) {
    if (!is_open(tables.problem())) return {std::nullopt, 0, false};
    Movers movers(tables, holds, target.count(), effort);
    for (std::size_t count = 0; count <= std::min(moves_max, holds.size()); ++count) {
        const bool looked_through = movers.try_all(count);
        auto outcome = movers.best();
        if (outcome.best) {
            if (looked_through) outcome.bound_db = movers.target_db();
            outcome.proved = looked_through;
            return {plan_of(tables, outcome), count, true};
        }
        if (!looked_through) return {std::nullopt, count, false};
    }
    return {std::nullopt, std::min(moves_max, holds.size()) + 1, true};
}

}  // namespace fieldpeg::planner
