#include "server/spectrum/link.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"
#include "tests/published/field.h"

#include <gtest/gtest.h>

/// What everybody knows of flying far on 1.3 GHz. Common practice, no published source.
namespace fieldpeg::spectrum {
namespace {

using testing::Field;
using testing::upright;

const Dbm milliwatts_800 = dbm(800);

/// A flight on 1.3 GHz, out at `distance_m`, watched by an antenna 3 m up.
Standing long_range(double distance_m, const Antenna& antenna) {
    Field field;
    const Envelope out{0, distance_m, 100, 100, 150};
    field.add(1280_MHz, milliwatts_800, out, {0, 0, 3}, "fm-video", "fm-video-1g3",
              upright("vertical-omni-1g3"), antenna);
    return field.standing(0);
}

// [common practice] Comfortably: six decibels of fading and three of tilt are already taken off.
TEST(Trade, EightHundredMilliwattsOn1280ReachFourKilometresWithAnOmni) {
    for (const double distance_m : {3000.0, 4000.0})
        EXPECT_GT(long_range(distance_m, upright("vertical-omni-1g3")).alone, 0_dB) << distance_m;
}

/// C/N above watchable of an aircraft `distance_m` out and `height_m` up, upright, nothing taken
/// off for fading and tilt.
Decibel bare_margin(const Antenna& antenna, double distance_m, double height_m) {
    const auto profile = testing::receiver("fm-video-1g3");
    const End aircraft{
        upright("vertical-omni-1g3"), testing::cable, {0, distance_m, height_m}, true};
    const End ground{antenna, testing::cable, {0, 0, 3}, false};
    const Dbm received = milliwatts_800 + link_gain(aircraft, ground, 1280_MHz, Role::unwanted);
    return received - noise_power(noise_bandwidth(profile.selectivity), profile.noise_figure) -
           profile.watchable;
}

// [common practice]
TEST(Trade, AWidePanelReachesTensOfKilometresIfTheAircraftClimbsWithDistance) {
    const auto panel = upright("wide-panel");
    EXPECT_GT(bare_margin(panel, 10'000, 150), 0_dB);
    EXPECT_GT(bare_margin(panel, 20'000, 300), 0_dB);
    EXPECT_GT(bare_margin(panel, 30'000, 500), 0_dB);
    EXPECT_LT(bare_margin(panel, 30'000, 100), 0_dB);  // staying low it does not
}

// [common practice] High and near, but not overhead: there a vertical antenna has its own blind
// spot.
TEST(Trade, AWidePanelSeesFartherThanAnOmniAndLessOfAnAircraftHighAndNear) {
    const auto panel = upright("wide-panel");
    const auto omni = upright("vertical-omni-1g3");
    EXPECT_GT(bare_margin(panel, 20'000, 300), bare_margin(omni, 20'000, 300) + 5_dB);
    for (const double height_m : {120.0, 150.0, 200.0})  // 21 to 45 degrees up
        for (const double distance_m : {200.0, 300.0})
            EXPECT_LT(bare_margin(panel, distance_m, height_m),
                      bare_margin(omni, distance_m, height_m))
                << distance_m << " m out, " << height_m << " m up";
}

}  // namespace
}  // namespace fieldpeg::spectrum
