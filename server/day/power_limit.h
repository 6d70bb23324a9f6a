#pragma once

#include "server/day/state.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <optional>
#include <string>

/// A club's own limit of power: what is above it is held and switched on only with the marshal's
/// leave.
namespace fieldpeg::day {

bool is_above_limit(const v1::DaySheet& sheet, double power_dbm);

/// "200 mW is above the club's limit of 25 mW"; empty: it is not.
std::string above_limit_text(const v1::DaySheet& sheet, double power_dbm);

/// Why a transmitter may not have a power without the marshal's leave, and which step fits; none:
/// it may.
std::optional<v1::Refusal> above_limit(const v1::DaySheet& sheet, const Holder& holder,
                                       double power_dbm);

}  // namespace fieldpeg::day
