#pragma once

#include "server/day/decide.h"
#include "server/day/state.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

/// The one line of those who are told when it is free: who is called, who waits for whom.
namespace fieldpeg::day {

/// So long a call counts as radiating and is waited for [ours: as a yes].
inline constexpr std::int64_t call_valid_ms = yes_valid_ms;
/// So long a tap may be taken back, before anybody is called into its place [ours].
inline constexpr std::int64_t undo_valid_ms = 6'000;
/// So long one of the flying group who has landed keeps their turn [common practice: a battery is
/// changed in a few minutes].
inline constexpr std::int64_t battery_swap_ms = 6LL * 60'000;
/// Who was passed over so often is next.
inline constexpr std::uint32_t passed_over_max = 3;
/// Who did not answer so many calls leaves the line.
inline constexpr std::uint32_t unanswered_max = 2;

/// Somebody's place in the line, from 1; 0: they have none.
std::uint32_t place_in_line(const v1::DayState& state, std::uint32_t subject);

/// What is on the air now, and whoever is called beside it, but one.
v1::DaySheet with_called(const v1::DayState& state, std::uint32_t but);

/// Of those in line before a transmitter, or of all if it has no place, whom it would block on the
/// air.
std::vector<std::uint32_t> blocked_in_line(const v1::DayState& state, const Holder& by,
                                           Memory* memory);

/// Whether somebody could have a yes once everybody has landed who can.
bool could_fly(const v1::DayState& state, const Holder& who, std::int64_t now_ms, Memory* memory);

/// What somebody would hear if they asked to switch on.
v1::Reply as_if_asked(const v1::DayState& state, const Holder& who, std::int64_t now_ms,
                      Memory* memory = nullptr);

/// Who in the line is to be called, or is no longer, as the day stands.
std::vector<v1::Event> calls(const v1::DayState& state, std::int64_t now_ms,
                             Memory* memory = nullptr);

/// What becomes of a day by time alone, since its last event: who was told to switch on and has
/// said nothing, calls that nobody answered, and who is called then. By the server.
Decision lapses(const v1::DayState& state, std::int64_t now_ms, Memory* memory = nullptr);
/// When there will be something of that, after now; none: never, if nothing happens.
std::optional<std::int64_t> next_lapse_ms(const v1::DayState& state, std::int64_t now_ms);

}  // namespace fieldpeg::day
