#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/picture.pb.h"

namespace fieldpeg::day {

/// How far a pilot's picture carries, from above and from the side. Refuses as reach() does.
Result<v1::ReachPictureReply> reach_picture(const v1::DaySheet& sheet, const v1::Pilot& pilot,
                                            const v1::ReachPictureQuery& query);

}  // namespace fieldpeg::day
