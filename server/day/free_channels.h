#pragma once

#include "server/day/memory.h"
#include "server/refusal/refusal.h"

#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"

namespace fieldpeg::day {

/// Of the channels that are given, so many at most.
inline constexpr int free_channels_max = 8;

/// What somebody could switch on now and go on with, and how what they hold stands. Refuses a
/// transmitter that the day does not have. A memory only saves time.
Result<v1::FreeReply> free_channels(const v1::DayState& state, const v1::FreeQuery& query,
                                    Memory& memory);

}  // namespace fieldpeg::day
