#pragma once

#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <memory>
#include <optional>
#include <vector>

namespace fieldpeg::planner {

/// Everybody in flight groups, so that all reach a margin in theirs.
struct Rota {
    std::shared_ptr<const Tables> tables;  ///< those of the question with so many groups
    /// None if no number of groups up to the most does. First the question's transmitters in their
    /// order, then those that are in every group once more for each.
    std::optional<Choice> choice;
    std::size_t groups = 0;           ///< used by it
    std::size_t groups_at_least = 1;  ///< fewer are excluded
    bool proved = false;              ///< the two are one; without a choice: none there is
    spectrum::Decibel worst{};        ///< of the choice
    spectrum::Decibel bound{};        ///< no choice of so many groups is better
};

/// The fewest flight groups in which everybody reaches the target, of at most `groups_max`, and the
/// best margins in so many that the effort allows. Tries from the lower bound upwards until a rota
/// is found, then each number below it that is still open for as long as `effort` lasts.
Rota fewest_groups(const Question& question, spectrum::Decibel target, std::size_t groups_max,
                   const Effort& effort);

/// A number of groups that any rota needs: by the most stations of which no two can fly together,
/// and by how many of those that must keep apart find room in one group.
std::size_t groups_needed(const Problem& problem, double target_db);

}  // namespace fieldpeg::planner
