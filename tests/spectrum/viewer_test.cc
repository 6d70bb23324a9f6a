#include "server/spectrum/viewer.h"

#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <cstddef>
#include <optional>
#include <set>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

/// Receivers of which only who hears what counts.
class Ears {
public:
    std::size_t add(std::optional<std::size_t> hears, std::size_t owner,
                    std::optional<std::size_t> feeds = std::nullopt) {
        Receiver receiver{
            0, hears, testing::upright("circular-omni", Polarisation::rhcp), 0_dB, {0, 0, 1.7}};
        receiver.owner = owner;
        receiver.feeds = feeds;
        scene.receivers.push_back(receiver);
        return scene.receivers.size() - 1;
    }

    Scene scene;
};

constexpr std::size_t video = 4, relay = 7, second_relay = 8;

TEST(Viewers, SeeTheirTransmitterDirectly) {
    Ears ears;
    const auto goggles = ears.add(video, 1), spectator = ears.add(video, 2);
    const std::vector<Way> own = {{{{video, {goggles}}}}}, other = {{{{video, {spectator}}}}};
    const auto all = viewers(ears.scene);
    ASSERT_EQ(all.size(), 2u);
    EXPECT_EQ(all[0].owner, 1u);
    EXPECT_EQ(all[0].ways, own);
    EXPECT_EQ(all[1].ways, other);
    EXPECT_EQ(hops(ears.scene).size(), 2u);
}

// Two receivers of one person on one transmitter are diversity; on two transmitters two ways.
TEST(Viewers, JoinReceiversOfOnePersonOnOneTransmitter) {
    Ears ears;
    const auto a = ears.add(video, 1), elsewhere = ears.add(relay, 1), b = ears.add(video, 1);
    const std::vector<Way> ways = {{{{video, {a, b}}}}, {{{relay, {elsewhere}}}}};
    const auto all = viewers(ears.scene);
    ASSERT_EQ(all.size(), 1u);
    EXPECT_EQ(all[0].ways, ways);
}

TEST(Viewers, SeeThroughTheirRelayAndBesideIt) {
    Ears ears;
    const auto goggles = ears.add(relay, 1);
    const auto input = ears.add(video, 1, relay), input_2 = ears.add(video, 1, relay);
    const auto direct = ears.add(video, 1);
    const std::vector<Way> ways = {{{{video, {input, input_2}}, {relay, {goggles}}}},
                                   {{{video, {direct}}}}};
    const auto all = viewers(ears.scene);
    ASSERT_EQ(all.size(), 1u);
    EXPECT_EQ(all[0].ways, ways);
    EXPECT_EQ(hops(ears.scene).size(), 3u);  // a relay's input is no goggles, though they hear one
}

TEST(Viewers, HaveAWayForEachOfTheirRelays) {
    Ears ears;
    const auto first = ears.add(relay, 1), second = ears.add(second_relay, 1);
    const auto in = ears.add(video, 1, relay), in_2 = ears.add(video, 1, second_relay);
    const std::vector<Way> ways = {{{{video, {in}}, {relay, {first}}}},
                                   {{{video, {in_2}}, {second_relay, {second}}}}};
    const auto all = viewers(ears.scene);
    ASSERT_EQ(all.size(), 1u);
    EXPECT_EQ(all[0].ways, ways);
}

// A relay with inputs that hear nothing carries no picture; one without inputs is taken as it is.
TEST(Viewers, SeeNothingThroughARelayThatHearsNothing) {
    Ears ears;
    const auto goggles = ears.add(relay, 1);
    ASSERT_EQ(viewers(ears.scene).size(), 1u);
    const std::vector<Way> as_it_is = {{{{relay, {goggles}}}}};
    EXPECT_EQ(viewers(ears.scene)[0].ways, as_it_is);
    ears.add(std::nullopt, 1, relay);
    EXPECT_TRUE(viewers(ears.scene).empty());
}

// A relay that nobody looks at shows nothing to anybody.
TEST(Viewers, AreOnlyThoseWhoLook) {
    Ears ears;
    ears.add(video, 1, relay);
    ears.add(std::nullopt, 2);
    EXPECT_TRUE(viewers(ears.scene).empty());
    EXPECT_EQ(hops(ears.scene).size(), 1u);
}

// Whatever the day, each receiver that hears something is part of just one hop, with its equals.
TEST(Hops, HoldEveryReceiverOnce) {
    testing::for_all(60, [](std::mt19937_64& rng) {
        const auto scene = testing::random_scene_with_relay(rng);
        std::set<std::size_t> held;
        for (const auto& hop : hops(scene)) {
            const auto& first = scene.receivers[hop.receivers.front()];
            for (const auto v : hop.receivers) {
                EXPECT_TRUE(held.insert(v).second);
                EXPECT_EQ(scene.receivers[v].hears, hop.transmitter);
                EXPECT_EQ(scene.receivers[v].owner, first.owner);
                EXPECT_EQ(scene.receivers[v].feeds, first.feeds);
            }
        }
        for (std::size_t v = 0; v < scene.receivers.size(); ++v)
            EXPECT_EQ(held.contains(v), scene.receivers[v].hears.has_value());
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
