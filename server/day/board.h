#pragma once

#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"

namespace fieldpeg::day {

/// Who holds what, who is on the air, and how everybody stands by what is on the air.
v1::BoardReply board(const v1::DayState& state);

}  // namespace fieldpeg::day
