#pragma once

#include "server/planner/plan.h"
#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <optional>

namespace fieldpeg::planner {

/// How few holders must move for everybody to reach a margin.
struct Moves {
    std::optional<Plan> plan;  ///< the best with so few moves; its bound is for that many
    std::size_t least;         ///< no plan does with fewer moves ...
    bool proved;               ///< ... and `plan` moves just so many: or, without one, nor does any
                               ///< with `moves_max`
};

/// The plan that reaches `target` with the fewest transmitters moved away from what they hold. Who
/// holds nothing may be put anywhere, and that is no move. Tries none, one, two and so on up to
/// `moves_max`, each time every set of so many.
Moves few_moves(const Tables& tables, const Holds& holds, spectrum::Decibel target,
                std::size_t moves_max, const Effort& effort);

}  // namespace fieldpeg::planner
