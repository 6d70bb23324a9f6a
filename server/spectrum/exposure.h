#pragma once

#include "server/spectrum/units.h"

namespace fieldpeg::spectrum {

/// Power density of an isotropic radiator's far field, no reflection, W/m2. [OET-65, eq. (3)]
///
///     S = EIRP / (4 pi R^2)
double power_density_w_per_m2(Dbm eirp, Metres distance);

/// General-public reference level, whole body, W/m2. [ICNIRP-2020, Table 5]
///
///     10 above 2 GHz; f / 200 from 400 to 2000 MHz, f in MHz
///
/// Departure: the level of 400 MHz below it. National limits rule, not this figure.
double reference_level_w_per_m2(Hertz frequency);

/// Never say less: nearer, the far-field formula does not hold and a body does not stay so still.
inline constexpr Metres exposure_distance_min = 0.2_m;

/// The least distance to keep from a radiating antenna: where the power density in its main beam
/// falls to the reference level, but at least `exposure_distance_min`.
Metres exposure_distance(Dbm eirp, Hertz frequency);

}  // namespace fieldpeg::spectrum
