#include "server/spectrum/relay_window.h"

#include "server/spectrum/contributions.h"
#include "server/spectrum/standing.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <set>
#include <utility>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::Assessed;
using testing::for_all;
using testing::random_scene_with_relay;

constexpr std::size_t relay = 0;
constexpr Dbm off{-300};
constexpr Decibel edge = 0.002_dB;  // twice what the bisection leaves open
constexpr Decibel none = 0_dB;      // clang 14 loses a consteval literal in a generic lambda

/// A scene at one power of the relay, judged person by person from its whole assessment.
class Judged {
public:
    Judged(Scene scene, Dbm power, Geometry geometry)
        : day_(with(std::move(scene), power)), geometry_(geometry) {}

    const Reception& at(std::size_t v) const { return *day_.receptions[v]; }
    std::vector<std::size_t> owners() const {
        std::vector<std::size_t> list;
        for (std::size_t v = 0; v < day_.scene.receivers.size(); ++v)
            if (day_.scene.receivers[v].hears == relay) list.push_back(v);
        return list;
    }
    /// What each person's picture comes by, but for the relay's own hop: of who sees it through the
    /// relay that way, of everybody else the way with the greatest M98.
    std::vector<Hop> neighbours() const {
        std::vector<Hop> all;
        for (const auto& viewer : viewers(day_.scene)) {
            const Way* chosen = nullptr;
            double best = -1e12;
            for (const auto& way : viewer.ways) {
                const double m98 =
                    way.hops.back().transmitter == relay
                        ? 1e12
                        : margin(day_.receptions, way, {Demand::watchable, 0.98, Air::usual})
                              .count();
                if (m98 > best) chosen = &way;
                best = std::max(best, m98);
            }
            for (const auto& hop : chosen->hops)
                if (hop.transmitter != relay) all.push_back(hop);
        }
        return all;
    }
    /// The margin that counts: M98, and as they pass closest the lesser of it and Mc.
    Decibel least(const Hop& hop) const {
        const Decibel m98 = margin(day_.receptions, hop, {Demand::watchable, 0.98, Air::usual});
        const Decibel mc = margin(day_.receptions, hop, {Demand::watchable, 0.80, Air::closest});
        return geometry_ == Geometry::usual ? m98 : std::min(m98, mc);
    }
    /// A good flight and a sharp picture at some of the relay's goggles, each by itself.
    bool is_sharp() const {
        return std::ranges::any_of(owners(), [&](std::size_t v) {
            const auto ratio = [&](Demand demand, double share, Air air) {
                return at(v).wanted(share) - at(v).floor(air) - at(v).required(demand);
            };
            return ratio(Demand::watchable, 0.98, Air::usual) >= none &&
                   ratio(Demand::sharp, 0.80, Air::usual) >= none &&
                   (geometry_ == Geometry::usual ||
                    ratio(Demand::sharp, 0.80, Air::closest) >= none);
        });
    }
    bool owner_is_overloaded() const {
        const auto own = owners();
        return !own.empty() && std::ranges::all_of(own, [&](std::size_t v) {
            return at(v).closeness(0.98) < none;
        });
    }
    Assessed& day() { return day_; }

private:
    static Scene with(Scene scene, Dbm power) {
        scene.transmitters[relay].power = power;
        return scene;
    }

    Assessed day_;
    Geometry geometry_;
};

/// Nobody who had a good flight with the relay off lacks it now, nor is the owner overloaded.
bool harmless(const Scene& scene, Dbm power, Geometry geometry) {
    const Judged before(scene, off, geometry);
    const Judged after(scene, power, geometry);
    return !after.owner_is_overloaded() &&
           std::ranges::all_of(before.neighbours(), [&](const Hop& hop) {
               return before.least(hop) < none || after.least(hop) >= none;
           });
}

Geometry either(std::mt19937_64& rng) {
    return testing::chance(rng, 50) ? Geometry::usual : Geometry::closest;
}

TEST(RelayWindow, BeginsWhereTheOwnersPictureTurnsSharp) {
    int found = 0;
    for_all(120, [&](std::mt19937_64& rng) {
        auto scene = random_scene_with_relay(rng);
        if (testing::chance(rng, 30))  // then a good flight asks for more than a sharp picture
            for (auto& profile : scene.profiles) profile.sharp = profile.watchable + 1_dB;
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
            ++found;
        }
    });
    EXPECT_GT(found, 10);
}

