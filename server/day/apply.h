#pragma once

#include "fieldpeg/v1/event.pb.h"

namespace fieldpeg::day {

/// The state after one more event. Total: what was decided can always be applied, and the same
/// events give the same state, whatever program version decided them.
///
/// Requires that the event fits.
void apply(v1::DayState& state, const v1::Event& event);

/// Whether an event can come next: its version is the next one, and the transmitter is there that
/// it is about. What this program decides always does; what stands in a file need not.
bool fits(const v1::DayState& state, const v1::Event& event);

}  // namespace fieldpeg::day
