#include "server/spectrum/relay_window.h"

#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <optional>
#include <utility>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::for_all;
using testing::random_scene_with_relay;

constexpr std::size_t relay = 0;
constexpr Dbm off{-300};
constexpr Decibel edge = 0.002_dB;  // twice what the bisection leaves open

using Link = std::pair<std::size_t, std::size_t>;  ///< the transmitter heard, Receiver::link

/// A scene at one power of the relay, judged receiver by receiver from its whole assessment.
class Judged {
public:
    Judged(Scene scene, Dbm power, Geometry geometry)
        : scene_(std::move(scene)), g_(static_cast<std::size_t>(geometry)) {
        scene_.transmitters[relay].power = power;
        budgets_ = assess(scene_);
    }

    Margins margin(std::size_t v, Demand demand) const {
        return margins((*budgets_[v])[g_], scene_.profiles[scene_.receivers[v].profile], demand);
    }
    std::vector<std::size_t> owners() const {
        std::vector<std::size_t> list;
        for (std::size_t v = 0; v < scene_.receivers.size(); ++v)
            if (scene_.receivers[v].hears == relay) list.push_back(v);
        return list;
    }
    /// Everybody else, those of one link together.
    std::map<Link, std::vector<std::size_t>> neighbours() const {
        std::map<Link, std::vector<std::size_t>> links;
        for (std::size_t v = 0; v < scene_.receivers.size(); ++v) {
            const auto& receiver = scene_.receivers[v];
            if (receiver.hears && *receiver.hears != relay)
                links[{*receiver.hears, receiver.link}].push_back(v);
        }
        return links;
    }
    /// The best margin of a link.
    Decibel watchable(const std::vector<std::size_t>& link) const {
        Decibel best(-1e9);
        for (const auto v : link) best = std::max(best, margin(v, Demand::watchable).least);
        return best;
    }
    bool is_sharp() const {
        return std::ranges::any_of(owners(), [&](std::size_t v) {
            const auto m = margin(v, Demand::sharp);
            return m.noise_and_interference >= 0_dB && m.swamping.value_or(0_dB) >= 0_dB;
        });
    }
    bool owner_is_overloaded() const {
        const auto own = owners();
        return !own.empty() && std::ranges::all_of(own, [&](std::size_t v) {
            return margin(v, Demand::watchable).closeness < 0_dB;
        });
    }

private:
    Scene scene_;
    std::size_t g_;
    std::vector<Budgets> budgets_;
};

/// Nobody who had a picture with the relay off lacks it now, nor is the owner overloaded.
bool harmless(const Scene& scene, Dbm power, Geometry geometry) {
    const Judged before(scene, off, geometry);
    const Judged after(scene, power, geometry);
    const Decibel none = 0_dB;  // clang 14 loses a consteval literal in a generic lambda
    return !after.owner_is_overloaded() &&
           std::ranges::all_of(before.neighbours(), [&](const auto& link) {
               return before.watchable(link.second) < none || after.watchable(link.second) >= none;
           });
}

Geometry either(std::mt19937_64& rng) {
    return testing::chance(rng, 50) ? Geometry::ref : Geometry::worst;
}

TEST(RelayWindow, BeginsWhereTheOwnersPictureTurnsSharp) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto geometry = either(rng);
        const auto window = relay_window(scene, relay, geometry);
        const auto sharp_at = [&](Dbm p) { return Judged(scene, p, geometry).is_sharp(); };
        if (!window.floor) {
            EXPECT_FALSE(sharp_at(relay_power_max));
            return;
        }
        EXPECT_TRUE(sharp_at(*window.floor));
        if (*window.floor > relay_power_min) {
            EXPECT_FALSE(sharp_at(*window.floor - edge));
        }
    });
}

TEST(RelayWindow, EndsWhereTheFirstOneSuffers) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto geometry = either(rng);
        const auto window = relay_window(scene, relay, geometry);
        ASSERT_TRUE(window.limited_by);
        if (!window.ceiling) {
            EXPECT_FALSE(harmless(scene, relay_power_min, geometry));
            return;
        }
        EXPECT_TRUE(harmless(scene, *window.ceiling, geometry));
        if (*window.ceiling < relay_power_max) {
            EXPECT_FALSE(harmless(scene, *window.ceiling + edge, geometry));
        } else {
            EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::range_end);
        }
    });
}

// The limit names a receiver that does lack something just above the ceiling.
TEST(RelayWindow, NamesWhoSuffersFirst) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto window = relay_window(scene, relay, Geometry::ref);
        ASSERT_TRUE(window.limited_by);
        ASSERT_EQ(window.limited_by->receiver.has_value(),
                  window.limited_by->kind != PowerLimit::Kind::range_end);
        if (!window.limited_by->receiver) return;
        const Judged above(scene, window.ceiling.value_or(relay_power_min) + edge, Geometry::ref);
        const auto m = above.margin(*window.limited_by->receiver, Demand::watchable);
        switch (window.limited_by->kind) {
            case PowerLimit::Kind::swamped:
                EXPECT_LT(m.swamping.value_or(0_dB), 0_dB);
                break;
            case PowerLimit::Kind::too_close:
                EXPECT_LT(m.closeness, 0_dB);
                break;
            default:
                EXPECT_LT(m.noise_and_interference, 0_dB);
        }
    });
}

TEST(RelayWindow, LeavesOutThoseWithoutAPictureBefore) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto geometry = either(rng);
        const Judged before(scene, off, geometry);
        std::vector<std::size_t> below;
        for (const auto& [heard, link] : before.neighbours())
            if (before.watchable(link) < 0_dB) below.insert(below.end(), link.begin(), link.end());
        std::ranges::sort(below);
        EXPECT_EQ(relay_window(scene, relay, geometry).below_before, below);
    });
}