TEST(RelayWindow, EndsWhereTheFirstOneSuffers) {
    int found = 0;
    for_all(120, [&](std::mt19937_64& rng) {
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
            ++found;
        } else {
            EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::range_end);
        }
    });
    EXPECT_GT(found, 10);
}

/// The kind of the strongest term, or noise.
PowerLimit::Kind strongest_kind(Judged& judged, std::size_t v, Geometry geometry) {
    using Of = Contribution::Kind;
    using Kind = PowerLimit::Kind;
    auto& day = judged.day();
    const auto terms = contributions(day.scene, day.links, day.tables, v, geometry, 1);
    if (terms.empty() || terms[0].level < judged.at(v).noise) return Kind::noise;
    const std::pair<Of, Kind> kinds[] = {{Of::co_channel, Kind::co_channel},
                                         {Of::adjacent, Kind::adjacent},
                                         {Of::receiver_product, Kind::receiver_product},
                                         {Of::transmitter_product, Kind::transmitter_product},
                                         {Of::burst, Kind::burst},
                                         {Of::harmonic, Kind::harmonic}};
    return std::ranges::find(kinds, terms[0].kind, &std::pair<Of, Kind>::first)->second;
}

// Just above the ceiling somebody's hop has too little, and the receiver that is named carries it;
// the kind is what there is most of.
TEST(RelayWindow, NamesWhoSuffersFirst) {
    using Kind = PowerLimit::Kind;
    std::set<Kind> seen;
    for_all(80, [&](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto window = relay_window(scene, relay, Geometry::usual);
        ASSERT_TRUE(window.limited_by);
        const auto kind = window.limited_by->kind;
        const auto receiver = window.limited_by->receiver;
        seen.insert(kind);
        ASSERT_EQ(receiver.has_value(), kind != Kind::range_end);
        if (!receiver) return;
        Judged above(scene, window.ceiling ? *window.ceiling + edge : relay_power_min,
                     Geometry::usual);
        if (scene.receivers[*receiver].hears == relay) {
            EXPECT_EQ(kind, Kind::too_close);
            EXPECT_TRUE(above.owner_is_overloaded());
            return;
        }
        const auto all = Judged(scene, off, Geometry::usual).neighbours();
        const auto hop = std::ranges::find_if(all, [&](const Hop& h) {
            return std::ranges::find(h.receivers, *receiver) != h.receivers.end();
        });
        ASSERT_NE(hop, all.end());
        EXPECT_LT(above.least(*hop), none);
        const auto own = [&](std::size_t v) { return margin(above.at(v), Aim{}); };
        for (const auto v : hop->receivers) EXPECT_GE(own(*receiver), own(v));
        const auto& r = above.at(*receiver);
        const auto& budget = r.budget(Geometry::usual);
        const bool swamped =
            budget.blockers > r.profile->p1db ||
            budget.desensitisation > decibel(1 + budget.interference_mw() / milliwatts(r.noise));
        EXPECT_EQ(kind, swamped ? Kind::swamped
                        : r.closeness(0.98) < none
                            ? Kind::too_close
                            : strongest_kind(above, *receiver, Geometry::usual));
    });
    EXPECT_GE(seen.size(), 3u);
}

TEST(RelayWindow, LeavesOutThoseWithoutAGoodFlightBefore) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto geometry = either(rng);
        const Judged before(scene, off, geometry);
        std::vector<std::size_t> below;
        for (const auto& hop : before.neighbours())
            if (before.least(hop) < 0_dB)
                below.insert(below.end(), hop.receivers.begin(), hop.receivers.end());
        std::ranges::sort(below);
        EXPECT_EQ(relay_window(scene, relay, geometry).below_before, below);
    });
}

