#pragma once

#include "server/spectrum/units.h"

#include <string>

namespace fieldpeg::spectrum {

/// Necessary bandwidth of a frequency-modulated emission: 2 M + 2 D K. [SM.1138-3, FM]
///
/// M: highest modulating frequency; D: peak deviation; K: 1 in the usual cases. With K = 1 it is
/// Carson's rule.
Hertz necessary_bandwidth_fm(Hertz highest_modulating, Hertz peak_deviation, double k = 1);

/// A bandwidth as it opens an emission designator: three figures and a letter in the place of the
/// decimal point, 18 MHz being 18M0. [RR-AP1, section 2] Half up, as the printed examples do.
///
/// Requires 0.001 <= hertz < 999.5e9.
std::string bandwidth_symbol(double hertz);

/// Field strength of an e.i.r.p. in free space, the conversion that 47 CFR 15.249 needs:
///
///     EIRP = (E d)^2 / 30                                         [P.525-5, field strength]
Dbm eirp_of_field_strength(double volts_per_metre, Metres distance);

}  // namespace fieldpeg::spectrum
