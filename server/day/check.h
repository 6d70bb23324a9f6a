#pragma once

#include "server/day/flights.h"

#include <cstddef>

namespace fieldpeg::day {

/// Everything `check` shows, `contributions` terms a receiver. On a day with flight groups each
/// pilot as in the flight in which they are worst off.
v1::CheckReply check(const v1::DaySheet& sheet, v1::Basis::Kind basis, std::size_t contributions,
                     const Asked& asked = {});

}  // namespace fieldpeg::day
