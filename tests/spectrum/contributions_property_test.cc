#include "server/spectrum/contributions.h"

#include "server/spectrum/intermodulation.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/rejection.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstddef>
#include <functional>
#include <set>
#include <utility>
#include <vector>

/// The terms of an interference, one by one.
namespace fieldpeg::spectrum {
namespace {

using testing::Assessed;
using testing::Channels;
using testing::for_all;
using testing::random_scene;

constexpr std::size_t all_of_them = 10'000;

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(testing::whole(rng, 0, static_cast<int>(size) - 1));
}

std::vector<Contribution> terms(Assessed& day, std::size_t v, Geometry geometry, std::size_t most) {
    return contributions(day.scene, day.links, day.tables, v, geometry, most);
}

Channels some_channels(std::mt19937_64& rng) {
    return testing::one_of(rng, {Channels::one_band, Channels::fine, Channels::three_bands});
}

TEST(Contributions, AddUpToTheInterference) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed day(random_scene(rng, some_channels(rng), 6));
        const auto& scene = day.scene;
        const auto v = someone(rng, scene.receivers.size());
        const auto& reception = day.receptions[v];
        if (!reception) return;
        for (const auto geometry : geometries) {
            const double whole_mw = reception->budget(geometry).interference_mw();
            double sum_mw = 0;
            for (const auto& c : terms(day, v, geometry, all_of_them))
                sum_mw += milliwatts(c.level);
            EXPECT_NEAR(sum_mw, whole_mw, 1e-9 * whole_mw);
            for (const std::size_t most : {std::size_t{0}, std::size_t{1}, std::size_t{4}}) {
                const auto some = terms(day, v, geometry, most);
                EXPECT_LE(some.size(), most);
                double part_mw = 0;
                for (const auto& c : some) part_mw += milliwatts(c.level);
                EXPECT_LE(part_mw, whole_mw * (1 + 1e-9));
            }
        }
    });
}

// The first few of a long list and a short list are the same, strongest first, each named once.
TEST(Contributions, AreTheStrongestInOrder) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed day(random_scene(rng, some_channels(rng), 7));
        const auto& scene = day.scene;
        const auto v = someone(rng, scene.receivers.size());
        if (!scene.receivers[v].hears) return;
        const auto all = terms(day, v, Geometry::usual, all_of_them);
        EXPECT_TRUE(std::ranges::is_sorted(all, std::greater<>{}, &Contribution::level));
        std::set<std::pair<Contribution::Kind, std::vector<std::size_t>>> named;
        for (const auto& c : all) {
            auto from = c.from;
            if (from.size() == 3 && from[0] > from[1]) std::swap(from[0], from[1]);
            EXPECT_TRUE(named.emplace(c.kind, from).second);
            EXPECT_EQ(std::set<std::size_t>(from.begin(), from.end()).size(), from.size());
        }
        const auto few = terms(day, v, Geometry::usual, 5);
        ASSERT_EQ(few.size(), std::min<std::size_t>(5, all.size()));
        for (std::size_t i = 0; i < few.size(); ++i)
            EXPECT_NEAR(few[i].level.count(), all[i].level.count(), 1e-6) << "number " << i;
    });
}

// The same where several share each channel, so that one product has many makers.
TEST(Contributions, AreTheStrongestWhereChannelsAreShared) {
    for_all(60, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::one_band, 8);
        for (auto& transmitter : scene.transmitters)
            transmitter.frequency = testing::one_of(rng, {5'732_MHz, 5'769_MHz, 5'806_MHz});
        Assessed day(scene);
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            if (!scene.receivers[v].hears) continue;
            const auto all = terms(day, v, Geometry::usual, all_of_them);
            for (const std::size_t most : {std::size_t{5}, std::size_t{8}, std::size_t{12}}) {
                const auto few = terms(day, v, Geometry::usual, most);
                ASSERT_EQ(few.size(), std::min(most, all.size()));
                for (std::size_t i = 0; i < few.size(); ++i)
                    EXPECT_NEAR(few[i].level.count(), all[i].level.count(), 1e-6)
                        << "number " << i << " of " << most;
            }
        }
    });
}

TEST(Contributions, SayWhereAProductFallsAndWhoMakesIt) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed day(random_scene(rng, some_channels(rng), 6));
        const auto& scene = day.scene;
        const auto v = someone(rng, scene.receivers.size());
        const auto hears = scene.receivers[v].hears;
        if (!hears) return;
        const auto f = [&](std::size_t t) { return scene.transmitters[t].frequency; };
        for (const auto& c : terms(day, v, Geometry::closest, 200)) {
            const bool in_transmitter = c.kind == Contribution::Kind::transmitter_product;
            for (std::size_t i = 0; i < c.from.size(); ++i)
                EXPECT_TRUE(c.from[i] != *hears || (in_transmitter && i == 0));
            if (c.kind == Contribution::Kind::harmonic) {
                ASSERT_EQ(c.from.size(), 1u);
                EXPECT_TRUE(c.product == 2 * f(c.from[0]) || c.product == 3 * f(c.from[0]));
                continue;
            }
            ASSERT_EQ(c.product.has_value(), c.from.size() > 1);
            if (!c.product) continue;
            EXPECT_EQ(*c.product,
                      c.from.size() == 2
                          ? two_signal_frequency(f(c.from[0]), f(c.from[1]))
                          : three_signal_frequency(f(c.from[0]), f(c.from[1]), f(c.from[2])));
        }
    });
}

