#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Names that deceive, held against a day: at its entrance, never in what its log says.
namespace fieldpeg::service {

/// Whom of the day a name looks like without being theirs: listed pilots, relays, emitters, and
/// people who do not wait themselves.
std::vector<std::string> resembled(const v1::DayState& state, std::string_view name);

/// Why gear may not be entered under its names: one is new and looks like another of the day. Who
/// has joined under a name has it.
std::optional<Refusal> deceives(const v1::DayState& state, const v1::PartsPut& parts);

/// Says of all who wait for the nod whom they look like, others who wait among them.
void say_resembled(const v1::DayState& state, v1::BoardReply& board);

}  // namespace fieldpeg::service
