#pragma once

#include "server/day/relay_trial.h"

#include "fieldpeg/v1/assessment.pb.h"

namespace fieldpeg::day {

/// What would help, most welcome first: another power, channel, place or hand. Each is tried before
/// it is said. Requires that the reply has its answer.
void add_advice(const RelayTrial& trial, v1::RelayCheckReply& reply);

}  // namespace fieldpeg::day
