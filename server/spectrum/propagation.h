#pragma once

#include "server/spectrum/units.h"

namespace fieldpeg::spectrum {

/// The speed of light, exact [SI-9, 2.2].
inline constexpr double c_m_per_s = 299'792'458.0;

constexpr double wavelength_m(Hertz frequency) {
    return c_m_per_s / static_cast<double>(frequency.count());
}

/// Free-space basic transmission loss between isotropic antennas.
///
///     L_bf = 20 log10(4 pi d / lambda)                            [P.525-5, L_bf]
///
/// Departure: the exact constant, 32.4478 dB, where the Recommendation prints 32.4.
/// Requires frequency > 0 and distance > 0.
Decibel free_space_loss(Hertz frequency, Metres distance);

/// The distance from which the ray reflected by the ground takes more than it gives: where free
/// space and the plane-earth limit cross. [Rappaport, 4.6]
///
///     X = 4 pi h1 h2 / lambda
Metres crossover_distance(Hertz frequency, Metres height_1, Metres height_2);

/// Path loss in line of sight above flat ground: free space to the crossover, beyond it the plane
/// earth, 40 log d - 20 log(h1 h2). [Rappaport, 4.6]
///
/// Departures: not the break at 4 h1 h2 / lambda that is used for streets [P.1411-4, 4.1], which
/// takes up to 9.9 dB too much over open grass (docs/model.md, section 4); d is the slant distance;
/// nearer than `path_min` the loss stays that of `path_min`, the near field of our antennas being
/// no place for this formula; heights below `height_min` count as `height_min`.
Decibel path_loss(Hertz frequency, Metres distance, Metres height_1, Metres height_2);

inline constexpr Metres path_min = 0.3_m;
inline constexpr Metres height_min = 0.5_m;

/// The one frequency for which a band's path losses are computed, so that link gains do not depend
/// on the channel plan; at most 0.25 dB off over 5640..5950 MHz [ours: docs/model.md, section 4].
/// Outside the three bands the frequency itself.
Hertz band_reference(Hertz frequency);

}  // namespace fieldpeg::spectrum
