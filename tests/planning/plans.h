#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/plan.pb.h"

#include <map>
#include <string>

/// What plans come to, by other means than the planner's.
namespace fieldpeg::testing {

/// A transmitter's share of a plan. Throws std::out_of_range if it has none.
const v1::PlanChoice& choice_of(const v1::PlanReply& reply, const std::string& transmitter);

/// The day with a plan's shares as claims.
v1::DaySheet with(v1::DaySheet sheet,
                  const google::protobuf::RepeatedPtrField<v1::PlanChoice>& plan);

/// Everybody's worst margin as `check` has it.
std::map<std::string, double> margins_by_check(const v1::DaySheet& sheet);

}  // namespace fieldpeg::testing
