#pragma once

#include "fieldpeg/v1/picture.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>

namespace fieldpeg::day {

/// Who was on which frequency, folded from the log. `first` is the board as the log began. The
/// picture ends where the query says, but shows at least a minute and at most
/// `timeline_longest_ms`.
v1::TimelinePictureReply timeline_picture(const v1::BoardReply& first, const v1::LogReply& log,
                                          const v1::TimelinePictureQuery& query);

inline constexpr std::int64_t timeline_longest_ms = std::int64_t{366} * 24 * 3'600'000;

}  // namespace fieldpeg::day
