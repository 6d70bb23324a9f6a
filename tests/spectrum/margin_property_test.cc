#include "server/spectrum/margin.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::Channels;
using testing::for_all;
using testing::random_scene;
using testing::whole;

constexpr double rounding_db = 1e-9;

const Budget& budget(const std::vector<Budgets>& all, std::size_t v, Geometry geometry) {
    return (*all[v])[static_cast<std::size_t>(geometry)];
}

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(whole(rng, 0, static_cast<int>(size) - 1));
}

Channels some_channels(std::mt19937_64& rng) {
    return testing::one_of(rng, {Channels::one_band, Channels::fine, Channels::three_bands});
}

// Section 7 of docs/model.md, written down once more.
TEST(Margins, AreTheThreeNumbersOfTheModel) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto scene = random_scene(rng, some_channels(rng), 5);
        const auto all = assess(scene);
        for (std::size_t v = 0; v < all.size(); ++v) {
            if (!all[v]) continue;
            const auto& profile = scene.profiles[scene.receivers[v].profile];
            const auto& b = budget(all, v, Geometry::worst);
            const double n_dbm = -113.975 +
                                 decibel(mhz(noise_bandwidth(profile.selectivity))).count() +
                                 profile.noise_figure.count();
            EXPECT_NEAR(b.noise.count(), n_dbm, 0.001);
            const double d_db = b.blockers ? desensitisation(*b.blockers, profile.iip3).count() : 0;
            const double cni_db = b.wanted.count() - d_db -
                                  dbm(milliwatts(b.noise) + b.adjacent_mw + b.receiver_product_mw +
                                      b.transmitter_product_mw)
                                      .count();
            const auto m = margins(b, profile, Demand::watchable);
            EXPECT_NEAR(m.noise_and_interference.count(), cni_db - profile.watchable.count(),
                        rounding_db);
            EXPECT_EQ(m.closeness, profile.strongest_wanted - b.wanted_strongest);
            double least = std::min(m.noise_and_interference, m.closeness).count();
            ASSERT_EQ(m.swamping.has_value(), b.blockers.has_value());
            if (m.swamping) {
                EXPECT_EQ(*m.swamping, profile.p1db - *b.blockers);
                least = std::min(least, m.swamping->count());
            }
            EXPECT_EQ(m.least.count(), least);
            EXPECT_LE(margins(b, profile, Demand::sharp).least, m.least);
        }
    });
}

// Each of the three may be the one that rules.
TEST(Margins, AreRuledByTheLeast) {
    const auto profile = testing::receiver("ofdm-20-5g8");  // P1dB -27, at most -20 dBm of its own
    Budget b{-60_dBm, -50_dBm, -94_dBm, 0_dB, -80_dBm};
    const auto least = [&] { return margins(b, profile, Demand::watchable).least.count(); };
    EXPECT_NEAR(least(), -60 + 94 - 10, 1e-9);
    b.blockers = -30_dBm;
    EXPECT_NEAR(least(), -27 + 30, 1e-9);
    b.wanted_strongest = -19_dBm;
    EXPECT_NEAR(least(), -20 + 19, 1e-9);
    b.blockers.reset();
    EXPECT_NEAR(least(), -20 + 19, 1e-9);
    EXPECT_FALSE(margins(b, profile, Demand::sharp).swamping);
    b.adjacent_mw = milliwatts(-50_dBm);
    EXPECT_NEAR(least(), -60 + 50 - 10, 0.001);
}

TEST(RangeMargin, IsTheMarginWhenNobodyElseIsOnTheAir) {
    for_all(40, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::one_band, 4);
        const auto v = someone(rng, scene.receivers.size());
        if (!scene.receivers[v].hears) return;
        const auto& profile = scene.profiles[scene.receivers[v].profile];
        const auto crowded = range_margin(budget(assess(scene), v, Geometry::ref), profile);
        const auto own = scene.transmitters[*scene.receivers[v].hears];
        auto listens = scene.receivers[v];
        listens.hears = 0;
        scene.transmitters = {own};
        scene.receivers = {listens};
        const auto assessed = assess(scene);
        const auto& alone = budget(assessed, 0, Geometry::ref);
        EXPECT_FALSE(alone.blockers);
        EXPECT_NEAR(margins(alone, profile, Demand::watchable).noise_and_interference.count(),
                    crowded.count(), rounding_db);
    });
}

