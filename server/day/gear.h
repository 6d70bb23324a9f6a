#pragma once

#include "server/spectrum/scene.h"

#include "fieldpeg/v1/gear.pb.h"

namespace fieldpeg::day {

/// Gear as the radio model takes it. The messages were checked when they were read; a curve that
/// is none is our own mistake.
spectrum::Emission emission(const v1::Emission& from);
spectrum::ReceiverProfile receiver_profile(const v1::ReceiverProfile& from);
spectrum::AntennaPattern antenna_pattern(const v1::Antenna& from);
spectrum::Polarisation polarisation(v1::Polarisation::Kind from);

}  // namespace fieldpeg::day
