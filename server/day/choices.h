#pragma once

#include "server/day/state.h"

#include "fieldpeg/v1/day.pb.h"

#include <vector>

/// What may be chosen for a transmitter where nobody says.
namespace fieldpeg::day {

/// Where a transmitter lists no powers: 25 mW.
inline constexpr double usual_dbm = 13.98;

/// What a transmitter may be tuned to: its own list, else every channel of the rows that one of the
/// receivers meant to hear it can be tuned to.
std::vector<v1::Channel> channels_of(const Holder& held, const v1::DaySheet& sheet);

/// Whether a transmitter can be set to a power, or tuned to a channel: it lists it, or none.
bool can_be_set_to(const v1::Transmitter& gear, double power_dbm);
bool can_be_tuned_to(const v1::Transmitter& gear, const v1::Channel& channel);

/// What a transmitter can be set to, rising; never empty.
std::vector<double> powers_of(const v1::Transmitter& gear);
/// Of these what is within the club's own limit; where none is, the lowest.
std::vector<double> powers_within(const v1::DaySheet& sheet, const v1::Transmitter& gear);

}  // namespace fieldpeg::day
