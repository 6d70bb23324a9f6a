#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <optional>

/// The pictures of a day as it is written; that of its course is the keeper's.
namespace fieldpeg::service {

v1::Answer spectrum_picture(v1::SpectrumPictureQuery query, const v1::DaySheet& sheet);
v1::Answer reach_picture(v1::ReachPictureQuery query, const v1::DaySheet& sheet);
v1::Answer field_picture(v1::FieldPictureQuery query, const v1::DaySheet& sheet);

/// Paper on which no picture can be laid out.
std::optional<Refusal> outside_paper(const v1::Paper& paper);

}  // namespace fieldpeg::service
