#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// Times as people on the field read and write them: in the local time of this machine, which is
/// that of the zone that TZ names, else the system's.
namespace fieldpeg::show {

/// "14:32:05".
std::string clock_text(std::int64_t at_ms);
/// "2026-09-19".
std::string date_text(std::int64_t at_ms);
/// "2026-09-19 14:32:05 +0100".
std::string date_time_text(std::int64_t at_ms);
/// "3 min", "40 s", "2 h 5 min".
std::string ago_text(std::int64_t ms);

/// A moment as written: `#120` is a version of the log, `2026-09-19 14:32` a time, `14:32`,
/// `14:32:05` one on the date of `last_ms`, or on the date before where that is nearer to it and
/// the log, which began at `first_ms`, has that date. Each with an offset behind it or none:
/// `02:30+0100`. Refuses a time without one that the clock shows twice that day, or never. `where`
/// is left to the caller.
Result<v1::Moment> read_moment(std::string_view written, std::int64_t first_ms,
                               std::int64_t last_ms);
/// The end of a stretch of time: one without a date is the first such time from `from_ms` on.
Result<v1::Moment> read_end(std::string_view written, std::int64_t from_ms);
/// Whether it is to be found out which date is meant.
bool has_no_date(std::string_view written);

/// Why times may not be those of the zone that was meant: the machine knows nothing of it, and its
/// own clock is asked instead. None if all is well.
std::optional<std::string> zone_doubt();

}  // namespace fieldpeg::show
