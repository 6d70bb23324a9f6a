#pragma once

#include "tests/simulation/oracle.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <string>

/// What is promised of a day, one entry and one answer at a time.
namespace fieldpeg::simulation {

Air air_of(const v1::DayState& state);

/// What an entry breaks, in words; empty: nothing. `settled` is the day once all is done that was
/// decided with it: a plan moves several one after the other.
std::string broken_by(const v1::Event& event, const v1::DayState& before,
                      const v1::DayState& settled);

/// Whether something was granted or noted.
bool is_yes(const v1::Reply& reply);
/// What a yes says that is not so in the air of its version, in words; empty: it is all so.
std::string untrue(const v1::Command& command, const v1::Reply& reply, const Air& air);
/// Whether what was asked must be found in the log by its mark.
bool leaves_a_mark(const v1::Command& command, const v1::Reply& reply);

/// A board by a change, as docs/protocol.md has it, section 7.
v1::BoardReply applied(const v1::BoardReply& board, const v1::Change& change);

}  // namespace fieldpeg::simulation
