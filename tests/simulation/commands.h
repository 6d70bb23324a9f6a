#pragma once

#include "tests/simulation/clockwork.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/event.pb.h"

#include <string>

namespace fieldpeg::simulation {

/// The day of a run: four pilots side by side and a relay, all on few channels.
std::string day_text();

/// Something that somebody asks for, of any kind there is. What they know of the day is `known`,
/// right or wrong. Where there is room for words, `mark` is among them: it is found in the log
/// again.
v1::Command random_command(Chance& chance, const v1::DayState& known, const v1::Person& who,
                           const std::string& mark);

/// What a kind of command is called.
std::string name_of(const v1::Command& command);

/// The mark in an event; empty: there is none.
std::string mark_in(const v1::Event& event);

}  // namespace fieldpeg::simulation
