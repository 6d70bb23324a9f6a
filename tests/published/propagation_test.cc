#include "server/spectrum/propagation.h"

#include "server/spectrum/bandwidth.h"
#include "tests/published/published.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

using testing::published;

constexpr double printed_db = 0.0006;              // tables print three decimals
constexpr double median_db = 0.0206 + printed_db;  // 6 in the source against 20 log10 2 in the code

/// The bounds of [P.1411-4, 4.1], from the breakpoint distance under test.
struct Bounds {
    double lower_db, upper_db;
};
Bounds bounds(Hertz frequency, double d_m, Metres height_1, Metres height_2) {
    const double r_bp_m = breakpoint_distance(frequency, height_1, height_2).count();
    const double lambda_m = wavelength_m(frequency);
    const double l_bp_db =
        std::abs(20 * std::log10(lambda_m * lambda_m /
                                 (8 * std::numbers::pi * height_1.count() * height_2.count())));
    const double decades = std::log10(d_m / r_bp_m);
    return d_m <= r_bp_m ? Bounds{l_bp_db + 20 * decades, l_bp_db + 20 + 25 * decades}
                         : Bounds{l_bp_db + 40 * decades, l_bp_db + 20 + 40 * decades};
}

TEST(FreeSpaceLoss, IsTheExactFormulaAtTheFrequenciesOfTheField) {
    for (const auto& row : published("free_space_loss.csv")) {
        SCOPED_TRACE(row.where());
        const Decibel loss = free_space_loss(from_mhz(row.number("frequency_mhz")),
                                             Metres(1000 * row.number("distance_km")));
        EXPECT_NEAR(loss.count(), row.number("exact_db"), printed_db);
        if (row.has("printed_db")) {
            EXPECT_NEAR(loss.count(), row.number("printed_db"), row.number("printed_within_db"));
        }
    }
}

// L_bf = 32.4 + 20 log f(MHz) + 20 log d(km) [P.525-5, L_bf], second hand. The exact constant is
// 20 log10(4 pi 1e9 / c) = 32.4478, derived.
TEST(FreeSpaceLoss, IsHalfATenthAboveTheRoundedConstantOfTheRecommendation) {
    constexpr double departure_db = 0.0478;
    EXPECT_NEAR(free_space_loss(1_MHz, 1000_m).count(), 32.4 + departure_db, 0.0001);
}

