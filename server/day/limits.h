#pragma once

#include "server/day/deciding.h"

#include <optional>

/// How much of a day one person may fill, so that nobody fills it for all others [ours]. The
/// marshal takes back what somebody entered with one word: seen --gone --by, relay remove --by.
namespace fieldpeg::day {

/// Who joined and was not withdrawn. The marshals, and whoever the day lists, are let in beyond it.
inline constexpr int people_max = 500;

/// Sightings that stand: of one who is no marshal, of all of them, and of everybody.
inline constexpr int sightings_of_one_max = 20;
inline constexpr int sightings_of_pilots_max = 60;
inline constexpr int sightings_max = 80;

/// Relays that one person enters for themself; the marshal enters more for them.
inline constexpr int relays_of_one_max = 4;

/// Definitions of one kind of gear, up to which pilots bring more; the marshal has no such limit.
inline constexpr int gear_of_pilots_max = 40;

/// Why one more sighting is one too many; none: it is not.
std::optional<v1::Refusal> too_many_sightings(const Given& given);

/// Why somebody enters more for themself than one person may; none: they do not.
std::optional<v1::Refusal> too_many_parts(const Given& given, const v1::PartsPut& parts);

}  // namespace fieldpeg::day
