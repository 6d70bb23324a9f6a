#pragma once

#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

namespace fieldpeg::planner {

/// What a transmitter has of the rota before.
struct InRota {
    std::optional<spectrum::Hertz> channel;
    std::uint32_t group = 0;  ///< its number there; 0: in none
    bool stays_in_it = false;
};

/// What a rota is to be, in this order: the fewest groups, of sizes as even as can be, with the
/// fewest changes of channel or group, and the best worst margin.
struct RotaTerms {
    spectrum::Decibel target;
    std::size_t groups_max;
    std::size_t size_max = SIZE_MAX;  ///< of those who count, in each group
    /// [transmitter]: whether it counts in the size of its group. Empty: sizes do not matter.
    std::vector<bool> is_head = {};
    /// [transmitter]. Empty: changes do not matter.
    std::vector<InRota> before = {};
    std::vector<std::uint32_t> taken = {};  ///< numbers that no new group may have
};

/// Everybody in flight groups, so that all reach a margin in theirs. Each stage is told with what
/// is proved of it: what it found is the best if it is the bound.
struct Rota {
    std::shared_ptr<const Tables> tables;  ///< those of the question with so many groups
    /// None if no number of groups up to the most does. First the question's transmitters in their
    /// order, then those that are in every group once more for each.
    std::optional<Choice> choice;
    std::vector<std::uint32_t> numbers;  ///< [group of the choice]
    std::size_t groups = 0;              ///< used by it
    std::size_t groups_at_least = 1;     ///< fewer are excluded
    bool proved = false;                 ///< the two are one; without a choice: none there is
    std::size_t spread = 0;              ///< the largest group less the smallest
    std::size_t spread_at_least = 0;     ///< in so many groups
    std::size_t changes = 0;             ///< of channels and of groups, of those in `before`
    std::size_t changes_at_least = 0;    ///< in so many groups of such sizes
    spectrum::Decibel worst{};           ///< of the choice
    spectrum::Decibel bound{};           ///< no choice with all that is better
};

/// The rota by the terms, as good as the effort allows. Looks for the number of groups from the
/// lower bound upwards until one does, then at each below it that is still open.
Rota rota(const Question& question, const RotaTerms& terms, const Effort& effort);

/// The fewest flight groups in which everybody reaches the target, of at most `groups_max`, and the
/// best margins in so many.
Rota fewest_groups(const Question& question, spectrum::Decibel target, std::size_t groups_max,
                   const Effort& effort);

/// A number of groups that any rota needs: by the most stations of which no two can fly together,
/// and by how many of those that must keep apart find room in one group.
std::size_t groups_needed(const Problem& problem, double target_db);

}  // namespace fieldpeg::planner
