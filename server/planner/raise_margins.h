#pragma once

#include "server/planner/search.h"
#include "server/planner/tables.h"

#include <optional>

namespace fieldpeg::planner {

/// The best margins in groups that are settled in number, from a choice or none: exactly where that
/// is soon done, or else by turns of local search and of exact search in the worst group alone,
/// with a bound from how many can fly together at all.
Outcome raised(const Problem& problem, const Tables& tables, std::optional<Choice> from,
               const Effort& effort);

}  // namespace fieldpeg::planner
