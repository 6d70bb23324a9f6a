#include "server/spectrum/reach.h"

#include "server/spectrum/margin.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::for_all;

/// One pilot alone in the air, far enough out to be too far one time in two.
Scene alone(std::mt19937_64& rng) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    const Envelope area{0, between(rng, 0, 200), between(rng, 20, 200), 5, between(rng, 5, 80)};
    scene.transmitters.push_back({0, 5'800_MHz, Dbm(between(rng, 5, 30)), omni, 0.5_dB, area});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 1.7}});
    return scene;
}

Decibel range_margin_of(const Scene& scene) {
    return range_margin((*assess(scene)[0])[0], scene.profiles[0]);
}

Reach reach_of(const Scene& scene) {
    return reach(scene.transmitters[0], scene.receivers[0], scene.profiles[0]);
}

// A picture that is good enough at its weakest reaches that point; one that is not does not.
TEST(Reach, IsTheRimOfOneWhoIsNotTooFar) {
    int in_range = 0;
    for_all(60, [&](std::mt19937_64& rng) {
        const auto scene = alone(rng);
        const auto [picture, rim] = reach_of(scene);
        if (range_margin_of(scene) >= 0_dB) {
            EXPECT_NEAR(picture.count(), rim.count(), 1e-9);
            ++in_range;
        } else {
            EXPECT_LT(picture, rim);
        }
    });
    EXPECT_GT(in_range, 5);
    EXPECT_LT(in_range, 55);
}

// The weakest point lies in the far half of the rim.
TEST(Reach, GoesTowardsTheFarHalf) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto scene = alone(rng);
        const auto& area = std::get<Envelope>(scene.transmitters[0].at);
        const double rim_m = reach_of(scene).rim.count();
        EXPECT_GE(rim_m, area.y_m - 1e-9);
        EXPECT_LE(rim_m, area.y_m + area.radius_m + 1e-9);
    });
}

TEST(Reach, GrowsWithThePower) {
    for_all(60, [](std::mt19937_64& rng) {
        auto scene = alone(rng);
        const auto before = reach_of(scene).picture;
        scene.transmitters[0].power = scene.transmitters[0].power + Decibel(between(rng, 0, 10));
        EXPECT_GE(reach_of(scene).picture, before);
    });
}

// 6 dB more in free space is twice as far: lengths well before the ground reflection counts.
TEST(Reach, DoublesWithSixDecibels) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    const auto reach_at = [&](Dbm power) {
        return reach({0, 5'800_MHz, power, omni, 0.5_dB, Envelope{0, 200, 200, 5, 5}},
                     {0, 0, omni, 0.5_dB, {0, 0, 5}}, scene.profiles[0])
            .picture.count();
    };
    const double near_m = reach_at(8_dBm);
    ASSERT_GT(near_m, 20);
    ASSERT_LT(near_m, 190);
    EXPECT_NEAR(reach_at(14.0206_dBm) / near_m, 2, 0.03);
}

// A receiver tuned to something outside its front end loses that much of the picture's reach too.
TEST(Reach, CountsTheFrontEndLikeTheMarginDoes) {
    for_all(60, [](std::mt19937_64& rng) {
        auto scene = alone(rng);
        scene.profiles[0].front_end_low = 5'850_MHz;
        if (range_margin_of(scene) < -10_dB) {
            EXPECT_LT(reach_of(scene).picture.count(), reach_of(scene).rim.count())
                << "though " << range_margin_of(scene).count() << " dB are missing at the rim";
        }
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
