#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <string>

/// Pictures of a day, as SVG.
namespace fieldpeg::show {

/// The dial as one receiver hears it: what arrives of each emission, by its real mask, the filter
/// of the receiver over it, its noise, and the products that hit it. Of a pilot's receivers the one
/// of that name, or the first. Refuses who is not of the day, and a receiver that hears nothing.
Result<std::string> spectrum_picture(const v1::DaySheet& sheet, v1::Basis::Kind basis,
                                     const std::string& pilot, const std::string& receiver);

/// The field to scale: places, areas, who hears whom, and how far each relay on the air swamps the
/// receivers of others.
std::string field_picture(const v1::DaySheet& sheet, v1::Basis::Kind basis);

/// Who was on which frequency, from the log. `first` is the board as the log began, `until_ms` the
/// end of the picture.
std::string timeline_picture(const v1::BoardReply& first, const v1::LogReply& log,
                             std::int64_t until_ms);

}  // namespace fieldpeg::show
