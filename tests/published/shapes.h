#pragma once

#include "server/spectrum/curve.h"

#include <cstddef>
#include <numbers>
#include <vector>

/// Emissions and receivers whose integrals have a closed form.
namespace fieldpeg::testing {

using namespace spectrum::literals;

constexpr spectrum::Decibel shut = 200_dB;  // what our ideal receivers do to the rest of the world

/// Flat over `width`, nothing outside.
inline spectrum::Density rectangular_density(spectrum::Hertz width) {
    const spectrum::Hertz edge(width.count() / 2);
    return spectrum::Density::make({{0_Hz, 0_dB}, {edge, 0_dB}}).value();
}

/// Open over `width`, shut from one hertz farther on.
inline spectrum::Selectivity rectangular_selectivity(spectrum::Hertz width) {
    const spectrum::Hertz edge(width.count() / 2);
    return spectrum::Selectivity::make({{0_Hz, 0_dB}, {edge, 0_dB}, {edge + 1_Hz, shut}}).value();
}

/// By how much a Gaussian of rms width `sigma_mhz` is down at `f_mhz`.
inline double gaussian_down_db(double sigma_mhz, double f_mhz) {
    return 5 / std::numbers::ln10 * (f_mhz / sigma_mhz) * (f_mhz / sigma_mhz);
}

constexpr double gaussian_reach = 8;  // sigmas; what lies beyond is 139 dB down
constexpr std::size_t gaussian_knots = spectrum::Curve::knots_max;

/// A chord of the parabola is off by at most h^2/8 times its curvature.
inline double gaussian_chord_error_db() {
    constexpr double h = gaussian_reach / (gaussian_knots - 1);
    return h * h / 8 * 10 / std::numbers::ln10;
}

inline std::vector<spectrum::Curve::Knot> gaussian_knots_of(double sigma_mhz, double sign) {
    std::vector<spectrum::Curve::Knot> knots;
    for (std::size_t i = 0; i < gaussian_knots; ++i) {
        const double f_mhz = gaussian_reach * sigma_mhz * static_cast<double>(i) /
                             static_cast<double>(gaussian_knots - 1);
        knots.push_back({spectrum::from_mhz(f_mhz),
                         spectrum::Decibel(sign * gaussian_down_db(sigma_mhz, f_mhz))});
    }
    knots.front().level = 0_dB;
    return knots;
}

inline spectrum::Density gaussian_density(double sigma_mhz) {
    return spectrum::Density::make(gaussian_knots_of(sigma_mhz, -1)).value();
}
inline spectrum::Selectivity gaussian_selectivity(double sigma_mhz) {
    return spectrum::Selectivity::make(gaussian_knots_of(sigma_mhz, 1)).value();
}

}  // namespace fieldpeg::testing
