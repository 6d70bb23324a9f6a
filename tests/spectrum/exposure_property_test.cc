#include "server/spectrum/exposure.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <array>

namespace fieldpeg::spectrum {
namespace {

using testing::between;

TEST(ExposureDistance, IsWhereTheDensityFallsToTheReferenceLevel) {
    testing::for_all(100, [](std::mt19937_64& rng) {
        const Hertz frequency = from_mhz(between(rng, 100, 8'000));
        const Dbm eirp(between(rng, 0, 50));
        const Metres d = exposure_distance(eirp, frequency);
        const double density = power_density_w_per_m2(eirp, d);
        EXPECT_GE(d, exposure_distance_min);
        if (d > exposure_distance_min) {
            EXPECT_NEAR(density / reference_level_w_per_m2(frequency), 1, 1e-9);
        } else {
            EXPECT_LE(density, reference_level_w_per_m2(frequency) * (1 + 1e-9));
        }
    });
}

TEST(ReferenceLevel, GoesOnWithoutAStepWhereItsFormulaChanges) {
    EXPECT_NEAR(reference_level_w_per_m2(1'999'999_kHz), reference_level_w_per_m2(2'000_MHz), 1e-4);
    EXPECT_EQ(reference_level_w_per_m2(400_MHz), reference_level_w_per_m2(100_MHz));
    EXPECT_GT(reference_level_w_per_m2(401_MHz), reference_level_w_per_m2(400_MHz));
}

}  // namespace
}  // namespace fieldpeg::spectrum
