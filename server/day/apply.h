#pragma once

#include "fieldpeg/v1/event.pb.h"

namespace fieldpeg::day {

/// The state after one more event. Total: what was decided can always be applied, and the same
/// events give the same state, whatever program version decided them.
///
/// Requires that the event's version is the next one.
void apply(v1::DayState& state, const v1::Event& event);

}  // namespace fieldpeg::day
