#pragma once

#include "server/planner/problem.h"

namespace fieldpeg::planner {

/// Gives stations one number of twins if swapping any two of them changes no margin of anybody.
void mark_twins(Problem& problem);

}  // namespace fieldpeg::planner
