#include "server/spectrum/propagation.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {

Decibel free_space_loss(Hertz frequency, Metres distance) {
    BOOST_ASSERT(frequency > Hertz(0));
    BOOST_ASSERT(distance > Metres(0));
    const double d_m = distance.count();
    return Decibel(
        20 * std::log10(4 * std::numbers::pi * d_m / wavelength_m(frequency)));  // [P.525-5, L_bf]
}

Metres crossover_distance(Hertz frequency, Metres height_1, Metres height_2) {
    return Metres(4 * std::numbers::pi * height_1.count() * height_2.count() /
                  wavelength_m(frequency));  // [Rappaport, 4.6]
}

Decibel path_loss(Hertz frequency, Metres distance, Metres height_1, Metres height_2) {
    const Metres d = std::max(distance, path_min);
    const Metres crossover = std::max(crossover_distance(frequency, std::max(height_1, height_min),
                                                         std::max(height_2, height_min)),
                                      path_min);
    const Decibel loss = free_space_loss(frequency, d);
    if (d <= crossover) return loss;
    return loss + Decibel(20 * std::log10(d.count() / crossover.count()));
}

Hertz band_reference(Hertz frequency) {
    if (1000_MHz <= frequency && frequency <= 1700_MHz) return 1280_MHz;
    if (2200_MHz <= frequency && frequency <= 2700_MHz) return 2440_MHz;
    if (4900_MHz <= frequency && frequency <= 6300_MHz) return 5800_MHz;
    return frequency;
}

}  // namespace fieldpeg::spectrum
