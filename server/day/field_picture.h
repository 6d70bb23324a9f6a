#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/picture.pb.h"

namespace fieldpeg::day {

/// The field to scale: places and who stands there, areas, who hears which relay, and how far each
/// relay on the air swamps the receivers of others.
v1::FieldPictureReply field_picture(const v1::DaySheet& sheet, const v1::FieldPictureQuery& query);

}  // namespace fieldpeg::day
