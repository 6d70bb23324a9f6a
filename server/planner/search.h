#pragma once

#include "server/planner/problem.h"

#include <cstdint>
#include <functional>
#include <optional>

namespace fieldpeg::planner {

/// The margin of a whole choice in dB as the asker reckons it; the search trusts only this. It may
/// be lower than the tables say, never higher.
using Reckon = std::function<double(const Choice&)>;

/// What is known so far.
struct Outcome {
    std::optional<Choice> best;
    double worst_db;  ///< of `best`, as reckoned
    double bound_db;  ///< no choice is better than this
    bool proved;      ///< the two meet, within the tolerance
    std::uint64_t nodes;
};

struct Effort {
    /// Choices closer to each other than this are not told apart.
    double tolerance_db = 0.01;
    /// Nodes of the search tree before it gives up with what it has.
    std::uint64_t nodes_max = UINT64_MAX;
    /// Moves of the local search that finds the first choice.
    std::size_t moves_max = 400;
    std::uint64_t seed = 1;
    /// Asked every thousand nodes and every few moves; true: stop with what there is.
    std::function<bool()> stop = [] { return false; };
    /// Whether a share of the time that there is, from 0 to 1, is gone: what has several stages
    /// leaves the rest of it to the next.
    std::function<bool(double)> is_past = [](double) { return false; };
    /// Told whenever best or bound move.
    std::function<void(const Outcome&)> progress = [](const Outcome&) {};
    /// A choice to start from, if there is one.
    std::optional<Choice> from;
};

/// The choice whose worst margin is highest, with a bound that nobody can beat.
///
/// Depth first, the strong with little room first; far targets are refuted before near ones, so
/// that best and bound are known at every moment. Empty `best`: somebody has nothing to choose.
Outcome best_choice(const Problem& problem, const Reckon& reckon, const Effort& effort);

/// A choice that reaches the target; without one the bound is the target if that is refuted, and
/// higher if the effort ended before. Looks no further once it has one.
Outcome choice_reaching(const Problem& problem, const Reckon& reckon, double target_db,
                        const Effort& effort);

/// The best by trying every choice: for small problems, to hold the other against.
Outcome every_choice(const Problem& problem, const Reckon& reckon);

}  // namespace fieldpeg::planner
