#pragma once

#include "server/day/command.h"
#include "server/refusal/refusal.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/event.pb.h"

#include <string>

namespace fieldpeg::service {

/// Longest free text, a reason or a note.
inline constexpr std::size_t text_length_max = 400;

/// A command as people write it, turned into what the day understands: names in the day's own
/// spelling, parts read from TOML, rule sets and gear from the library, numbers within their
/// ranges. An empty transmitter is the asker's own. Refuses what is wrong by itself.
Result<day::Command> resolve(v1::Command command, const v1::DayState& state, std::uint32_t asker);

}  // namespace fieldpeg::service
