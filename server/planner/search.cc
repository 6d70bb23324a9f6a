#include "server/planner/search.h"

#include "server/planner/start.h"
#include "server/planner/tree.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <utility>

namespace fieldpeg::planner {
namespace {

constexpr double rounding_db = 1e-9;
/// How far beyond the best so far a target is set, the next one once that is refuted.
constexpr double steps_db[] = {3, 1, 0.5, 0.2, 0.05, 0};

/// Each move of a climb is reckoned.
constexpr std::size_t climb_max = 400;

/// A thousand, or fewer where each takes long.
std::uint64_t nodes_between_looks(const Problem& problem) {
    constexpr std::uint64_t most = 1000, level_sums = 256'000;
    return std::clamp(level_sums / (problem.stations.size() * problem.ears.size() + 1),
                      std::uint64_t{1}, most);
}

/// Depth-first search against one target after the other.
class Search {
public:
    Search(const Problem& problem, const Reckon& reckon, const Effort& effort)
        : problem_(problem),
          reckon_(reckon),
          effort_(effort),
          tree_(problem),
          patience_{effort.nodes_max, effort_.stop, nodes_between_looks(problem)} {}

    Outcome best() {
        begin();
        const auto* step = std::begin(steps_db);
        while (!patience_.is_over && !meet()) {
            const double target =
                std::min(out_.worst_db + std::max(*step, effort_.tolerance_db), out_.bound_db);
            if (reaches(target) || patience_.is_over) continue;
            lower_bound_to(target);
            if (step + 1 != std::end(steps_db)) ++step;
        }
        return finish();
    }

    Outcome reaching(double target_db) {
        begin();
        if (out_.worst_db < target_db && out_.bound_db >= target_db && !reaches(target_db) &&
            !patience_.is_over)
            lower_bound_to(target_db);
        return finish();
    }

private:
    /// The first choice.
    void begin() {
        out_ = {std::nullopt, -INFINITY, best_alone(), false, 0};
        if (effort_.from) offer(*effort_.from);
        Start start(problem_, tree_.levels(), effort_.seed);
        offer(start.improve(effort_.from ? *effort_.from : start.greedy(), effort_.moves_max,
                            effort_.stop));
        climb();
    }
    Outcome finish() {
        out_.proved = meet();
        out_.nodes = patience_.nodes;
        return out_;
    }
    bool meet() const {
        return out_.bound_db <= out_.worst_db + effort_.tolerance_db + rounding_db;
    }
    void lower_bound_to(double target_db) {
        out_.bound_db = std::max(std::min(out_.bound_db, target_db), out_.worst_db);
        tell();
    }
    void tell() {
        out_.nodes = patience_.nodes;
        effort_.progress(out_);
    }

    /// No goal can do better than alone on its best channel.
    double best_alone() {
        double low = -300, high = 300;
        if (tree_.could_reach(high)) return INFINITY;
        while (high - low > effort_.tolerance_db / 4) {
            const double middle = (low + high) / 2;
            (tree_.could_reach(middle) ? low : high) = middle;
        }
        return high;
    }

    bool offer(const Choice& choice) {
        const double worst = is_lawful(problem_, choice) ? reckon_(choice) : -INFINITY;
        if (out_.best && worst <= out_.worst_db) return false;
        out_.best = choice;
        out_.worst_db = worst;
        out_.bound_db = std::max(out_.bound_db, worst);
        tell();
        return true;
    }

    /// Moves one station at a time as long as that helps: products count here.
    void climb() {
        std::size_t trials = std::min(effort_.moves_max, climb_max);
        for (bool helped = true; helped && trials > 0;) {
            helped = false;
            for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
                tree_.domains().for_each(tree_.all(), s, [&](Pick pick, std::uint64_t word) {
                    for (; word != 0 && trials > 0; word &= word - 1) {
                        pick.channel = static_cast<std::size_t>(std::countr_zero(word));
                        helped = move(s, pick, trials) || helped;
                    }
                });
            }
        }
    }
    bool move(std::size_t station, const Pick& pick, std::size_t& trials) {
        Choice moved = *out_.best;
        if (std::exchange(moved[station], pick) == pick) return false;
        for (const auto& [a, b] : problem_.same)
            if (a == station || b == station) {
                auto& other = moved[a == station ? b : a];
                other = {other.group, pick.band, pick.channel, pick.power};
            }
        if (!is_lawful(problem_, moved)) return false;
        if (--trials % 16 == 0 && effort_.stop()) trials = 0;
        return offer(moved);
    }
    /// Whether some choice reaches the target; then it is the best so far.
    bool reaches(double target_db) {
        const auto accept = [&](const Choice& choice) {
            return reckon_(choice) >= target_db && offer(choice);
        };
        return tree_.search(tree_.all(), target_db, accept, patience_);
    }

    const Problem& problem_;
    const Reckon& reckon_;
    const Effort& effort_;
    Tree tree_;
    Patience patience_;
    Outcome out_{};
};

Outcome nothing_to_choose() {
    return {std::nullopt, -INFINITY, -INFINITY, false, 0};
}

}  // namespace

Outcome best_choice(const Problem& problem, const Reckon& reckon, const Effort& effort) {
    return is_open(problem) ? Search(problem, reckon, effort).best() : nothing_to_choose();
}

Outcome choice_reaching(const Problem& problem, const Reckon& reckon, double target_db,
                        const Effort& effort) {
    return is_open(problem) ? Search(problem, reckon, effort).reaching(target_db)
                            : nothing_to_choose();
}

}  // namespace fieldpeg::planner
