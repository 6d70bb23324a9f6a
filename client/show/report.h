#pragma once

#include "fieldpeg/v1/picture.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>
#include <vector>

namespace fieldpeg::show {

/// What a report draws, laid out for one paper.
struct ReportPictures {
    v1::TimelinePictureReply timeline;
    v1::FieldPictureReply field;                  ///< when most were on the air, else now
    std::vector<v1::SpectrumPictureReply> dials;  ///< then, of everybody who heard something
};

/// All that a day's report is made of. Answers of one moment, and of that when most were on the air
/// at once.
struct ReportSource {
    v1::DayReply day;  ///< as it is now
    v1::BoardReply now;
    v1::LogReply log;  ///< all of it; not empty: the day has begun
    v1::AirtimeReply airtime;
    ReportPictures on_paper, on_phone;
    v1::ReadyReply ready;  ///< for what is said wherever a day is looked at
    std::int64_t now_ms = 0;
};

/// Until when a report has the day go on: until now, or, with nothing said for an hour, until a
/// minute after the log's last entry. Requires that it has one.
std::int64_t end_of_day_ms(const v1::LogReply& log, std::int64_t now_ms);

/// One HTML file without anything outside of it. First what is sent: who flew, what went wrong,
/// what was found out. Behind it, folded on a screen: pictures, every flight, who was on what,
/// warnings, sightings, allowances, groups, gear with its provenance, the log and its last hash,
/// cautions.
std::string report_html(const ReportSource& source);

}  // namespace fieldpeg::show
