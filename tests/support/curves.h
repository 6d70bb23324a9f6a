#pragma once

#include "server/spectrum/curve.h"
#include "tests/support/random.h"

#include <random>
#include <vector>

/// Random curves as real gear might have them: a few knots, never turning back.
namespace fieldpeg::testing {

/// Knots that fall (sign -1) or rise (sign 1) away from the centre, flat in places.
inline std::vector<spectrum::Curve::Knot> random_knots(std::mt19937_64& rng, double sign) {
    const int knots = whole(rng, 2, 9);
    std::vector<spectrum::Curve::Knot> list;
    double offset_mhz = 0;
    double level_db = 0;
    for (int i = 0; i < knots; ++i) {
        list.push_back({spectrum::from_mhz(offset_mhz), spectrum::Decibel(level_db)});
        offset_mhz += between(rng, 0.5, 9);
        level_db += chance(rng, 25) ? 0 : sign * between(rng, 0, 25);
    }
    return list;
}

inline spectrum::Density random_density(std::mt19937_64& rng) {
    return spectrum::Density::make(random_knots(rng, -1)).value();
}
inline spectrum::Selectivity random_selectivity(std::mt19937_64& rng) {
    return spectrum::Selectivity::make(random_knots(rng, 1)).value();
}

}  // namespace fieldpeg::testing
