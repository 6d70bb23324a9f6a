#include "server/spectrum/bandwidth.h"

#include "server/spectrum/rejection.h"
#include "tests/published/published.h"
#include "tests/published/shapes.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

using testing::published;

TEST(NecessaryBandwidth, IsThatOfThePrintedExamples) {
    for (const auto& row : published("necessary_bandwidth.csv")) {
        const Hertz bandwidth =
            necessary_bandwidth_fm(Hertz(std::llround(row.number("m_hz"))),
                                   Hertz(std::llround(row.number("d_hz"))), row.number("k"));
        EXPECT_EQ(bandwidth, Hertz(std::llround(row.number("bandwidth_hz")))) << row.where();
        EXPECT_EQ(bandwidth_symbol(static_cast<double>(bandwidth.count())), row.text("symbol"))
            << row.where();
    }
}

TEST(BandwidthSymbol, IsThatOfThePrintedExamples) {
    for (const auto& row : published("bandwidth_symbols.csv"))
        EXPECT_EQ(bandwidth_symbol(row.number("hertz")), row.text("symbol")) << row.where();
}

// Three figures, half up, may make a thousand, which has the next letter; derived from the rule
// that the letter stands within or behind the three figures and that none of 0, K, M, G comes
// first.
TEST(BandwidthSymbol, RoundsUpIntoTheNextLetter) {
    EXPECT_EQ(bandwidth_symbol(999.4), "999H");
    EXPECT_EQ(bandwidth_symbol(999.6), "1K00");
    EXPECT_EQ(bandwidth_symbol(999.5e3), "1M00");
    EXPECT_EQ(bandwidth_symbol(999.6e6), "1G00");
}

TEST(BandwidthSymbol, IsThreeFiguresAndALetterWhateverTheBandwidth) {
    for (double hertz = 0.001; hertz < 999e9; hertz *= 1.0003) {
        const auto symbol = bandwidth_symbol(hertz);
        ASSERT_EQ(symbol.size(), 4U) << hertz << ": " << symbol;
        ASSERT_EQ(symbol.find_first_of("0KMG"), symbol.find_first_of("0KMG", 1))
            << hertz << ": " << symbol;
    }
}

// Carson's rule, worked [Roddy, 9.6, Examples 9.1 and 9.2], confirmed and recomputed.
TEST(NecessaryBandwidth, IsCarsonsRule) {
    // 4.2 MHz of video, deviation ratio 2.56: deviation 10.752 MHz, printed 29.9 MHz.
    EXPECT_NEAR(mhz(necessary_bandwidth_fm(4'200_kHz, 10'752_kHz)), 29.9, 0.05);
    // A tone of 800 Hz, deviation 200 kHz: 401.6 kHz.
    EXPECT_EQ(necessary_bandwidth_fm(800_Hz, 200_kHz), 401'600_Hz);
}

// Inversions printed in a note on satellite television, confirmed: a bandwidth of 26 MHz leaves 5
// MHz of video a deviation of 8 MHz, one of 36 MHz 13 MHz.
TEST(NecessaryBandwidth, AgreesWithThePrintedInversions) {
    EXPECT_EQ(necessary_bandwidth_fm(5_MHz, 8_MHz), 26_MHz);
    EXPECT_EQ(necessary_bandwidth_fm(5_MHz, 13_MHz), 36_MHz);
}

// Half a per cent of the power outside each edge [47CFR2.202, (a)], confirmed; both shapes derived.
TEST(OccupiedBandwidth, OfKnownShapes) {
    EXPECT_NEAR(mhz(occupied_bandwidth(testing::rectangular_density(20_MHz))), 19.8, 1e-5);
    // A Gaussian: 2.5758 sigma either side. The chords narrow the tail by less than 0.1 %.
    const double sigma_mhz = 4;
    EXPECT_NEAR(mhz(occupied_bandwidth(testing::gaussian_density(sigma_mhz))),
                2 * 2.5758 * sigma_mhz, 0.001 * 2 * 2.5758 * sigma_mhz);
}

// Carson's rule is meant to hold all but a little of the power [47CFR2.202, (a)]: the video
// emissions of the gear library must fit into it, with the highest sound subcarrier (6.5 MHz) and
// the deviations they are for (up to 4 and 6 MHz).
// A rectangle is as wide as it is; a Gaussian sqrt(2 pi) sigma [closed form].
TEST(PowerBandwidth, OfKnownShapes) {
    EXPECT_NEAR(mhz(power_bandwidth(testing::rectangular_density(20_MHz))), 20, 1e-5);
    const double sigma_mhz = 4;
    EXPECT_NEAR(mhz(power_bandwidth(testing::gaussian_density(sigma_mhz))),
                std::sqrt(2 * std::numbers::pi) * sigma_mhz, 0.05);
}

TEST(OccupiedBandwidth, OfTheVideoEmissionsIsWithinCarsonsRule) {
    EXPECT_LE(occupied_bandwidth(testing::emission("fm-video").density),
              necessary_bandwidth_fm(6'500_kHz, 4_MHz));
    EXPECT_LE(occupied_bandwidth(testing::emission("fm-video-wide").density),
              necessary_bandwidth_fm(6'500_kHz, 6_MHz));
}

}  // namespace
}  // namespace fieldpeg::spectrum
