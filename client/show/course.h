#pragma once

#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::show {

/// Somebody on a frequency in one way for a time.
struct Stretch {
    std::string who;
    std::string kind;  ///< of the log: claimed, bench, on_air, off_air, down, sighting
    double mhz;
    double power_dbm;
    std::int64_t from_ms;
    std::int64_t to_ms;
    std::string by;  ///< who said so; empty: so the day began
};

/// "on the air", "holds it", ...
std::string_view words_of(std::string_view kind);

/// Who was on which frequency, from the log. `first` is the board as the log began, `until_ms` the
/// end of what is still so.
std::vector<Stretch> stretches(const v1::BoardReply& first, const v1::LogReply& log,
                               std::int64_t until_ms);

/// The entry of the log after which most were on the air at once, the first of several; 0: nobody
/// ever was.
std::uint64_t busiest_version(const v1::BoardReply& first, const v1::LogReply& log);

}  // namespace fieldpeg::show
