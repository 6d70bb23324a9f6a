#pragma once

#include "fieldpeg/v1/event.pb.h"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

/// What happened, in words for people.
namespace fieldpeg::day {

/// The kind of an event as people may ask for it: "claimed", "on_air", "sighting", ...
std::string_view kind_name(const v1::Event& event);
/// The transmitter, pilot or sighting it is about; 0: none.
std::uint32_t subject(const v1::Event& event);
/// What somebody with this id is called: a person, pilot, relay or sighting.
std::string name_of(const v1::DayState& state, std::uint32_t id);

/// One sentence. `state` is the day as it was just before the event.
std::string sentence(const v1::Event& event, const v1::DayState& state);

/// The sentence to call across the field: a pilot in goggles reads nothing.
std::string call_out(const v1::Warning& warning, const v1::DaySheet& sheet);

/// What its cause could do about it, to whom it is; empty: nothing, or nobody knows whose it is.
std::string call_out_cause(const v1::Warning& warning, const v1::DaySheet& sheet);
/// A warning as things stand: nothing is taken from one who flies.
v1::Warning::Remedy remedy_now(const v1::Warning& warning, const v1::DaySheet& sheet);
/// All that is to be called across the field because of an event. `state` is that after it.
std::vector<std::string> call_outs(const v1::Event& event, const v1::DayState& state);

std::string_view stage_name(v1::Claim::Stage stage);

}  // namespace fieldpeg::day
