#pragma once

#include "server/day/flights.h"

#include <cstddef>

namespace fieldpeg::day {

/// The whole budget of one of the day's pilots.
v1::ExplainReply explain(const v1::DaySheet& sheet, const v1::Pilot& pilot, v1::Basis::Kind basis,
                         std::size_t contributions, const Asked& asked = {});

}  // namespace fieldpeg::day
