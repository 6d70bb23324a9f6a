#include "server/spectrum/exposure.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

double watts(Dbm power) {
    return milliwatts(power) / 1000;
}

}  // namespace

double power_density_w_per_m2(Dbm eirp, Metres distance) {
    return watts(eirp) /
           (4 * std::numbers::pi * distance.count() * distance.count());  // [OET-65, eq. (3)]
}

double reference_level_w_per_m2(Hertz frequency) {
    const double f_mhz = std::max(mhz(frequency), 400.0);
    return f_mhz >= 2000 ? 10 : f_mhz / 200;  // [ICNIRP-2020, Table 5]
}

Metres exposure_distance(Dbm eirp, Hertz frequency) {
    const double r_m =
        std::sqrt(watts(eirp) / (4 * std::numbers::pi * reference_level_w_per_m2(frequency)));
    return std::max(Metres(r_m), exposure_distance_min);
}

}  // namespace fieldpeg::spectrum