// Digital goggles two metres from the relay: above -20 dBm they take no more.
TEST(RelayWindow, EndsWhereItsOwnGogglesAreOverloaded) {
    Scene scene;
    scene.emissions.push_back(testing::emission("ofdm-20"));
    scene.profiles.push_back(testing::receiver("ofdm-20-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0_dB, Point{0, 0, 1.7}});
    scene.receivers.push_back({0, relay, omni, 0_dB, {0, 2, 1.7}});
    const auto gain = unwanted_gain(scene.transmitters[0], scene.receivers[0], Geometry::ref);
    const auto window = relay_window(scene, relay, Geometry::ref);
    ASSERT_TRUE(window.ceiling && window.limited_by);
    EXPECT_NEAR((*window.ceiling + gain).count(), -20, 0.002);
    EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::too_close);
    EXPECT_EQ(window.limited_by->receiver, 0u);
    scene.receivers.push_back({0, relay, omni, 40_dB, {0, 2, 1.7}});  // has room left
    EXPECT_EQ(relay_window(scene, relay, Geometry::ref).limited_by->kind,
              PowerLimit::Kind::range_end);
}

TEST(RelayWindow, DoesNotMindThePowerOfTheScene) {
    for_all(10, [](std::mt19937_64& rng) {
        auto scene = random_scene_with_relay(rng, 3);
        const auto before = relay_window(scene, relay, Geometry::ref);
        scene.transmitters[relay].power = 30_dBm;
        const auto after = relay_window(scene, relay, Geometry::ref);
        EXPECT_EQ(before.floor, after.floor);
        EXPECT_EQ(before.ceiling, after.ceiling);
    });
}

TEST(PowerWindow, IsOpenWhereTheFloorIsNotAboveTheCeiling) {
    PowerWindow window;
    EXPECT_FALSE(window.is_open());
    window.floor = 10_dBm;
    EXPECT_FALSE(window.is_open());
    window.ceiling = 10_dBm;
    EXPECT_TRUE(window.is_open());
    window.ceiling = 9.9_dBm;
    EXPECT_FALSE(window.is_open());
    window.floor.reset();
    EXPECT_FALSE(window.is_open());
}

TEST(LeastNeighbourMargin, IsThatOfTheWorstLinkWithAPictureBefore) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto geometry = either(rng);
        const Judged before(scene, off, geometry);
        const Judged now(scene, scene.transmitters[relay].power, geometry);
        std::optional<Decibel> least;
        for (const auto& [heard, link] : before.neighbours())
            if (before.watchable(link) >= 0_dB)
                least = std::min(least.value_or(now.watchable(link)), now.watchable(link));
        const auto found = least_neighbour_margin(scene, LinkTable(scene), relay, geometry);
        ASSERT_EQ(found.has_value(), least.has_value());
        if (least) {
            EXPECT_NEAR(found->count(), least->count(), 1e-9);
        }
    });
}

/// Harm as bench advice sees it: nobody listens to what stands on the bench.
Scene on_the_bench(std::mt19937_64& rng) {
    auto scene = random_scene_with_relay(rng);
    for (auto& receiver : scene.receivers)
        if (receiver.hears == relay) receiver.hears.reset();
    scene.transmitters[relay].antenna.turns = true;
    return scene;
}

TEST(BenchAdvice, GivesTheMostPowerThatHarmsNobody) {
    for_all(20, [](std::mt19937_64& rng) {
        const auto scene = on_the_bench(rng);
        const auto advice = bench_advice(scene, LinkTable(scene), relay);
        const bool as_it_is = harmless(scene, scene.transmitters[relay].power, Geometry::ref);
        EXPECT_EQ(advice.harmed_first.has_value(), !as_it_is);
        if (!advice.power_max) {
            EXPECT_FALSE(harmless(scene, power_min, Geometry::ref));
            return;
        }
        EXPECT_TRUE(harmless(scene, *advice.power_max, Geometry::ref));
        if (*advice.power_max + 1_dB < relay_power_max) {
            EXPECT_FALSE(harmless(scene, *advice.power_max + 1_dB, Geometry::ref));
        }
    });
}

TEST(BenchAdvice, GivesADistanceFromWhichNobodyIsHarmed) {
    for_all(20, [](std::mt19937_64& rng) {
        auto scene = on_the_bench(rng);
        const auto advice = bench_advice(scene, LinkTable(scene), relay);
        if (!advice.step_back) return;
        ASSERT_TRUE(advice.harmed_first);
        auto& transmitter = scene.transmitters[relay];
        transmitter.at = moved_away(std::get<Point>(transmitter.at),
                                    scene.receivers[*advice.harmed_first].at, *advice.step_back);
        EXPECT_TRUE(harmless(scene, transmitter.power, Geometry::ref));
    });
}

TEST(MovedAway, GoesStraightAwayOnTheGround) {
    const auto moved = moved_away({3, 4, 2}, {0, 0, 9}, 5_m);
    EXPECT_NEAR(moved.x_m, 6, 1e-12);
    EXPECT_NEAR(moved.y_m, 8, 1e-12);
    EXPECT_EQ(moved.z_m, 2);
    EXPECT_EQ(moved_away({1, 1, 2}, {1, 1, 1}, 5_m), (Point{1, -4, 2}));  // back from the line
}

}  // namespace
}  // namespace fieldpeg::spectrum
