#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <random>

/// Days that leave little room for names.
namespace fieldpeg::testing {

/// Up to 14 pilots, some with a relay and a mast beside it. Places are centimetres to tens of
/// metres apart, names of 1 to 40 characters, Latin and others, and many on one channel.
v1::DaySheet crowded_day(std::mt19937_64& rng);

/// The course of such a day from its second minute on: claims, flights, crashes, sightings,
/// warnings. The last entry is at `until_ms` or before it.
v1::LogReply crowded_course(std::mt19937_64& rng, const v1::DaySheet& sheet, std::int64_t until_ms);

}  // namespace fieldpeg::testing