// More than its front end stands, or desensitised by more than noise and interference cost.
TEST(Swamped, IsOneWhoseFrontEndIsTheTrouble) {
    const auto profile = testing::receiver("fm-video-5g8");  // P1dB -29.6 dBm
    Budget b{-60_dBm, -50_dBm, -94.4_dBm, {}, std::nullopt};
    EXPECT_FALSE(is_swamped(b, profile));
    b.blockers = -29.5_dBm;
    EXPECT_TRUE(is_swamped(b, profile));
    b.blockers = -31_dBm;
    b.desensitisation = 2_dB;
    EXPECT_TRUE(is_swamped(b, profile));
    b.adjacent_mw = milliwatts(b.noise);  // costs 3 dB
    EXPECT_FALSE(is_swamped(b, profile));
}

// A receiver tuned to something outside its front end loses the wanted signal there too.
TEST(Budget, LosesTheWantedSignalOutsideTheFrontEnd) {
    auto profile = testing::receiver("fm-video-5g8");
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles = {profile, profile};
    scene.profiles[1].front_end_low = 5'850_MHz;
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0.5_dB, Envelope{0, 80, 50, 3, 40}});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 1.7}});
    scene.receivers.push_back({1, 0, omni, 0.5_dB, {0, 0, 1.7}});
    const auto all = assess(scene);
    EXPECT_NEAR(
        (budget(all, 0, Geometry::ref).wanted - budget(all, 1, Geometry::ref).wanted).count(),
        profile.front_end_rejection.count(), rounding_db);
}

// --- section 9 of docs/model.md: what a search may rest on

void expect_no_better(const Scene& scene, const std::vector<Budgets>& before,
                      const std::vector<Budgets>& after, std::optional<std::size_t> raised) {
    for (std::size_t v = 0; v < before.size(); ++v) {
        if (!before[v] || scene.receivers[v].hears == raised) continue;
        const auto& profile = scene.profiles[scene.receivers[v].profile];
        for (const auto geometry : geometries)
            for (const auto demand : {Demand::watchable, Demand::sharp})
                EXPECT_LE(margins(budget(after, v, geometry), profile, demand).least.count(),
                          margins(budget(before, v, geometry), profile, demand).least.count() +
                              rounding_db)
                    << "receiver " << v;
    }
}

TEST(Assess, NeverRaisesAMarginByOneTransmitterMore) {
    for_all(60, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, some_channels(rng), 5);
        const auto before = assess(scene);
        const auto other = random_scene(rng, Channels::one_band, 2);
        scene.transmitters.push_back(other.transmitters[0]);
        scene.transmitters.back().emission = 0;
        expect_no_better(scene, before, assess(scene), std::nullopt);
    });
}

TEST(Assess, NeverRaisesAnotherMarginByMorePower) {
    for_all(60, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, some_channels(rng), 5);
        const auto before = assess(scene);
        const auto t = someone(rng, scene.transmitters.size());
        auto& power = scene.transmitters[t].power;
        power = power + Decibel(between(rng, 0, 15));
        expect_no_better(scene, before, assess(scene), t);
    });
}

// Until its own signal is too strong, a receiver gains decibel by decibel with its own transmitter.
TEST(Assess, RaisesTheOwnMarginWithTheOwnPower) {
    for_all(40, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::one_band, 5);
        const auto v = someone(rng, scene.receivers.size());
        if (!scene.receivers[v].hears) return;
        const auto& profile = scene.profiles[scene.receivers[v].profile];
        const auto ratio = [&] {
            return margins(budget(assess(scene), v, Geometry::ref), profile, Demand::watchable)
                .noise_and_interference;
        };
        const auto before = ratio();
        auto& power = scene.transmitters[*scene.receivers[v].hears].power;
        power = power + 4_dB;
        EXPECT_NEAR((ratio() - before).count(), 4, rounding_db);
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
