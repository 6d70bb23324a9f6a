#include "server/spectrum/reach.h"

#include "server/spectrum/standing.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace fieldpeg::spectrum {
namespace {

using testing::Assessed;
using testing::between;
using testing::chance;
using testing::for_all;

constexpr double one_percent = 1.0101;

/// A pilot in the air, with another somewhere near.
Scene two(std::mt19937_64& rng) {
    Scene scene;
    const bool digital = chance(rng, 30);
    scene.emissions.push_back(testing::emission(digital ? "ofdm-20" : "fm-video"));
    scene.profiles.push_back(testing::receiver(digital ? "ofdm-20-5g8" : "fm-video-5g8"));
    if (digital) scene.profiles[0].strongest_wanted = -60_dBm;  // near it is often too much
    for (const Hertz frequency : {5'800_MHz, 5'837_MHz})
        scene.transmitters.push_back({0, frequency, Dbm(between(rng, -5, 30)),
                                      testing::random_antenna(rng), 0.5_dB,
                                      testing::random_envelope(rng)});
    scene.receivers.push_back({0, 0, testing::random_antenna(rng), 0.5_dB, {0, 0, 1.7}});
    scene.receivers[0].body = Decibel(chance(rng, 20) ? 10 : 0);
    return scene;
}

Direction random_direction(std::mt19937_64& rng) {
    return {Degrees(between(rng, -180, 180)), Metres(between(rng, 3, 100))};
}

Point out(const Direction& direction, const Point& from, double distance_m) {
    const double angle = direction.azimuth.count() * std::numbers::pi / 180;
    return {from.x_m + distance_m * std::sin(angle), from.y_m + distance_m * std::cos(angle),
            direction.height.count()};
}

/// Where somebody flies, how often they need the picture, and who else is there.
struct Asked {
    explicit Asked(std::mt19937_64& rng)
        : day(two(rng)),
          direction(random_direction(rng)),
          share(testing::one_of(rng, {0.98, 0.80})),
          air(testing::one_of(rng, {Air::usual, Air::alone})) {}

    std::optional<Reach> reach() const {
        return spectrum::reach(direction, transmitter(), receiver(), reception(), share, air);
    }
    Decibel margin_at(double distance_m) const {
        return margin_from(out(direction, receiver().at, distance_m), transmitter(), receiver(),
                           reception(), share, air);
    }
    const Transmitter& transmitter() const { return day.scene.transmitters[0]; }
    const Receiver& receiver() const { return day.scene.receivers[0]; }
    const Reception& reception() const { return *day.receptions[0]; }