// Called co-channel while the rejection is below 3 dB.
TEST(Contributions, AreCoChannelBelowThreeDecibelsOfRejection) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed day(random_scene(rng, Channels::one_band, 5));
        const auto& scene = day.scene;
        const auto v = someone(rng, scene.receivers.size());
        if (!scene.receivers[v].hears) return;
        const auto& selectivity = scene.profiles[scene.receivers[v].profile].selectivity;
        const Hertz tuned = scene.transmitters[*scene.receivers[v].hears].frequency;
        for (const auto& c : terms(day, v, Geometry::usual, 100)) {
            if (c.from.size() != 1 || c.product) continue;
            const auto& t = scene.transmitters[c.from[0]];
            const auto fdr = frequency_dependent_rejection(
                scene.emissions[t.emission].density, selectivity, distance(t.frequency, tuned));
            EXPECT_EQ(c.kind == Contribution::Kind::burst, t.hops.has_value());
            if (t.hops) continue;
            EXPECT_EQ(c.kind,
                      fdr < 3_dB ? Contribution::Kind::co_channel : Contribution::Kind::adjacent)
                << fdr.count() << " dB";
        }
    });
}

// Everything at a front end, one by one, is what blocks it.
TEST(FrontEndSignals, AddUpToTheBlockers) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed day(random_scene(rng, some_channels(rng), 6));
        const auto& scene = day.scene;
        const auto v = someone(rng, scene.receivers.size());
        const auto& reception = day.receptions[v];
        if (!reception) return;
        for (const auto geometry : geometries) {
            const auto at_most = [&](std::size_t most) {
                return front_end_signals(scene, day.links, day.tables, v, geometry, most);
            };
            const auto signals = at_most(all_of_them);
            EXPECT_TRUE(std::ranges::is_sorted(signals, std::greater<>{}, &FrontEndSignal::level));
            const auto spares = std::ranges::count_if(scene.transmitters, [&](const auto& t) {
                return t.spares == scene.receivers[v].owner;
            });
            EXPECT_EQ(signals.size() + static_cast<std::size_t>(spares),
                      scene.transmitters.size() - 1);
            double sum_mw = 0;
            for (const auto& signal : signals) {
                EXPECT_NE(signal.transmitter, *scene.receivers[v].hears);
                sum_mw += milliwatts(signal.level);
            }
            const auto& blockers = reception->budget(geometry).blockers;
            ASSERT_EQ(blockers.has_value(), !signals.empty());
            if (blockers) {
                EXPECT_NEAR(dbm(sum_mw).count(), blockers->count(), 1e-9);
            }
            EXPECT_LE(at_most(2).size(), 2u);
        }
    });
}

// On the air in one of a hundred moments it counts a tenth of what it is, and is on the channel all
// the same.
TEST(Contributions, AreCoChannelHoweverRare) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    for (int i = 0; i < 2; ++i)
        scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0.5_dB, Point{0, 50, 10}, 0.01});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 1.7}});
    Assessed day(scene);
    const auto list = terms(day, 0, Geometry::usual, 10);
    ASSERT_FALSE(list.empty());
    EXPECT_EQ(list[0].kind, Contribution::Kind::co_channel);
}

TEST(FifthOrder, IsListedNearestFirst) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    for (const Hertz frequency : {5'700_MHz, 5'740_MHz, 5'760_MHz})
        scene.transmitters.push_back({0, frequency, 14_dBm, omni, 0.5_dB, Point{0, 50, 10}});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 1.7}});
    const auto list = fifth_order(scene, 0, 10);
    ASSERT_EQ(list.size(), 1u);  // 3 x 5740 - 2 x 5760 = 5700; 3 x 5760 - 2 x 5740 = 5800 is far
    EXPECT_EQ(list[0].a, 1u);
    EXPECT_EQ(list[0].b, 2u);
    EXPECT_EQ(list[0].product, 5'700_MHz);
    EXPECT_EQ(list[0].offset, 0_Hz);
    EXPECT_TRUE(fifth_order(scene, 0, 0).empty());
    auto sparing = scene;
    sparing.transmitters[2].spares = scene.receivers[0].owner;
    EXPECT_TRUE(fifth_order(sparing, 0, 10).empty());  // silent while these goggles listen
    auto hopping = scene;
    hopping.transmitters[1].hops = HopBand{5'730_MHz, 5'750_MHz};
    EXPECT_TRUE(fifth_order(hopping, 0, 10).empty());  // forms no products
}

}  // namespace
}  // namespace fieldpeg::spectrum
