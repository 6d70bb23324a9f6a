#pragma once

#include "server/spectrum/units.h"

namespace fieldpeg::spectrum {

/// By how much strong signals off the channel weaken the wanted one in a cubic receiver, by its
/// 1 dB compression point. [Razavi, ch. 2, desensitisation]
///
///     D = -20 log10(1 - 2 T / P),   P = P1dB + 9.636 dB
///
/// P is the intercept point of a cubic whose gain falls by 1 dB at P1dB. Departure: the formula
/// runs to infinity 3 dB below P; from 6.02 dB below P on, D grows by 2 dB a dB instead, value and
/// slope continuous.
Decibel desensitisation(Dbm all_blockers, Dbm p1db);

/// The intercept point of a cubic compressing by 1 dB lies this far above the point where it does:
/// -10 log10(1 - 10^(-1/20)).
inline constexpr Decibel intercept_above_p1db{9.6357};

}  // namespace fieldpeg::spectrum
