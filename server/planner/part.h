#pragma once

#include "server/planner/problem.h"

#include <cstddef>
#include <vector>

namespace fieldpeg::planner {

/// Some stations of a problem in one group, as if the others were not there. Who is to fly with
/// whom, and the roster, are left out; so are joints that others have a part in.
Problem part_of(const Problem& problem, const std::vector<std::size_t>& stations);

}  // namespace fieldpeg::planner
