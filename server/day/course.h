#pragma once

#include "fieldpeg/v1/picture.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <vector>

/// Who was on which frequency in which way, folded from the log.
namespace fieldpeg::day {

/// Stretches without their places on paper. `first` is the board as the log began, `until_ms` the
/// end of what is still so.
std::vector<v1::TimelinePictureReply::Stretch> stretches(const v1::BoardReply& first,
                                                         const v1::LogReply& log,
                                                         std::int64_t until_ms);

/// The entry of the log after which most were on the air at once, the first of several.
struct Busiest {
    std::uint64_t version = 0;  ///< 0: nobody ever was
    std::int64_t at_ms = 0;
};
Busiest busiest(const v1::BoardReply& first, const v1::LogReply& log);

}  // namespace fieldpeg::day
