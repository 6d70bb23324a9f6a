#pragma once

#include "server/spectrum/curve.h"
#include "server/spectrum/units.h"

namespace fieldpeg::spectrum {

/// Frequency-dependent rejection: by how much a receiver weakens an emission that is off its tune.
///
///     FDR(df) = 10 log10( integral P(f) df / integral P(f) |H(f + df)|^2 df )
///                                                             [SM.337-6, Annex 1, eq. (2)]
///
/// where df is `separation`, the centre of the emission minus the tune of the receiver. Even and
/// never falling in |df|, since both curves are symmetric and fall away from their centres.
/// Always finite, since a receiver lets a little of everything through.
///
/// Exact, not sampled: on curves that are straight lines in dB both integrals have a closed form.
Decibel frequency_dependent_rejection(const Density& density, const Selectivity& selectivity,
                                      Hertz separation);

/// The same with a Gaussian spectrum of rms width `sigma` in place of the emission: what is left
/// of an intermodulation product, whose width is not that of either signal. [ours: docs/model.md]
///
///     G(sigma, df) = -10 log10( integral N(f; df, sigma^2) 10^(-A(f)/10) df )
///
/// Requires sigma_mhz > 0.
Decibel product_rejection(double sigma_mhz, const Selectivity& selectivity, Hertz separation);

/// The bandwidth of noise that comes through: integral of 10^(-A/10) over all the knots.
Hertz noise_bandwidth(const Selectivity& selectivity);

/// The width over which the density at the centre, held level, would be all the power: power is
/// that density times this.
Hertz power_bandwidth(const Density& density);

/// The band that leaves 0.5 % of the power outside each edge, as 47 CFR 2.202(a) defines it
/// [47CFR2.202, (a)]. Its whole width.
Hertz occupied_bandwidth(const Density& density);

}  // namespace fieldpeg::spectrum
