#include "server/spectrum/noise.h"

#include <boost/assert.hpp>

namespace fieldpeg::spectrum {

Dbm thermal_noise_per_mhz() {
    constexpr double k_j_per_k = 1.380649e-23;  // exact [SI-9, 2.2]
    constexpr double t0_k = 290;
    constexpr double mw_per_w = 1e3;
    return dbm(k_j_per_k * t0_k * 1e6 * mw_per_w);
}

Dbm noise_power(Hertz bandwidth, Decibel noise_figure) {
    BOOST_ASSERT(bandwidth > Hertz(0));
    return thermal_noise_per_mhz() + decibel(mhz(bandwidth)) + noise_figure;
}

Decibel cascade_noise_figure(std::span<const Stage> stages) {
    BOOST_ASSERT(!stages.empty());
    double factor = 1;
    double gain_before = 1;
    for (const auto& stage : stages) {
        factor += (linear(stage.noise_figure) - 1) / gain_before;  // [Pozar, ch. 10, Friis]
        gain_before *= linear(stage.gain);
    }
    return decibel(factor);
}

}  // namespace fieldpeg::spectrum
