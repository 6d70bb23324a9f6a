#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/plan.pb.h"

#include <cstdint>
#include <optional>
#include <vector>

namespace fieldpeg::planning {

/// The flight groups of a planned day in the order in which they fly, each with who of it may not
/// even stand on the bench, at bench power, while the one before it flies.
///
/// The order is the one in which the fewest have to be unplugged, group by group, beginning with
/// another group every round, so that nobody always flies last. Groups are numbered anew, by this
/// order in the first round, from `first_group`; without one they stay in the order of the numbers
/// that they have.
std::vector<v1::RotaGroup> flying_order(const v1::DaySheet& planned_day,
                                        const std::vector<v1::PlanChoice>& choices,
                                        std::uint32_t round,
                                        std::optional<std::uint32_t> first_group);

}  // namespace fieldpeg::planning
