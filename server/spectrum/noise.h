#pragma once

#include "server/spectrum/units.h"

#include <span>

namespace fieldpeg::spectrum {

/// Thermal noise density at 290 K, dBm in one MHz: k T0 with k exact [SI-9, 2.2].
Dbm thermal_noise_per_mhz();

/// Noise of a receiver, referred to its input: k T0 B F. Requires bandwidth > 0.
Dbm noise_power(Hertz bandwidth, Decibel noise_figure);

/// One stage of a receiver's chain. A passive one has a gain below 0 dB and the same noise figure.
struct Stage {
    Decibel gain;
    Decibel noise_figure;
};

/// The noise figure of stages in a row, the first one nearest the antenna. [Pozar, ch. 10, Friis]
///
///     F = F1 + (F2 - 1) / G1 + (F3 - 1) / (G1 G2) + ...
///
/// Requires at least one stage.
Decibel cascade_noise_figure(std::span<const Stage> stages);

}  // namespace fieldpeg::spectrum
