#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/sweep.pb.h"

/// What a measured spectrum says of a day (common practice, no published source).
namespace fieldpeg::day {

/// What stands out of a sweep, who should be there and is not heard, and its noise floor beside
/// that which is assumed. `sheet` as it is on the air.
v1::SweepReply read_against(const v1::Sweep& sweep, const v1::DaySheet& sheet);

/// The floor of a sweep, for its whole stretch.
v1::NoiseFloor floor_of(const v1::Sweep& sweep);

}  // namespace fieldpeg::day