// Digital goggles two metres from the relay: when they get more than -20 dBm in 2 % of the time
// they take no more. 2.0537 times 3.5 dB of fading lie between.
TEST(RelayWindow, EndsWhereItsOwnGogglesAreOverloaded) {
    Scene scene;
    scene.emissions.push_back(testing::emission("ofdm-20"));
    scene.profiles.push_back(testing::receiver("ofdm-20-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0_dB, Point{0, 0, 1.7}});
    scene.receivers.push_back({0, relay, omni, 0_dB, {0, 2, 1.7}});
    const End mast{omni, 0_dB, {0, 0, 1.7}, false}, worn{omni, 0_dB, {0, 2, 1.7}, false};
    const auto gain = link_gain(mast, worn, 5'800_MHz, Role::wanted);
    const auto window = relay_window(scene, relay, Geometry::usual);
    ASSERT_TRUE(window.ceiling && window.limited_by);
    EXPECT_NEAR((*window.ceiling + gain).count(), -20 - 2.0537 * 3.5, 0.002);
    EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::too_close);
    EXPECT_EQ(window.limited_by->receiver, 0u);
    scene.receivers.push_back({0, relay, omni, 40_dB, {0, 2, 1.7}});  // has room left
    EXPECT_EQ(relay_window(scene, relay, Geometry::usual).limited_by->kind,
              PowerLimit::Kind::range_end);
}

// A relay's own input is one of the others: what the relay leaks into it ends the window.
TEST(RelayWindow, MindsItsOwnFirstHop) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'880_MHz, 14_dBm, omni, 0_dB, Point{0, 0, 3}});
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0_dB, Envelope{0, 80, 50, 3, 40}});
    scene.receivers.push_back({0, relay, omni, 0_dB, {0, -20, 1.7}, 5});
    scene.receivers.push_back({0, 1, omni, 0_dB, {3, 0, 3}, 5, relay});
    const auto window = relay_window(scene, relay, Geometry::usual);
    ASSERT_TRUE(window.limited_by && window.ceiling);
    EXPECT_EQ(window.limited_by->receiver, 1u);
    EXPECT_LT(*window.ceiling, 20_dBm);
}

// A spare receiver that is harmed does not block as long as the other carries the picture.
TEST(RelayWindow, LooksAtLinksNotAtReceivers) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'880_MHz, 14_dBm, omni, 0_dB, Point{0, 0, 3}});
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0_dB, Envelope{0, 80, 50, 3, 40}});
    scene.receivers.push_back({0, 1, omni, 0_dB, {1, 0, 1.7}, 5});
    const auto alone = relay_window(scene, relay, Geometry::usual);
    scene.receivers.push_back({0, 1, omni, 0_dB, {40, 0, 1.7}, 5});
    const auto with_another = relay_window(scene, relay, Geometry::usual);
    ASSERT_TRUE(alone.ceiling && with_another.ceiling);
    EXPECT_GT(*with_another.ceiling, *alone.ceiling + 10_dB);
    EXPECT_EQ(with_another.limited_by->receiver, 1u);  // which carries it, the first long gone
}

/// A relay and one who flies on another channel.
Scene beside_a_pilot() {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'880_MHz, 14_dBm, omni, 0_dB, Point{0, 0, 3}});
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0_dB, Envelope{0, 80, 50, 3, 40}});
    return scene;
}

