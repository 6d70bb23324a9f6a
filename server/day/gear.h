#pragma once

#include "server/spectrum/scene.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/gear.pb.h"

namespace fieldpeg::day {

/// Whether what a transmitter sends at one of its powers was measured.
bool is_power_measured(const v1::Transmitter& transmitter, double power_dbm);

/// Gear as the radio model takes it. The messages were checked when they were read; a curve that
/// is none is our own mistake.
spectrum::Emission emission(const v1::Emission& from);
spectrum::ReceiverProfile receiver_profile(const v1::ReceiverProfile& from);
spectrum::AntennaPattern antenna_pattern(const v1::Antenna& from);
spectrum::Polarisation polarisation(v1::Polarisation::Kind from);

}  // namespace fieldpeg::day
