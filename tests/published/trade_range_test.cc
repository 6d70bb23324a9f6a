#include "tests/published/field.h"

#include <gtest/gtest.h>

/// What everybody knows of how far a picture reaches. Common practice, no published source.
namespace fieldpeg::spectrum {
namespace {

using testing::circular;
using testing::eye_m;
using testing::Field;
using testing::upright;

const Dbm milliwatts_25 = dbm(25);
const Dbm milliwatts_200 = dbm(200);
const Dbm milliwatts_600 = dbm(600);
const Dbm milliwatts_800 = dbm(800);

/// How one who is alone on the air stands.
Standing alone(Dbm power, const Envelope& area, const Antenna& goggles) {
    Field field;
    field.add(5800_MHz, power, area, {0, 0, eye_m}, "fm-video", "fm-video-5g8",
              circular("circular-omni"), goggles);
    return field.standing(0);
}

/// The radius of the largest circle around the pilot, 3 to 40 m high, that can be flown.
struct Radius {
    double good_m, usable_m;
};
Radius radius(Dbm power) {
    Radius found{0, 0};
    for (double r = 10; r < 5000; r *= 1.01) {
        const auto s = alone(power, {0, 0, r, 3, 40}, circular("circular-omni"));
        if (s.alone_good >= 0_dB) found.good_m = r;
        if (s.alone_usable >= 0_dB) found.usable_m = r;
    }
    return found;
}

// [common practice] Omni to omni on 5.8 GHz: 25 mW 150 to 300 m, 200 mW half a kilometre to one,
// 600 mW one to two. A good flight lies within, and to about twice as far it is still to be flown.
TEST(Trade, OmniToOmniReachesWhatEverybodySays) {
    const auto expect = [](Dbm power, double from_m, double to_m) {
        const auto [good_m, usable_m] = radius(power);
        EXPECT_GE(good_m, from_m);
        EXPECT_LE(good_m, to_m);
        EXPECT_GE(usable_m, 1.5 * good_m);
        EXPECT_LE(usable_m, 2.5 * good_m);
    };
    expect(milliwatts_25, 150, 300);
    expect(milliwatts_200, 500, 1000);
    expect(milliwatts_600, 1000, 2000);
}

// [common practice] 180 m out on 25 mW the picture flickers at the worst.
TEST(Trade, TwentyFiveMilliwattsAreNotTooFarAt180Metres) {
    EXPECT_LE(verdict(alone(milliwatts_25, {0, 0, 180, 3, 40}, circular("circular-omni"))),
              Verdict::patchy);
    EXPECT_LE(verdict(alone(milliwatts_25, {0, 100, 80, 3, 40}, circular("circular-omni"))),
              Verdict::patchy);
}

// [common practice] A few circles overhead are within anybody's range, blind spot or not.
TEST(Trade, TwentyFiveMilliwattsAreNotTooFarInASmallCircleAbove) {
    for (const double radius_m : {10.0, 20.0, 40.0})
        for (const double top_m : {20.0, 40.0})
            EXPECT_NE(
                range(alone(milliwatts_25, {0, 0, radius_m, 3, top_m}, circular("circular-omni"))),
                Range::too_far)
                << radius_m << " m around, to " << top_m << " m";
}

// [common practice] 25 mW are to be seen out to 400 or 500 m, and nobody would race there.
TEST(Trade, TwentyFiveMilliwattsAreUsableTo400Or500Metres) {
    const auto out_to = [](double metres) {
        return alone(milliwatts_25, {0, metres / 2, metres / 2, 3, 40}, circular("circular-omni"));
    };
    EXPECT_EQ(verdict(out_to(400)), Verdict::patchy);
    EXPECT_LT(out_to(400).alone_good, -3_dB);
    EXPECT_EQ(verdict(out_to(500)), Verdict::too_far);
}

// [common practice] A patch doubles the range of what is in front of it, roughly; behind it there
// is less than with an omni.
TEST(Trade, APatchDoublesTheRangeInFront) {
    const auto patch = circular("circular-patch"), omni = circular("circular-omni");
    const auto margin = [](const Antenna& goggles, double y_m) {
        return alone(milliwatts_25, {0, y_m, 100, 3, 40}, goggles).alone_good;
    };
    EXPECT_GT(margin(patch, 250), margin(omni, 250) + 4_dB);
    EXPECT_LT(margin(patch, -250), margin(omni, -250));
    EXPECT_GE(margin(patch, 250), 0_dB);  // 150 to 350 m out
    EXPECT_LT(margin(omni, 250), 0_dB);
}

/// A flight on 1.3 GHz around a place `distance_m` out and `height_m` up, watched by an antenna 3 m
/// up, everything counted: null, tilt and fading.
Standing long_range(const Antenna& antenna, double distance_m, double height_m) {
    Field field;
    const Envelope out{0, distance_m, 50, height_m - 10, height_m + 10};
    field.add(1280_MHz, milliwatts_800, out, {0, 0, 3}, "fm-video", "fm-video-1g3",
              upright("vertical-omni-1g3"), antenna);
    return field.standing(0);
}

// [common practice] Comfortably: with a good flight and some decibels left.
TEST(Trade, EightHundredMilliwattsOn1280ReachFourKilometresWithAnOmni) {
    for (const double distance_m : {3000.0, 4000.0})
        EXPECT_GT(long_range(upright("vertical-omni-1g3"), distance_m, 120).alone_good, 3_dB)
            << distance_m;
}

// [common practice]
TEST(Trade, AWidePanelReachesTensOfKilometresIfTheAircraftClimbsWithDistance) {
    const auto panel = upright("wide-panel");
    EXPECT_GE(long_range(panel, 10'000, 150).alone_good, 0_dB);
    EXPECT_GE(long_range(panel, 20'000, 300).alone_usable, 0_dB);
    EXPECT_LT(long_range(panel, 20'000, 60).alone_usable, 0_dB);  // staying low it does not
}

// [common practice] Some 165 degrees wide: over most of the half before it a panel sees farther.
TEST(Trade, AWidePanelSeesFartherThanAnOmniOverMostOfTheHalfBeforeIt) {
    const auto omni = upright("vertical-omni-1g3");
    for (const double off_deg : {-80.0, -40.0, 0.0, 40.0, 80.0}) {
        auto panel = upright("wide-panel");
        panel.azimuth = Degrees(off_deg);
        EXPECT_GT(long_range(panel, 10'000, 150).alone_good,
                  long_range(omni, 10'000, 150).alone_good + 3_dB)
            << off_deg;
    }
    auto turned_away = upright("wide-panel");
    turned_away.azimuth = 180_deg;
    EXPECT_LT(long_range(turned_away, 10'000, 150).alone_good,
              long_range(omni, 10'000, 150).alone_good);
}

// [common practice] High and near, but not overhead: there a vertical antenna has its own blind
// spot.
TEST(Trade, AWidePanelSeesLessThanAnOmniOfAnAircraftHighAndNear) {
    for (const double height_m : {120.0, 150.0, 200.0})  // 21 to 45 degrees up
        for (const double distance_m : {200.0, 300.0})
            EXPECT_LT(long_range(upright("wide-panel"), distance_m, height_m).alone_good,
                      long_range(upright("vertical-omni-1g3"), distance_m, height_m).alone_good)
                << distance_m << " m out, " << height_m << " m up";
}

}  // namespace
}  // namespace fieldpeg::spectrum
