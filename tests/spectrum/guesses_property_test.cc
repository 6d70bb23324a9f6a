#include "server/spectrum/guesses.h"

#include "server/spectrum/viewer.h"
#include "tests/support/assessed.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <random>
#include <vector>

/// What must be so of every outlook (docs/model.md, section 15).
namespace fieldpeg::spectrum {
namespace {

using testing::Assessed;
using testing::between;
using testing::chance;
using testing::Channels;
using testing::for_all;
using testing::one_of;
using testing::random_scene;
using testing::random_scene_with_relay;
using testing::whole;

constexpr double resolution_db = 1e-6;

Guess guess(std::size_t i) {
    return static_cast<Guess>(i);
}

Scene some_scene(std::mt19937_64& rng) {
    if (chance(rng, 25)) return random_scene_with_relay(rng);
    return random_scene(rng,
                        one_of(rng, {Channels::one_band, Channels::fine, Channels::three_bands}));
}

Latitude random_latitude(std::mt19937_64& rng, std::size_t i) {
    const double weak = between(rng, 0, 10), strong = between(rng, 0, 10);
    const bool more_is_worse = guess(i) == Guess::noise_figure || guess(i) == Guess::others_power ||
                               guess(i) == Guess::others_antenna;
    return more_is_worse ? Latitude{Decibel(weak), Decibel(-strong)}
                         : Latitude{Decibel(-weak), Decibel(strong)};
}

/// Some of them measured.
Guesses random_guesses(std::mt19937_64& rng) {
    Guesses all = {};
    for (std::size_t i = 0; i < guess_count; ++i)
        if (chance(rng, 70)) all[i] = random_latitude(rng, i);
    return all;
}

std::vector<std::optional<Doubt>> doubts_of(Assessed& a, const Guesses& guesses) {
    return doubts(a.scene, a.links, a.tables, a.receptions,
                  std::vector<Guesses>(a.receptions.size(), guesses));
}

/// Calls visit(standing, doubt) for every receiver that hears something and for every viewer.
template <class Visit>
void for_each_standing(const Assessed& a, const std::vector<std::optional<Doubt>>& all,
                       Visit visit) {
    for (std::size_t v = 0; v < a.receptions.size(); ++v)
        if (a.receptions[v]) visit(standing(*a.receptions[v]), *all[v]);
    for (const auto& viewer : viewers(a.scene))
        visit(standing(a.receptions, viewer), doubt(all, a.receptions, viewer));
}

TEST(Guesses, AreOnlyOfWhoHearsSomething) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        const auto all = doubts_of(a, assumed_guesses);
        ASSERT_EQ(all.size(), a.receptions.size());
        for (std::size_t v = 0; v < all.size(); ++v)
            EXPECT_EQ(all[v].has_value(), a.receptions[v].has_value());
    });
}

TEST(Guesses, LeaveNoDoubtWhereEverythingIsMeasured) {
    for_all(100, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        for_each_standing(a, doubts_of(a, Guesses{}), [](const Standing& s, const Doubt& doubt) {
            for (const auto& change : doubt.of) {
                EXPECT_NEAR(change.worse.count(), 0, resolution_db);
                EXPECT_NEAR(change.better.count(), 0, resolution_db);
            }
            EXPECT_NEAR(doubt.all.worse.count(), 0, resolution_db);
            EXPECT_NEAR(doubt.alone.better.count(), 0, resolution_db);
            const auto at = outlook(s, doubt);
            EXPECT_EQ(at.low, verdict(s));
            EXPECT_EQ(at.high, verdict(s));
            EXPECT_FALSE(at.would_settle);
            EXPECT_NEAR(at.margin_low.count(), s.good.count(), resolution_db);
            EXPECT_NEAR(at.margin_high.count(), s.good.count(), resolution_db);
        });
    });
}

TEST(Guesses, HaveTheMarginBetweenTheEnds) {
    for_all(150, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        const auto all = doubts_of(a, chance(rng, 50) ? assumed_guesses : random_guesses(rng));
        for_each_standing(a, all, [](const Standing& s, const Doubt& doubt) {
            const auto at = outlook(s, doubt);
            EXPECT_LE(at.margin_low, s.good);
            EXPECT_GE(at.margin_high, s.good);
            for (const auto& change : doubt.of) {
                EXPECT_LE(doubt.all.worse, change.worse + Decibel(resolution_db));
                EXPECT_GE(doubt.all.better, change.better - Decibel(resolution_db));
            }
        });
    });
}

// Independent guesses add up by their squares [textbook].
TEST(Guesses, AddUpByTheirSquares) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        for_each_standing(a, doubts_of(a, random_guesses(rng)),
                          [](const Standing&, const Doubt& doubt) {
                              double worse = 0, better = 0;
                              for (const auto& change : doubt.of) {
                                  worse += std::pow(change.worse.count(), 2);
                                  better += std::pow(change.better.count(), 2);
                              }
                              EXPECT_NEAR(doubt.all.worse.count(), -std::sqrt(worse), 1e-9);
                              EXPECT_NEAR(doubt.all.better.count(), std::sqrt(better), 1e-9);
                          });
    });
}

