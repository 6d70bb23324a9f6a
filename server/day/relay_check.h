#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

namespace fieldpeg::day {

/// Within this of an edge of the window a caution is given.
inline constexpr double edge_db = 1;

/// Whether a relay of the day may be switched on at a power, who would suffer, and what to change.
/// Refuses a relay that the day does not know, or one whose power or channel nobody said.
Result<v1::RelayCheckReply> relay_check(const v1::DaySheet& sheet,
                                        const v1::RelayCheckQuery& query);

}  // namespace fieldpeg::day
