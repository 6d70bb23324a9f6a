#pragma once

#include "server/planner/problem.h"
#include "server/planner/tree.h"

#include <cstddef>

namespace fieldpeg::planner {

/// A number of groups that any rota needs: of stations with receivers of one kind only so many fly
/// together at the target, even if each had the best signal, the least disturbance and all channels
/// that any of them has. 1 if patience ends before anything is known.
std::size_t groups_by_capacity(const Problem& problem, double target_db, Patience& patience);

}  // namespace fieldpeg::planner
