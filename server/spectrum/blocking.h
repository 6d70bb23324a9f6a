#pragma once

#include "server/spectrum/units.h"

namespace fieldpeg::spectrum {

/// By how much strong signals off the channel weaken the wanted one in a cubic receiver.
/// [Razavi, ch. 2, desensitisation]
///
///     D = -20 log10(1 - 2 T / P_IIP3)
///
/// Departure: the formula runs to infinity 3 dB below IIP3; from 6.02 dB below IIP3 on, D grows
/// by 2 dB a dB instead, value and slope continuous.
Decibel desensitisation(Dbm all_blockers, Dbm iip3);

}  // namespace fieldpeg::spectrum
