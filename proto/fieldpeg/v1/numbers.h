#pragma once

#include <google/protobuf/message.h>

#include <cstdint>

namespace fieldpeg::v1 {

/// No number of the vocabulary is larger: distances in metres, frequencies in MHz, levels in dB.
inline constexpr double number_max = 1e9;
/// Times are from 1970 to the end of the year 9999, in ms, and so is what lies between two.
inline constexpr std::int64_t time_ms_max = 253'402'300'799'999;
inline bool is_time_ms(std::int64_t ms) {
    return -time_ms_max <= ms && ms <= time_ms_max;
}

/// Whether every number in it is one that this vocabulary could mean: finite, of at most
/// `number_max`, times within `time_ms_max`, before or after. What comes from outside is held
/// against it before anybody reckons with it.
bool are_numbers_plain(const google::protobuf::Message& message);

}  // namespace fieldpeg::v1
