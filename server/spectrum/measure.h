#pragma once

#include "server/spectrum/units.h"

/// What a club can find out with two transmitters, a tape measure and patience (docs/measure.md).
/// Over open ground, near enough that the ground does not matter: free space [P.525].
namespace fieldpeg::spectrum {

/// A transmitter at some distance, `gain` being that of both antennas less their cables.
struct Stood {
    Dbm power;
    Decibel gain;
    Metres away;
};
/// What arrives of it.
Dbm arriving(const Stood& stood, Hertz frequency);

/// The noise figure of a receiver in which the picture of a transmitter just breaks.
///
///     F = C - required - k T0 B
Decibel noise_figure_from_weakest(Dbm arriving, Decibel required, Hertz bandwidth);

/// By how much a receiver shuts out a transmitter beside, at which lines begin to tear in a
/// picture.
///
///     R = I - C + required
Decibel rejection_from_tearing(Dbm wanted, Dbm other, Decibel required);

/// The compression point of a receiver in which a picture with so much margin goes when another
/// transmitter arrives so strong, far from the channel: where desensitisation is that margin.
/// Requires a margin above 0 dB.
Dbm p1db_from_overload(Dbm other, Decibel margin);

}  // namespace fieldpeg::spectrum
