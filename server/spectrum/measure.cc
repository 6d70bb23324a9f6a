#include "server/spectrum/measure.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"

namespace fieldpeg::spectrum {

Dbm arriving(const Stood& stood, Hertz frequency) {
    return stood.power + stood.gain - free_space_loss(frequency, stood.away);
}

Decibel noise_figure_from_weakest(Dbm arriving, Decibel required, Hertz bandwidth) {
    return arriving - required - noise_power(bandwidth, Decibel(0));
}

Decibel rejection_from_tearing(Dbm wanted, Dbm other, Decibel required) {
    return other - wanted + required;
}

Dbm p1db_from_overload(Dbm other, Decibel margin) {
    // Desensitisation falls as the compression point rises.
    double low = other.count() - 60, high = other.count() + 60;
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (desensitisation(other, Dbm(middle)) > margin ? low : high) = middle;
    }
    return Dbm(high);
}

}  // namespace fieldpeg::spectrum
