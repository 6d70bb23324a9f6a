#include "server/spectrum/blocking.h"

#include <cmath>

namespace fieldpeg::spectrum {

Decibel desensitisation(Dbm all_blockers, Dbm p1db) {
    const Decibel x = all_blockers - p1db - intercept_above_p1db;
    const Decibel knee = decibel(0.25);  // 2 T / P_IIP3 = 1/2
    const Decibel at_knee(20 * std::log10(2.0));
    if (x > knee) return at_knee + 2 * (x - knee);
    return Decibel(-20 * std::log10(1 - 2 * linear(x)));  // [Razavi, ch. 2, desensitisation]
}

}  // namespace fieldpeg::spectrum
