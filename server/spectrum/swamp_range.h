#pragma once

#include "server/spectrum/scene.h"

#include <optional>

namespace fieldpeg::spectrum {

/// How far from a transmitter a receiver like this one is swamped by it alone, in the direction in
/// which the receiver stands: nearer than this, what gets into its front end is more than its P1dB.
/// None: no farther than `beyond`, or the transmitter flies. Known to 1 %.
std::optional<Metres> swamp_range(const Transmitter& transmitter, const Receiver& receiver,
                                  const ReceiverProfile& profile, Metres beyond = Metres(0.3));

/// Farther out nobody looks.
inline constexpr Metres swamp_farthest{2000};

}  // namespace fieldpeg::spectrum
