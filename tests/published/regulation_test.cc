#include "server/spectrum/bandwidth.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fieldpeg::spectrum {
namespace {

constexpr double printed_db = 0.0006;  // three decimals

// 47 CFR 15.249(a): 50 mV/m at 3 m for the fundamental in 902-928, 2400-2483.5 and 5725-5875 MHz
// [47CFR15.249, (a)], confirmed. (0.05 * 3)^2 / 30 = 0.75 mW, recomputed.
TEST(EirpOfFieldStrength, FiftyMillivoltsAtThreeMetresAreThreeQuartersOfAMilliwatt) {
    EXPECT_NEAR(eirp_of_field_strength(50e-3, 3_m).count(), -1.249, printed_db);
    EXPECT_NEAR(milliwatts(eirp_of_field_strength(50e-3, 3_m)), 0.75, 1e-9);
}

// 500 uV/m at 3 m: the harmonics of 15.249, confirmed; the general limit of 15.209 above 960 MHz,
// from memory [47CFR15.209, (a)]. Forty decibels below.
TEST(EirpOfFieldStrength, HarmonicsAreFortyDecibelsBelow) {
    EXPECT_NEAR(eirp_of_field_strength(500e-6, 3_m).count(), -41.249, printed_db);
}

// E(dBuV/m) = P(dBW) - 20 log d(km) + 74.8 [P.525-5, field strength], from memory, printed to one
// decimal; 74.77 derived.
TEST(EirpOfFieldStrength, InvertsTheFieldStrengthOfTheRecommendation) {
    constexpr double rounded_constant_db = 0.05;
    const double e_dbuv_per_m = 74.8 - 20 * std::log10(2.0);  // of 1 W, 2 km away
    const double e_v_per_m = std::pow(10, (e_dbuv_per_m - 120) / 20);
    EXPECT_NEAR(eirp_of_field_strength(e_v_per_m, 2000_m).count(), 30, rounded_constant_db);
}

}  // namespace
}  // namespace fieldpeg::spectrum
