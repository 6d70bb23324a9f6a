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
    v1::LogReply log;  ///< all of it
    ReportPictures on_paper, on_phone;
    v1::ReadyReply ready;  ///< for what is said wherever a day is looked at
    std::int64_t now_ms = 0;
};

/// One HTML file without anything outside of it: summary, pictures, who was where, warnings,
/// sightings, allowances, groups, gear with its provenance, the log and its last hash, cautions.
std::string report_html(const ReportSource& source);

}  // namespace fieldpeg::show