// One's own transmitter apart: where it is nearly too strong, a little less is better and much less
// is worse again.
TEST(Guesses, LeaveNoLessDoubtTheWiderTheyAre) {
    for_all(150, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        const auto narrow = random_guesses(rng);
        const auto i = static_cast<std::size_t>(whole(rng, 0, guess_count - 1));
        auto wide = narrow;
        const double times = between(rng, 1, 3);
        wide[i] = {times * narrow[i].weak, times * narrow[i].strong};
        if (narrow[i].weak == 0_dB) wide[i] = random_latitude(rng, i);
        const auto was = doubts_of(a, narrow), is = doubts_of(a, wide);
        for (std::size_t v = 0; v < was.size(); ++v) {
            if (!was[v]) continue;
            EXPECT_LE(is[v]->all.worse, was[v]->all.worse);
            EXPECT_LE(is[v]->alone.worse, was[v]->alone.worse);
            if (guess(i) == Guess::own_power || guess(i) == Guess::own_antenna) continue;
            EXPECT_GE(is[v]->all.better, was[v]->all.better);
            EXPECT_GE(is[v]->alone.better, was[v]->alone.better);
        }
    });
}

TEST(Guesses, HoldWhereBothEndsHaveTheVerdict) {
    int held = 0, open = 0;
    for_all(150, [&](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        const auto all = doubts_of(a, chance(rng, 70) ? assumed_guesses : random_guesses(rng));
        for_each_standing(a, all, [&](const Standing& s, const Doubt& doubt) {
            const auto at = outlook(s, doubt);
            const bool holds = at.low == verdict(s) && at.high == verdict(s);
            EXPECT_EQ(!at.would_settle, holds);
            (holds ? held : open) += 1;
        });
    });
    EXPECT_GT(held, 30);
    EXPECT_GT(open, 30);
}

TEST(Guesses, AreNotToBeSettledOnceTheyAreMeasured) {
    for_all(150, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        const auto guesses = random_guesses(rng);
        for_each_standing(a, doubts_of(a, guesses), [&](const Standing& s, const Doubt& doubt) {
            const auto at = outlook(s, doubt);
            if (!at.would_settle) return;
            const auto& of = guesses[static_cast<std::size_t>(*at.would_settle)];
            EXPECT_FALSE(of.weak == 0_dB && of.strong == 0_dB);
        });
    });
}

// The largest towards the end that differs, the weak one first.
TEST(Guesses, AreSettledByTheOneThatChangesMost) {
    for_all(150, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        for_each_standing(
            a, doubts_of(a, assumed_guesses), [](const Standing& s, const Doubt& doubt) {
                const auto at = outlook(s, doubt);
                if (!at.would_settle) return;
                const bool by_the_weak_end = at.low != verdict(s);
                const auto size = [&](const Change& c) {
                    return by_the_weak_end ? -c.worse.count() : c.better.count();
                };
                const double said = size(doubt.of[static_cast<std::size_t>(*at.would_settle)]);
                for (const auto& change : doubt.of) EXPECT_LE(size(change), said);
            });
    });
}

TEST(Guesses, AreOnesOwnWhereNobodyElseIsOnTheAir) {
    for_all(150, [](std::mt19937_64& rng) {
        auto scene = some_scene(rng);
        const auto hears = scene.receivers[0].hears;
        if (!hears) return;
        scene.transmitters = {scene.transmitters[*hears]};
        scene.receivers.resize(1);
        scene.receivers[0].hears = 0;
        scene.receivers[0].feeds.reset();
        scene.transmitters[0].power = Dbm(between(rng, -40, 20));  // steady to too far
        Assessed a(scene);
        const auto all = doubts_of(a, assumed_guesses);
        for (const auto i :
             {Guess::selectivity, Guess::intercept, Guess::others_power, Guess::others_antenna}) {
            const auto& change = all[0]->of[static_cast<std::size_t>(i)];
            EXPECT_EQ(change.worse, 0_dB);
            EXPECT_EQ(change.better, 0_dB);
        }
        EXPECT_NEAR(all[0]->all.worse.count(), all[0]->alone.worse.count(), resolution_db);
        const auto at = outlook(standing(*a.receptions[0]), *all[0]);
        if (at.would_settle) {
            EXPECT_LE(*at.would_settle, Guess::noise_figure);
        }
    });
}

// All filters let in who is within 5 MHz of their channel [model.md, section 15: assumed].
TEST(Guesses, DoNotRestOnTheFilterForOneOnTheSameChannel) {
    for_all(60, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::one_band, 4);
        for (auto& t : scene.transmitters)
            t.frequency = 5800_MHz + Hertz(1'000'000 * whole(rng, -2, 2));
        Assessed a(scene);
        for (const auto& doubt : doubts_of(a, assumed_guesses))
            if (doubt) {
                const auto& change = doubt->of[static_cast<std::size_t>(Guess::selectivity)];
                EXPECT_NEAR(change.worse.count(), 0, resolution_db);
                EXPECT_NEAR(change.better.count(), 0, resolution_db);
            }
    });
}

// C against J: as many decibels less are as many decibels less, unless too much was the trouble.
TEST(Guesses, MoveAMarginByWhatTheOwnTransmitterSendsLess) {
    for_all(60, [](std::mt19937_64& rng) {
        Assessed a(some_scene(rng));
        const auto all = doubts_of(a, assumed_guesses);
        for (std::size_t v = 0; v < all.size(); ++v) {
            if (!all[v]) continue;
            const auto& r = *a.receptions[v];
            const bool has_room = r.closeness(good_share) > standing(r).good + 5_dB;
            if (!has_room) continue;
            const auto& change = all[v]->of[static_cast<std::size_t>(Guess::own_power)];
            EXPECT_NEAR(change.worse.count(), -3, resolution_db);
            EXPECT_NEAR(change.better.count(), 1, resolution_db);
        }
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
