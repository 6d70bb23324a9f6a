#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

namespace fieldpeg::day {

/// Who has to be silent so that somebody who carries the receiver of a pilot who is down to where
/// the aircraft lies hears its transmitter: no picture is needed, but it has to stand out from
/// everything else on the air. It lies on the ground somewhere in its area; the receiver is
/// carried, at head height, in the middle of it. Refuses one who is not down, or has no receiver.
Result<v1::FindReply> find(const v1::DaySheet& sheet, const v1::Pilot& lost);

}  // namespace fieldpeg::day