// Of one who sees a picture in two ways only the hops of the better count.
TEST(RelayWindow, MindsTheBetterOfTwoWays) {
    auto scene = beside_a_pilot();
    const auto omni = scene.transmitters[0].antenna;
    scene.transmitters.push_back({0, 5'732_MHz, 14_dBm, omni, 0_dB, Point{20, -15, 3}});
    scene.receivers.push_back({0, 1, omni, 40_dB, {22, -20, 1.7}, 5});  // a bad one, directly
    scene.receivers.push_back({0, 2, omni, 0_dB, {22, -20, 1.7}, 5});
    scene.receivers.push_back({0, 1, omni, 0_dB, {60, 0, 3}, 5, 2});
    const auto window = relay_window(scene, relay, Geometry::usual);
    EXPECT_TRUE(window.below_before.empty());
    ASSERT_TRUE(window.limited_by && window.limited_by->receiver);
    EXPECT_NE(window.limited_by->receiver, 0u);
}

// Somebody passes close by: then that counts, and not the usual level.
TEST(RelayWindow, MindsTheClosestPassWhereItIsTheWorse) {
    auto scene = beside_a_pilot();
    const auto omni = scene.transmitters[0].antenna;
    scene.receivers.push_back({0, 1, omni, 0_dB, {12, 0, 1.7}, 5});
    scene.transmitters.push_back(
        {0, 5'763_MHz, 14_dBm, omni, 0_dB, Envelope{0, 0, 200, 1.5, 30, 5}});
    const auto as_it_is = [&] {
        scene.transmitters[relay].power = off;
        return standing(*Assessed(scene).receptions[0]);
    };
    while (as_it_is().closest > 2_dB)
        scene.transmitters[2].power = scene.transmitters[2].power + 1_dB;
    ASSERT_LT(as_it_is().closest, as_it_is().good - 1_dB);
    ASSERT_GE(as_it_is().closest, 0_dB);
    scene.transmitters[relay].power = 0_dBm;
    const LinkTable links(scene);
    const Judged now(scene, 0_dBm, Geometry::closest);
    const auto closest = least_neighbour_margin(scene, links, relay, Geometry::closest);
    const auto usual = least_neighbour_margin(scene, links, relay, Geometry::usual);
    ASSERT_TRUE(closest && usual);
    EXPECT_LT(*closest, *usual - 1_dB);
    EXPECT_NEAR(closest->count(), now.least(Hop{1, {0}}).count(), 1e-5);
    const auto window = relay_window(scene, relay, Geometry::closest);
    ASSERT_TRUE(window.ceiling);
    EXPECT_TRUE(harmless(scene, *window.ceiling, Geometry::closest));
    EXPECT_FALSE(harmless(scene, *window.ceiling + edge, Geometry::closest));
}

TEST(RelayWindow, DoesNotMindThePowerOfTheScene) {
    for_all(10, [](std::mt19937_64& rng) {
        auto scene = random_scene_with_relay(rng, 3);
        const auto before = relay_window(scene, relay, Geometry::usual);
        scene.transmitters[relay].power = 30_dBm;
        const auto after = relay_window(scene, relay, Geometry::usual);
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

TEST(LeastNeighbourMargin, IsThatOfTheWorstHopWithAGoodFlightBefore) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto scene = random_scene_with_relay(rng);
        const auto geometry = either(rng);
        const Judged before(scene, off, geometry);
        const Judged now(scene, scene.transmitters[relay].power, geometry);
        std::optional<Decibel> least;
        for (const auto& hop : before.neighbours())
            if (before.least(hop) >= 0_dB)
                least = std::min(least.value_or(now.least(hop)), now.least(hop));
        const auto found = least_neighbour_margin(scene, LinkTable(scene), relay, geometry);
        ASSERT_EQ(found.has_value(), least.has_value());
        if (least) {
            EXPECT_NEAR(found->count(), least->count(), 1e-5);
        }
    });
}

/// Harm as bench advice sees it: nobody listens to what stands on the bench.
Scene on_the_bench(std::mt19937_64& rng) {
    auto scene = random_scene_with_relay(rng);
    for (auto& receiver : scene.receivers)
        if (receiver.hears == relay) receiver.hears.reset();
    scene.transmitters[relay].antenna.turns = true;
    scene.transmitters[relay].power = Dbm(testing::between(rng, 14, 30));
    return scene;
}

TEST(BenchAdvice, GivesTheMostPowerThatHarmsNobody) {
    int harmful = 0;
    for_all(80, [&](std::mt19937_64& rng) {
        const auto scene = on_the_bench(rng);
        const auto advice = bench_advice(scene, LinkTable(scene), relay);
        const bool as_it_is = harmless(scene, scene.transmitters[relay].power, Geometry::usual);
        EXPECT_EQ(advice.harmed_first.has_value(), !as_it_is);
        harmful += as_it_is ? 0 : 1;
        if (!advice.power_max) {
            EXPECT_FALSE(harmless(scene, power_min, Geometry::usual));
            return;
        }
        EXPECT_TRUE(harmless(scene, *advice.power_max, Geometry::usual));
        if (*advice.power_max + edge < relay_power_max) {
            EXPECT_FALSE(harmless(scene, *advice.power_max + edge, Geometry::usual));
        }
    });
    EXPECT_GT(harmful, 5);
}

TEST(BenchAdvice, GivesADistanceFromWhichNobodyIsHarmed) {
    int given = 0;
    for_all(80, [&](std::mt19937_64& rng) {
        auto scene = on_the_bench(rng);
        const auto advice = bench_advice(scene, LinkTable(scene), relay);
        if (!advice.step_back) return;
        ASSERT_TRUE(advice.harmed_first);
        ++given;
        auto& transmitter = scene.transmitters[relay];
        transmitter.at = moved_away(std::get<Point>(transmitter.at),
                                    scene.receivers[*advice.harmed_first].at, *advice.step_back);
        EXPECT_TRUE(harmless(scene, transmitter.power, Geometry::usual));
    });
    EXPECT_GT(given, 5);
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
