#pragma once

#include "server/spectrum/scene.h"

namespace fieldpeg::spectrum {

/// How far out over the ground the picture reaches when nobody else is on the air, towards the
/// point of the far half of the area where it is weakest, at the heights flown, fade taken off.
struct Reach {
    Metres picture;  ///< 0: nowhere
    Metres rim;      ///< where the weakest point is
};
/// Requires a transmitter that flies.
Reach reach(const Transmitter& transmitter, const Receiver& receiver,
            const ReceiverProfile& profile);

}  // namespace fieldpeg::spectrum
