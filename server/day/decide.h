#pragma once

#include "server/day/command.h"
#include "server/day/memory.h"
#include "server/refusal/refusal.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/event.pb.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::day {

/// Who asks. The server itself has id 0 and may do what a marshal may.
struct Actor {
    std::uint32_t id = 0;
    v1::Role::Kind role = v1::Role::marshal;
};

/// What becomes of a command: events in order, their versions and times set, and the reply. No
/// events: nothing changes, whether it was refused or there was nothing to do.
struct Decision {
    std::vector<v1::Event> events;
    v1::Reply reply;
};

/// How long a yes to switching on is good for.
inline constexpr std::int64_t yes_valid_ms = 60'000;

/// Decides a command on a state, at a time. Pure: the same three give the same answer, whatever is
/// in a memory, which only saves time.
///
/// Facts are never refused: `on` with already, `off`, and `see`, of which so many stand at a time
/// as limits.h says.
Decision decide(const v1::DayState& state, const Actor& actor, const Command& command,
                std::int64_t now_ms, Memory& memory);
Decision decide(const v1::DayState& state, const Actor& actor, const Command& command,
                std::int64_t now_ms);

/// Why somebody may not ask this, as far as it can be known before what they wrote is read: who may
/// not is not read. None: read it, and decide.
std::optional<v1::Refusal> refused_unread(const Actor& actor, v1::Command::AskCase kind);

/// The first event of a day: what its day file says, entered by the server.
Decision set_up(const v1::DayState& empty, v1::DaySheet sheet, std::int64_t now_ms);

/// So many may wait for a nod before anybody who has no ticket is refused [ours: as many as one
/// marshal can look after at once].
inline constexpr int waiting_max = 30;

/// Somebody joins in a role. As a listed pilot, or as somebody who is here already, or without a
/// ticket, that person waits for the marshal's nod, unless the ticket was that pilot's own. Whoever
/// is here already goes on meanwhile. Refuses a name that somebody of another role has, or under
/// which somebody waits.
struct Joining {
    std::string name;
    v1::Role::Kind role;
    bool own_ticket;  ///< of the pilot of this name
    bool has_ticket = true;
    bool looks_like_another = false;  ///< of the day
};
Result<Decision> join(const v1::DayState& state, const Joining& who, std::int64_t now_ms);

/// Nobody who has joined, or waits to, may act any more; what they hold stays.
Decision all_withdrawn(const v1::DayState& state, std::int64_t now_ms);

/// The server was started while something was on the air, which nobody has confirmed since; no
/// events if nothing was.
Decision restarted(const v1::DayState& state, std::int64_t now_ms);

/// The log's clock moved against the time that passed.
Decision clock_jumped(const v1::DayState& state, std::int64_t by_ms, std::int64_t now_ms);

}  // namespace fieldpeg::day
