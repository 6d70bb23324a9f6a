#pragma once

#include "server/spectrum/margin.h"
#include "server/spectrum/scene.h"

#include <optional>

namespace fieldpeg::spectrum {

/// How far over the ground a picture carries: without a gap from `from` to `to`.
struct Reach {
    Metres from;  ///< nearer its antenna looks past the aircraft; 0: it does not
    Metres to;
};

/// Nobody looks farther.
inline constexpr Metres reach_farthest{100'000};

/// One direction from a receiver in which an aircraft flies at one height.
struct Direction {
    Degrees azimuth;
    Metres height;
};

/// The margin of a receiver's picture from one place of an aircraft, for a share of the time.
Decibel margin_from(const Point& place, const Transmitter& transmitter, const Receiver& receiver,
                    const Reception& reception, double share, Air air);

/// The outermost stretch in a direction over which the picture holds at watchable for a share of
/// the time, known to 1 %; none: nowhere.
std::optional<Reach> reach(const Direction& direction, const Transmitter& transmitter,
                           const Receiver& receiver, const Reception& reception, double share,
                           Air air);

/// The place on the rim of an area that is farthest from a receiver: over ground, and where.
struct Rim {
    Degrees azimuth;
    Metres distance;
};
Rim far_rim(const Envelope& envelope, const Point& receiver);

}  // namespace fieldpeg::spectrum