TEST(FreeSpaceLoss, GrowsBySixDecibelsADoubling) {  // derived: 20 log10 2
    const Decibel loss = free_space_loss(5658_MHz, 500_m);
    EXPECT_NEAR((free_space_loss(5658_MHz, 1000_m) - loss).count(), 6.0206, 0.0001);
    EXPECT_NEAR((free_space_loss(11'316_MHz, 500_m) - loss).count(), 6.0206, 0.0001);
}

// Goldsmith, Wireless Communications, Example 2.2 and a problem of the same chapter: critical
// distance 4 ht hr / lambda [Goldsmith, ch. 2]. Example from memory, problem and formula confirmed,
// all recomputed.
TEST(BreakpointDistance, IsTheCriticalDistanceOfTheTextbooks) {
    constexpr double with_rounded_c = 0.001;  // the book takes c = 3e8 m/s: 0.07 %
    EXPECT_NEAR(breakpoint_distance(2000_MHz, 10_m, 3_m).count(), 800, 800 * with_rounded_c);
    EXPECT_NEAR(breakpoint_distance(2000_MHz, 3_m, 2_m).count(), 160, 160 * with_rounded_c);
    EXPECT_NEAR(breakpoint_distance(2000_MHz, 20_m, 3_m).count(), 1600, 1600 * with_rounded_c);
}

// Published by an open network simulator's test of [P.1411-4, 4.1], confirmed: the mean of the two
// bounds at the slant distance. Our path loss is the median instead, so the bounds are formed here
// and only breakpoint and wavelength are the code's.
TEST(BreakpointDistance, GivesThePublishedMeanOfTheBounds) {
    constexpr double printed_mean_db = 0.0015;  // 81.0056 is printed as 81.005
    const auto mean_db = [](Hertz f, double ground_m) {
        const auto [lower_db, upper_db] = bounds(f, std::hypot(ground_m, 30 - 1), 30_m, 1_m);
        return (lower_db + upper_db) / 2;
    };
    EXPECT_NEAR(mean_db(2114_MHz, 100), 81.005, printed_mean_db);
    EXPECT_NEAR(mean_db(1999_MHz, 200), 87.060, printed_mean_db);
}

TEST(PathLoss, IsTheMedianOfTheRecommendation) {
    for (const auto& row : published("line_of_sight.csv")) {
        SCOPED_TRACE(row.where());
        const Hertz f = from_mhz(row.number("frequency_mhz"));
        const Metres d(row.number("distance_m"));
        const Metres h1(row.number("height_1_m"));
        const Metres h2(row.number("height_2_m"));
        EXPECT_NEAR(breakpoint_distance(f, h1, h2).count(), row.number("breakpoint_m"), printed_db);
        EXPECT_NEAR(path_loss(f, d, h1, h2).count(), row.number("median_db"), median_db);

        const auto [lower_db, upper_db] = bounds(f, d.count(), h1, h2);
        EXPECT_NEAR(lower_db, row.number("lower_db"), printed_db);
        EXPECT_NEAR(upper_db, row.number("upper_db"), printed_db);
        EXPECT_NEAR(path_loss(f, d, h1, h2).count(), lower_db + 6, median_db);
        EXPECT_LT(path_loss(f, d, h1, h2).count(), upper_db);
    }
}

TEST(PathLoss, IsFreeSpaceToTheBreakpoint) {  // derived, see line_of_sight.csv
    const Metres r_bp = breakpoint_distance(5800_MHz, 2_m, 30_m);
    for (const double share : {0.01, 0.1, 0.5, 1.0}) {
        const Metres d(share * r_bp.count());
        EXPECT_DOUBLE_EQ(path_loss(5800_MHz, d, 2_m, 30_m).count(),
                         free_space_loss(5800_MHz, d).count());
    }
}

TEST(PathLoss, GrowsByFortyDecibelsADecadeBeyondTheBreakpoint) {
    const auto loss = [](Metres d) { return path_loss(5800_MHz, d, 2_m, 2_m); };
    EXPECT_NEAR((loss(10'000_m) - loss(1000_m)).count(), 40, 1e-9);
    EXPECT_NEAR((loss(2000_m) - loss(1000_m)).count(), 12.0412, 0.0001);
}

/// The textbook two-ray loss far out: 40 log d - 20 log(h1 h2), free of frequency
/// [Rappaport, ch. 4] [Goldsmith, ch. 2].
double two_ray_db(double d_m, double h1_m, double h2_m) {
    return 40 * std::log10(d_m) - 20 * std::log10(h1_m * h2_m);
}

// Derived: free space + 20 log10(d / R_bp) = 40 log d - 20 log(h1 h2) + 20 log pi. The two-ray
// formula is where both rays add in the best way on the way out, the median lies 9.94 dB below.
TEST(PathLoss, FarOutIsTheTwoRayLossAndAFixedAllowance) {
    const double allowance_db = 20 * std::log10(std::numbers::pi);
    for (const Hertz f : {1280_MHz, 2440_MHz, 5800_MHz})
        EXPECT_NEAR(path_loss(f, 10'000_m, 2_m, 1.5_m).count(),
                    two_ray_db(10'000, 2, 1.5) + allowance_db, 1e-6);
}

// Rappaport, Wireless Communications, 2nd ed., Example 4.6 [Rappaport, Example 4.6], from memory,
// recomputed to all digits: 1 mV/m at 1 km, 900 MHz, 50 m and 1.5 m high, 5 km, antenna of 2.55 dB:
// -92.68 dBm. The field strength makes the e.i.r.p.; the path loss less its allowance the rest.
TEST(PathLoss, FollowsTheTwoRayExample) {
    const double allowance_db = 20 * std::log10(std::numbers::pi);
    const Dbm eirp = eirp_of_field_strength(1e-3, 1000_m);
    const Dbm received =
        eirp - path_loss(900_MHz, 5000_m, 50_m, 1.5_m) + Decibel(allowance_db) + 2.55_dB;
    EXPECT_NEAR(received.count(), -92.68, 0.01);
}

}  // namespace
}  // namespace fieldpeg::spectrum
