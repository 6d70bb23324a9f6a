#include "server/spectrum/exposure.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

constexpr double mw_per_cm2 = 10;  // W/m2
constexpr double feet_m = 0.3048;

// [OET-65, eq. (3)], second hand; two figures printed in filings that use it, confirmed,
// recomputed.
TEST(PowerDensity, IsThatOfThePrintedFigures) {
    // 39.811 mW, gain 1, 20 cm: 0.007920 mW/cm2.
    EXPECT_NEAR(power_density_w_per_m2(dbm(39.811), 0.2_m) / mw_per_cm2, 0.007920, 0.5e-6);
    // 60 W at half keying and a fifth of the time, 2.2 dBi, 6 ft, with the ground's reflection of
    // 1.6^2: 0.060653 mW/cm2.
    const Dbm eirp = dbm(60e3 * 0.5 * 0.2) + 2.2_dB;
    const double ground = 1.6 * 1.6;
    EXPECT_NEAR(ground * power_density_w_per_m2(eirp, Metres(6 * feet_m)) / mw_per_cm2, 0.060653,
                1e-6);
}

// General public, whole body [ICNIRP-2020, Table 5], from memory: f / 200 from 400 to 2000 MHz, 10
// W/m2 above. 1280 MHz recomputed.
TEST(ReferenceLevel, IsThatOfTheGuidelines) {
    EXPECT_NEAR(reference_level_w_per_m2(1280_MHz), 6.40, 1e-9);
    EXPECT_NEAR(reference_level_w_per_m2(400_MHz), 2, 1e-9);
    for (const Hertz f : {2000_MHz, 2440_MHz, 5800_MHz, 10'000_MHz})
        EXPECT_EQ(reference_level_w_per_m2(f), 10);
}

TEST(ReferenceLevel, HasNoStepAtTwoGigahertz) {
    EXPECT_NEAR(reference_level_w_per_m2(1'999'999_kHz), reference_level_w_per_m2(2000_MHz), 1e-5);
}

// 47 CFR 1.1310, Table 1, general population [47CFR1.1310, Table 1], second hand: 0.2 mW/cm2 from
// 30 to 300 MHz, f / 1500 to 1.5 GHz, 1 above.
TEST(ReferenceLevel, IsNeverAboveThatOfTheFccOnABandWeKnow) {
    const auto fcc_w_per_m2 = [](double f_mhz) {
        return mw_per_cm2 * (f_mhz < 300 ? 0.2 : std::min(f_mhz / 1500, 1.0));
    };
    EXPECT_NEAR(fcc_w_per_m2(1280), 8.533, 0.0006);
    for (const double f_mhz : {433.0, 915.0, 1280.0, 1500.0, 2440.0, 5800.0})
        EXPECT_LE(reference_level_w_per_m2(from_mhz(f_mhz)), fcc_w_per_m2(f_mhz)) << f_mhz;
}

// Distances for 10 W/m2, no reflection; recomputed, printed to a tenth of a millimetre.
TEST(PowerDensity, IsTenWattsAtTheTabledDistances) {
    const std::vector<std::pair<double, double>> rows{
        {25, 0.0141}, {200, 0.0399}, {600, 0.0691}, {800, 0.0798}, {1000, 0.0892}, {2000, 0.1262}};
    for (const auto& [eirp_mw, distance_m] : rows) {
        constexpr double printed_m = 0.00005;
        EXPECT_GE(power_density_w_per_m2(dbm(eirp_mw), Metres(distance_m - printed_m)), 10);
        EXPECT_LE(power_density_w_per_m2(dbm(eirp_mw), Metres(distance_m + printed_m)), 10);
    }
}

// All of those lie within the near field of a small antenna, where the formula means nothing: say
// 20 cm instead.
TEST(ExposureDistance, NeverSaysLessThanTwentyCentimetres) {
    for (const double eirp_mw : {25.0, 200.0, 600.0, 800.0, 1000.0, 2000.0})
        EXPECT_EQ(exposure_distance(dbm(eirp_mw), 5800_MHz), 0.2_m);
}

TEST(ExposureDistance, IsWhereTheDensityIsTheLevel) {  // derived: sqrt(EIRP / (4 pi S))
    for (const Hertz f : {1280_MHz, 5800_MHz}) {
        const Metres r = exposure_distance(dbm(100e3), f);
        EXPECT_GT(r, 0.2_m);
        EXPECT_NEAR(power_density_w_per_m2(dbm(100e3), r), reference_level_w_per_m2(f), 1e-9);
    }
    EXPECT_NEAR(exposure_distance(dbm(100e3), 5800_MHz).count(), 0.892, 0.0005);
}

}  // namespace
}  // namespace fieldpeg::spectrum
