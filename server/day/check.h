#pragma once

#include "server/day/assessment.h"

#include <cstddef>

namespace fieldpeg::day {

/// Everything `check` shows, `contributions` terms a receiver.
v1::CheckReply check(const v1::DaySheet& sheet, v1::Basis::Kind basis, std::size_t contributions);

}  // namespace fieldpeg::day
