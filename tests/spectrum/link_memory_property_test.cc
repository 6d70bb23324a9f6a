#include "server/spectrum/link_memory.h"

#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::for_all;
using testing::one_of;
using testing::random_antenna;
using testing::random_envelope;
using testing::random_place;

/// One thing of a scene is another.
void change_something(std::mt19937_64& rng, Scene& scene) {
    const auto index = [&](const auto& list) {
        return static_cast<std::size_t>(testing::whole(rng, 0, static_cast<int>(list.size()) - 1));
    };
    auto& t = scene.transmitters[index(scene.transmitters)];
    auto& v = scene.receivers[index(scene.receivers)];
    switch (testing::whole(rng, 0, 9)) {
        case 0:
            t.at = random_place(rng);
            break;
        case 1:
            t.at = random_envelope(rng);
            break;
        case 2:
            t.antenna = random_antenna(rng);
            break;
        case 3:
            t.loss = Decibel(between(rng, 0, 5));
            break;
        case 4:
            t.frequency = one_of(rng, {1'280_MHz, 2'441_MHz, 5'800_MHz});
            break;
        case 5:
            v.at = random_place(rng);
            break;
        case 6:
            v.antenna = random_antenna(rng);
            break;
        case 7:
            v.loss = Decibel(between(rng, 0, 5));
            break;
        case 8:
            v.flies = !v.flies;
            break;
        default:
            t.antenna.turns = !t.antenna.turns;
    }
}

void expect_same(const LinkTable& one, const LinkTable& other, const Scene& scene) {
    for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
        if (scene.receivers[v].hears) {
            EXPECT_EQ(one.wanted(v).exceeded(0.98), other.wanted(v).exceeded(0.98));
        }
        for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
            for (const auto geometry : geometries)
                EXPECT_EQ(one.unwanted(geometry, v, t), other.unwanted(geometry, v, t));
    }
    for (std::size_t a = 0; a < scene.transmitters.size(); ++a)
        for (std::size_t b = 0; b < scene.transmitters.size(); ++b)
            EXPECT_EQ(one.coupling(a, b), other.coupling(a, b));
}

// Whatever scenes a memory has seen, a table is what it is from nothing; so is one gain by itself.
TEST(LinkMemory, GivesWhatIsWorkedOutFromNothing) {
    LinkMemory memory;
    for_all(20, [&](std::mt19937_64& rng) {
        auto scene = testing::random_scene(rng, testing::Channels::three_bands, 6);
        if (scene.receivers.empty()) return;
        for (int i = 0; i < 12; ++i) {
            change_something(rng, scene);
            const LinkTable links(scene, memory);
            expect_same(links, LinkTable(scene), scene);
            const auto& v = scene.receivers.front();
            for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
                for (const auto geometry : geometries)
                    EXPECT_EQ(links.unwanted(geometry, 0, t),
                              linear(unwanted_gain(scene.transmitters[t], v, geometry)));
            memory.make_room();
        }
    });
}

// Of so many ends it keeps none, and goes on.
TEST(LinkMemory, ForgetsWhatHasBecomeTooMuch) {
    std::mt19937_64 rng(1);
    auto scene = testing::random_scene(rng, testing::Channels::one_band, 3);
    LinkMemory memory;
    const auto first = memory.number_of(scene.transmitters.front());
    for (int i = 0; i < 300; ++i) {
        auto other = scene.transmitters.front();
        other.loss = Decibel(0.01 * (i + 1)) + other.loss;
        memory.number_of(other);
    }
    EXPECT_EQ(memory.number_of(scene.transmitters.front()), first);
    EXPECT_GT(memory.number_of(scene.transmitters.back()), 250U);
    memory.make_room();
    EXPECT_EQ(memory.number_of(scene.transmitters.back()), 0U);
    expect_same(LinkTable(scene, memory), LinkTable(scene), scene);
}

}  // namespace
}  // namespace fieldpeg::spectrum