    Assessed day;
    Direction direction;
    double share;
    Air air;
};

// A picture from one place is that of an area so small that it is one, fading and all.
TEST(MarginFrom, IsTheMarginOfAnAreaThatIsOnePlace) {
    for_all(60, [](std::mt19937_64& rng) {
        const Asked asked(rng);
        const double away_m = std::pow(10, between(rng, 0.5, 3.3));  // 3 m to 2 km
        const auto place = out(asked.direction, asked.receiver().at, away_m);
        auto scene = asked.day.scene;
        scene.transmitters[0].at = Envelope{place.x_m, place.y_m, 1e-6, place.z_m, place.z_m};
        const Assessed small(scene);
        for (const double share : {0.98, 0.80})
            EXPECT_NEAR(margin_from(place, asked.transmitter(), asked.receiver(), asked.reception(),
                                    share, asked.air)
                            .count(),
                        margin(*small.receptions[0], {Demand::watchable, share, asked.air}).count(),
                        1e-4);
    });
}

// Within the stretch the picture holds for its share, beyond it nowhere; nearer there is a gap.
TEST(Reach, IsTheOutermostStretchWithAPicture) {
    int found = 0, with_gap = 0;
    for_all(200, [&](std::mt19937_64& rng) {
        const Asked asked(rng);
        const auto reach = asked.reach();
        double beyond_m = 1;
        if (reach) {
            ++found;
            const double from = reach->from.count(), to = reach->to.count();
            EXPECT_LE(from, to);
            EXPECT_GE(asked.margin_at(to), 0_dB);
            for (double d = std::max(from, 1.0) * 1.02; d < to; d *= 1.03)
                EXPECT_GE(asked.margin_at(d), 0_dB) << d << " m";
            if (from > 0) {
                EXPECT_LT(asked.margin_at(from / one_percent), 0_dB);
                ++with_gap;
            }
            beyond_m = to * one_percent;
        }
        for (double d = beyond_m; d < reach_farthest.count(); d *= 1.05)
            EXPECT_LT(asked.margin_at(d), 0_dB) << d << " m";
    });
    EXPECT_GT(found, 50);
    EXPECT_GT(with_gap, 5);
}

TEST(Reach, GrowsWithThePowerAndIsFartherForAUsableFlight) {
    for_all(60, [](std::mt19937_64& rng) {
        Asked asked(rng);
        const auto to_m = [&](double share) {
            asked.share = share;
            const auto reach = asked.reach();
            return reach ? reach->to.count() : 0;
        };
        const double good_m = to_m(0.98), usable_m = to_m(0.80);
        EXPECT_GE(usable_m, good_m);
        auto louder = asked.day.scene;
        louder.transmitters[0].power = louder.transmitters[0].power + 6_dB;
        const Assessed day(louder);
        const auto reach =
            spectrum::reach(asked.direction, louder.transmitters[0], louder.receivers[0],
                            *day.receptions[0], 0.80, asked.air);
        if (usable_m > 0) {
            ASSERT_TRUE(reach);
            EXPECT_GE(reach->to.count(), usable_m);
        }
    });
}

// 6 dB more in free space is twice as far: lengths well before the ground reflection counts.
TEST(Reach, DoublesWithSixDecibels) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'800_MHz, 8_dBm, omni, 0.5_dB, Envelope{0, 200, 200, 5, 5}});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 5}});
    const auto reach_at = [&](Dbm power) {
        scene.transmitters[0].power = power;
        const Assessed day(scene);
        return reach({0_deg, 5_m}, day.scene.transmitters[0], day.scene.receivers[0],
                     *day.receptions[0], 0.98, Air::alone)
            .value()
            .to.count();
    };
    const double near_m = reach_at(8_dBm);
    ASSERT_GT(near_m, 20);
    ASSERT_LT(near_m, 300);
    EXPECT_NEAR(reach_at(14.0206_dBm) / near_m, 2, 0.03);
}

// A receiver tuned to something outside its front end loses that much of the picture's reach too,
// and one behind a body: 40 dB are a hundred times nearer, in free space.
TEST(Reach, CountsTheFrontEndAndTheBodyLikeTheMarginDoes) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back(
        {0, 5'800_MHz, 24_dBm, omni, 0.5_dB, Envelope{0, 200, 200, 40, 40}});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 40}});
    const auto reach_m = [](const Scene& of) {
        const Assessed day(of);
        return reach({0_deg, 40_m}, day.scene.transmitters[0], day.scene.receivers[0],
                     *day.receptions[0], 0.98, Air::alone)
            .value()
            .to.count();
    };
    const double as_it_is_m = reach_m(scene);
    auto outside = scene;
    outside.profiles[0].front_end_low = 5'850_MHz;
    EXPECT_NEAR(as_it_is_m / reach_m(outside), 100, 2);
    auto behind = scene;
    behind.receivers[0].body = 20_dB;
    EXPECT_NEAR(as_it_is_m / reach_m(behind), 10, 0.2);
}

// No point of the rim is farther over ground than the one that is named.
TEST(FarRim, IsTheFarthestPlaceOfTheRim) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto area = testing::random_envelope(rng);
        const auto from = testing::random_place(rng);
        const auto rim = far_rim(area, from);
        const auto at = out({rim.azimuth, 10_m}, from, rim.distance.count());
        EXPECT_NEAR(std::hypot(at.x_m - area.x_m, at.y_m - area.y_m), area.radius_m, 1e-6);
        for (int i = 0; i < 360; ++i) {
            const double a = i * std::numbers::pi / 180;
            EXPECT_LE(std::hypot(area.x_m + area.radius_m * std::sin(a) - from.x_m,
                                 area.y_m + area.radius_m * std::cos(a) - from.y_m),
                      rim.distance.count() + 1e-9);
        }
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
