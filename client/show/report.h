#pragma once

#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>

namespace fieldpeg::show {

/// All that a day's report is made of. Answers of one moment.
struct ReportSource {
    v1::DayReply day;      ///< as it is now
    v1::BoardReply first;  ///< the board as the log began
    v1::BoardReply now;
    v1::LogReply log;         ///< all of it
    v1::DayReply busiest;     ///< when most were on the air at once; without a sheet: never
    std::int64_t busiest_ms;  ///< 0: never
    v1::ReadyReply ready;     ///< for what is said wherever a day is looked at
    std::int64_t now_ms;
};

/// One HTML file without anything outside of it: summary, pictures, who was where, warnings,
/// sightings, allowances, groups, gear with its provenance, the log and its last hash, cautions.
std::string report_html(const ReportSource& source);

}  // namespace fieldpeg::show
