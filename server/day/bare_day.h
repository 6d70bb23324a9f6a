#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::day {

/// A day with one relay, its owner's goggles and one neighbour, for the question without a day
/// file. Every name in the query must be one of the library's. What was assumed is put into words.
v1::DaySheet bare_day(const v1::BareRelayCheckQuery& query, const v1::Library& library,
                      std::vector<std::string>& assumed);

/// Its relay's name.
inline constexpr std::string_view bare_relay_name = "the relay";

}  // namespace fieldpeg::day
