#pragma once

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"

#include <cstdint>
#include <vector>

namespace fieldpeg::day {

/// Adds what a relay would be at each power that it can be set to, on the claim's channel, and the
/// best of them.
void add_steps(const v1::DaySheet& sheet, const v1::Relay& relay, v1::Claim claim,
               v1::Basis::Kind basis, const std::vector<std::uint32_t>& groups,
               v1::RelayCheckReply& reply);

}  // namespace fieldpeg::day
