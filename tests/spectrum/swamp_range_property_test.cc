#include "server/spectrum/swamp_range.h"

#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <optional>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::chance;
using testing::for_all;

struct Pair {
    Transmitter transmitter;
    Receiver receiver;
    ReceiverProfile profile;

    /// What gets in when the receiver stands so far off, in its own direction.
    Dbm arriving(double distance_m) const {
        const auto& from = std::get<Point>(transmitter.at);
        auto moved = receiver;
        const double away = std::hypot(moved.at.x_m - from.x_m, moved.at.y_m - from.y_m);
        moved.at.x_m = from.x_m + (moved.at.x_m - from.x_m) / away * distance_m;
        moved.at.y_m = from.y_m + (moved.at.y_m - from.y_m) / away * distance_m;
        return transmitter.power + unwanted_gain(transmitter, moved, Geometry::closest) -
               front_end_loss(profile, transmitter.frequency);
    }
};

Pair random_pair(std::mt19937_64& rng) {
    const Point mast{between(rng, -50, 50), between(rng, -50, 50), between(rng, 0.5, 8)};
    const Point stands{between(rng, -50, 50), between(rng, -50, 50), 1.7};
    const Hertz frequency = chance(rng, 80) ? 5'800_MHz : 1'280_MHz;
    return {{0, frequency, Dbm(between(rng, 20, 48)), testing::random_antenna(rng), 0.5_dB, mast},
            {0, std::nullopt, testing::random_antenna(rng), 0.5_dB, stands},
            testing::receiver("fm-video-5g8")};
}

// At the range it is swamped; whoever stands farther off, up to where nobody looks, is not.
TEST(SwampRange, IsTheFarthestDistanceAtWhichItIsSwamped) {
    int found = 0;
    for_all(300, [&](std::mt19937_64& rng) {
        const auto p = random_pair(rng);
        const auto range = swamp_range(p.transmitter, p.receiver, p.profile);
        double outside_m = 0.3;
        if (range) {
            ++found;
            EXPECT_GE(p.arriving(range->count()), p.profile.p1db);
            outside_m = range->count() * 1.0101;
        }
        for (double d = outside_m; d < swamp_farthest.count(); d *= 1.07)
            EXPECT_LT(p.arriving(d), p.profile.p1db) << d << " m";
    });
    EXPECT_GT(found, 50);
    EXPECT_LT(found, 290);
}

TEST(SwampRange, IsNotToldIfItIsNoFartherThanAskedFor) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto p = random_pair(rng);
        const auto range = swamp_range(p.transmitter, p.receiver, p.profile);
        if (!range) return;
        EXPECT_FALSE(swamp_range(p.transmitter, p.receiver, p.profile, *range));
        EXPECT_EQ(swamp_range(p.transmitter, p.receiver, p.profile, 0.9 * *range), range);
    });
}

TEST(SwampRange, IsNoneOfSomethingThatFlies) {
    std::mt19937_64 rng(1);
    auto p = random_pair(rng);
    p.transmitter.at = testing::random_envelope(rng);
    EXPECT_FALSE(swamp_range(p.transmitter, p.receiver, p.profile));
}

// In free space a level falls to what a receiver stands at lambda / (4 pi) 10^((p + gains - P1dB) /
// 20): 0.7 m for 25 mW, 2.1 m for 200 mW, 3.6 m for 600 mW between omnis of 1.2 dB with half a
// decibel of cable each, P1dB -29.6 dBm, on 5800 MHz. Derived.
TEST(SwampRange, IsThatOfFreeSpaceBetweenOmnis) {
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    const Receiver beside{0, std::nullopt, omni, 0.5_dB, {5, 0, 1.7}};
    const auto range_m = [&](double mw) {
        const Transmitter mast{0, 5'800_MHz, dbm(mw), omni, 0.5_dB, Point{0, 0, 1.7}};
        return swamp_range(mast, beside, testing::receiver("fm-video-5g8")).value().count();
    };
    EXPECT_NEAR(range_m(25), 0.730, 0.008);  // known to 1 %
    EXPECT_NEAR(range_m(200), 2.064, 0.021);
    EXPECT_NEAR(range_m(600), 3.575, 0.036);
}

}  // namespace
}  // namespace fieldpeg::spectrum
