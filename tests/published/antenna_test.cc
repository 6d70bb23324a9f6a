#include "server/spectrum/antenna.h"

#include "tests/published/published.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

using testing::published;

constexpr double printed_deg = 0.0006;  // three decimals

// theta3 = 107.6 * 10^(-0.1 G0) [F.1336-5, recommends 2], second hand, recomputed.
TEST(VerticalWidth, OfAnOmnidirectionalAntenna) {
    EXPECT_NEAR(omnidirectional_vertical_width(2_dB).count(), 67.891, printed_deg);
    EXPECT_NEAR(omnidirectional_vertical_width(5_dB).count(), 34.026, printed_deg);
    EXPECT_NEAR(omnidirectional_vertical_width(8_dB).count(), 17.053, printed_deg);
    EXPECT_NEAR(omnidirectional_vertical_width(10_dB).count(), 10.760, printed_deg);
}

// theta3 = 31000 * 10^(-0.1 G0) / phi3 [F.1336-5, recommends 3.1], second hand, recomputed.
TEST(VerticalWidth, OfASectorAntenna) {
    EXPECT_NEAR(sectoral_vertical_width(14_dB, 65_deg).count(), 18.987, printed_deg);
}

TEST(GearLibrary, WidthsAreThoseOfTheirGains) {
    constexpr double one_decimal_deg = 0.051;
    EXPECT_NEAR(testing::antenna("circular-omni").vertical_width.count(),
                omnidirectional_vertical_width(1.2_dB).count(), one_decimal_deg);
    EXPECT_NEAR(testing::antenna("vertical-omni-1g3").vertical_width.count(),
                omnidirectional_vertical_width(2.15_dB).count(), one_decimal_deg);
    EXPECT_NEAR(testing::antenna("wide-panel").vertical_width.count(),
                sectoral_vertical_width(10_dB, 165_deg).count(), one_decimal_deg);
}

// phi3 = sqrt(27000 * 10^(-0.1 G0)) for antennas of low gain [F.1336-5, recommends 4.1], second
// hand. Meant for 1 to 3 GHz and for a circular beam; taken here as a check of plausibility.
TEST(GearLibrary, DirectionalAntennasHaveTheBeamOfTheirGain) {
    constexpr double plausible_db = 1;
    for (const auto* name : {"circular-patch", "circular-helix"}) {
        const auto pattern = testing::antenna(name);
        const double beam = pattern.horizontal_width->count() * pattern.vertical_width.count();
        EXPECT_NEAR(10 * std::log10(27'000 / beam), pattern.peak_gain.count(), plausible_db)
            << name;
    }
}

/// cos(90 deg sin e) / cos e, the pattern of a thin half-wave dipole [Balanis, ch. 4], in dB.
double half_wave_dipole_down_db(double elevation_deg) {
    const double e = elevation_deg * std::numbers::pi / 180;
    return -20 * std::log10(std::cos(std::numbers::pi / 2 * std::sin(e)) / std::cos(e));
}

// From the textbook: 2.15 dBi, 78 degrees. Numbers from memory, the pattern derived.
TEST(GearLibrary, TheDipoleIsHalfAWave) {
    constexpr double parabola_db = 0.5;  // within a parabola's fit, to 60 degrees
    const auto pattern = testing::antenna("dipole");
    EXPECT_NEAR(pattern.peak_gain.count(), 2.15, 0.005);
    EXPECT_NEAR(half_wave_dipole_down_db(pattern.vertical_width.count() / 2), 3.01, 0.02);
    for (const double e_deg : {0.0, 15.0, 30.0, 39.0, 45.0, 60.0})
        EXPECT_NEAR((pattern.peak_gain - gain(pattern, 0_deg, Degrees(e_deg))).count(),
                    half_wave_dipole_down_db(e_deg), parabola_db)
            << e_deg;
}

TEST(Gain, IsTheElementPatternOf38901) {
    const AntennaPattern element{8_dB, 65_deg, 65_deg, 30_dB, 0_dB};
    for (const auto& row : published("element_pattern.csv"))
        EXPECT_NEAR(
            gain(element, Degrees(row.number("phi_deg")), Degrees(90 - row.number("theta_deg")))
                .count(),
            row.number("gain_dbi"), 0.0001)
            << row.where();
}

// Half the power at half the width either side, whatever the antenna: what a half-power width is.
TEST(Gain, IsHalvedAtTheEdgeOfTheBeam) {
    for (const auto* name : {"circular-patch", "circular-helix", "wide-panel"}) {
        const auto pattern = testing::antenna(name);
        const Degrees edge = 0.5 * *pattern.horizontal_width;
        EXPECT_NEAR((pattern.peak_gain - gain(pattern, edge, 0_deg)).count(), 3, 1e-9) << name;
        EXPECT_NEAR((pattern.peak_gain - gain(pattern, -edge, 0_deg)).count(), 3, 1e-9) << name;
    }
}

}  // namespace
}  // namespace fieldpeg::spectrum
