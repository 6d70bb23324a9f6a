#include "server/planner/few_moves.h"
#include "server/planner/plan.h"
#include "server/planner/rota.h"
#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/verdict.h"
#include "tests/planner/questions.h"
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

/// What radiates beside those that channels are chosen for: handsets, access points, ground sides
/// of two-way systems. The search knows nothing of it; what it says must be true all the same.
namespace fieldpeg::planner {
namespace {

using namespace spectrum::literals;
using spectrum::Decibel;
using spectrum::Hertz;
using testing::between;
using testing::chance;
using testing::for_all;
using testing::one_of;
using testing::random_question;
using testing::whole;

constexpr double rounding_db = 1e-6;

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(whole(rng, 0, static_cast<int>(size) - 1));
}

/// One that stays where it is, or goes where one of `leaders` goes and spares somebody.
Beside random_beside(std::mt19937_64& rng, const Question& question) {
    const auto& scene = question.scene;
    Beside beside{
        {someone(rng, scene.emissions.size()), 5700_MHz + Hertz(1'000'000 * whole(rng, 0, 120)),
         spectrum::Dbm(between(rng, -10, 24)), testing::random_antenna(rng),
         Decibel(between(rng, 0, 2)), testing::random_place(rng)},
        {}};
    auto& made = beside.transmitter;
    made.duty = one_of(rng, {1.0, 0.3, 0.05});
    if (chance(rng, 60)) {
        beside.follows = someone(rng, scene.transmitters.size());
        made.spares = scene.receivers[someone(rng, scene.receivers.size())].owner;
    } else if (chance(rng, 40)) {
        made.hops = spectrum::HopBand{made.frequency - 20_MHz, made.frequency + 20_MHz};
    }
    return beside;
}

Question random_question_with_beside(std::mt19937_64& rng, int most = 4) {
    auto question = random_question(rng, most);
    const int count = whole(rng, 1, 3);
    for (int i = 0; i < count; ++i) question.beside.push_back(random_beside(rng, question));
    return question;
}

/// Any lawful choice.
Choice random_choice(std::mt19937_64& rng, const Problem& problem) {
    Choice choice;
    for (const auto& station : problem.stations) {
        Pick pick{someone(rng, problem.groups), 0, 0, someone(rng, station.powers.size())};
        do {
            pick.band = someone(rng, problem.bands.size());
            pick.channel = someone(rng, problem.bands[pick.band].size());
        } while ((station.channels[pick.band] >> pick.channel & 1) == 0);
        choice.push_back(pick);
    }
    return choice;
}

/// The scene of one group, made by hand.
spectrum::Scene by_hand(const Tables& tables, const Choice& choice, std::size_t group) {
    const auto& question = tables.question();
    auto scene = question.scene;
    scene.transmitters.clear();
    std::map<std::size_t, std::size_t> index;
    for (std::size_t t = 0; t < choice.size(); ++t) {
        if (choice[t].group != group) continue;
        index[t] = scene.transmitters.size();
        scene.transmitters.push_back(question.scene.transmitters[t]);
        scene.transmitters.back().frequency = tables.channel(choice[t]);
        scene.transmitters.back().power = tables.power(t, choice[t]);
    }
    for (const auto& beside : question.beside) {
        if (beside.follows && !index.contains(*beside.follows)) continue;
        scene.transmitters.push_back(beside.transmitter);
        if (beside.follows)
            scene.transmitters.back().frequency = tables.channel(choice[*beside.follows]);
    }
    for (auto& receiver : scene.receivers) {
        if (receiver.hears)
            receiver.hears = index.contains(*receiver.hears)
                                 ? std::optional(index.at(*receiver.hears))
                                 : std::nullopt;
        if (receiver.feeds)
            receiver.feeds = index.contains(*receiver.feeds) ? index.at(*receiver.feeds)
                                                             : spectrum::Receiver::silent;
    }
    return scene;
}

/// As a check would have it, of scenes made by hand.
double worst_by_hand(const Tables& tables, const Choice& choice) {
    std::map<std::size_t, double> worst;
    for (std::size_t group = 0; group < tables.question().groups; ++group) {
        const auto scene = by_hand(tables, choice, group);
        if (scene.transmitters.empty()) continue;
        spectrum::RejectionTables rejection(scene);
        const spectrum::LinkTable links(scene);
        const auto receptions = spectrum::assess(scene, links, rejection);
        for (const auto& viewer : spectrum::viewers(scene)) {
            const auto standing = spectrum::standing(receptions, viewer);
            const auto known =
                std::ranges::find(tables.viewers(), viewer.owner, &spectrum::Viewer::owner);
            const auto i = static_cast<std::size_t>(known - tables.viewers().begin());
            if (tables.is_wronged(i, standing)) return -INFINITY;
            worst[i] = tables.counts(i) ? tables.margin(standing).count() : INFINITY;
        }
    }
    if (worst.size() != tables.viewers().size()) return -INFINITY;
    double least = INFINITY;
    for (const auto& [who, margin_db] : worst) least = std::min(least, margin_db);
    return least;
}

// --- who is on the air, and where

/// Ground sides that go with some of those who are alike in everything else.
Question alike_but_for_beside(std::mt19937_64& rng) {
    auto question = testing::crowd({.pilots = 3, .spread_m = 0});
    for (auto& allowed : question.allowed)
        allowed.channels = {5658_MHz, 5685_MHz, 5732_MHz, 5752_MHz};
    // The third stands elsewhere, so that it matters who of the first two is beside it.
    question.scene.receivers[2].at = {between(rng, 5, 20), 0, 1.7};
    auto beside = random_beside(rng, question);
    beside.transmitter.hops.reset();
    beside.transmitter.duty = 1;
    beside.transmitter.power = spectrum::Dbm(between(rng, 0, 24));
    beside.transmitter.at = spectrum::Point{between(rng, 5, 20), between(rng, -10, -1), 1.7};
    beside.follows = someone(rng, 2);
    beside.transmitter.spares = *beside.follows;
    question.beside = {beside};
    return question;
}

TEST(Beside, IsInEveryGroupUnlessItFollowsSomebody) {
    for_all(60, [](std::mt19937_64& rng) {
        auto question = random_question_with_beside(rng);
        question.groups = static_cast<std::size_t>(whole(rng, 1, 3));
        const Tables tables(question);
        const auto choice = random_choice(rng, tables.problem());
        for (std::size_t group = 0; group < question.groups; ++group) {
            const auto scene = tables.scene(choice, group);
            const auto members = tables.members(choice, group);
            ASSERT_EQ(members.size(), scene.transmitters.size());
            for (std::size_t i = 0; i < question.beside.size(); ++i) {
                const auto& follows = question.beside[i].follows;
                const auto at = std::ranges::find(members, choice.size() + i);
                EXPECT_EQ(at != members.end(), !follows || choice[*follows].group == group);
                if (at == members.end()) continue;
                const auto& found =
                    scene.transmitters[static_cast<std::size_t>(at - members.begin())];
                EXPECT_EQ(found.frequency, follows ? tables.channel(choice[*follows])
                                                   : question.beside[i].transmitter.frequency);
                EXPECT_EQ(found.power, question.beside[i].transmitter.power);
            }
        }
    });
}

TEST(Beside, CountsInWhatAChoiceIsReckonedToBe) {
    for_all(100, [](std::mt19937_64& rng) {
        auto question = random_question_with_beside(rng);
        question.groups = static_cast<std::size_t>(whole(rng, 1, 3));
        const Tables tables(question);
        const auto choice = random_choice(rng, tables.problem());
        const double expected = worst_by_hand(tables, choice);
        if (std::isinf(expected))
            EXPECT_EQ(tables.reckon(choice), expected);
        else
            EXPECT_NEAR(tables.reckon(choice), expected, rounding_db);
    });
}

TEST(Beside, MakesNoChoiceBetter) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto question = random_question_with_beside(rng);
        auto quiet = question;
        quiet.beside.clear();
        const Tables with(question), without_it(quiet);
        const auto choice = random_choice(rng, with.problem());
        EXPECT_LE(with.reckon(choice), without_it.reckon(choice) + rounding_db);
    });
}

// Copies of one that is on whatever group flies take what follows it along.
TEST(Beside, FollowsACopyInTheGroupOfTheCopy) {
    auto question = testing::crowd({.pilots = 3});
    question.beside.push_back(
        {{0, 5800_MHz, 20_dBm, testing::upright("dipole", spectrum::Polarisation::vertical), 0_dB,
          spectrum::Point{2, -3, 1.7}},
         0});
    question.groups = 2;
    question.copies = {{2, 0}};
    const Tables tables(question);
    const auto at = [&](std::size_t t, int mhz, std::size_t group) {
        return *tables.pick(t, spectrum::from_mhz(mhz), 14_dBm, group);
    };
    const Choice choice = {at(0, 5658, 0), at(1, 5800, 0), at(2, 5658, 1)};
    for (std::size_t group = 0; group < 2; ++group) {
        const auto scene = tables.scene(choice, group);
        EXPECT_EQ(scene.transmitters.back().frequency, 5658_MHz) << "group " << group;
        EXPECT_EQ(tables.members(choice, group).back(), 3U);
    }
}

TEST(Beside, GoesWithWhomItFollows) {
    for_all(40, [](std::mt19937_64& rng) {
        const auto question = random_question_with_beside(rng);
        const auto gone = someone(rng, question.scene.transmitters.size());
        const auto left = without(question, gone);
        std::vector<std::optional<std::size_t>> expected;
        for (const auto& beside : question.beside) {
            if (beside.follows == gone) continue;
            expected.push_back(beside.follows && *beside.follows > gone
                                   ? std::optional(*beside.follows - 1)
                                   : beside.follows);
        }
        ASSERT_EQ(left.beside.size(), expected.size());
        for (std::size_t i = 0; i < expected.size(); ++i)
            EXPECT_EQ(left.beside[i].follows, expected[i]);
    });
}

// --- what is proved is so

TEST(BesideBestChoice, IsAsGoodAsTheBestOfAll) {
    for_all(100, [](std::mt19937_64& rng) {
        auto question = random_question_with_beside(rng);
        if (question.scene.transmitters.size() < 4 && chance(rng, 30)) question.groups = 2;
        const Tables tables(question);
        if (tables.viewers().empty()) return;
        const auto expected = every_choice(tables.problem(), tables.reckon());
        Effort effort;
        effort.moves_max = someone(rng, 30);
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        ASSERT_EQ(found.best.has_value(), expected.best.has_value());
        if (!found.best) return;
        EXPECT_EQ(found.worst_db, tables.reckon(*found.best));
        EXPECT_GE(found.bound_db, expected.worst_db - rounding_db);
        if (std::isinf(expected.worst_db)) return;
        if (found.proved) {
            EXPECT_NEAR(found.worst_db, expected.worst_db, effort.tolerance_db + rounding_db);
        }
        EXPECT_LE(found.worst_db, expected.worst_db + rounding_db);
    });
}

TEST(BesideBestChoice, NeverTellsABoundThatSomeChoiceBeats) {
    for_all(60, [](std::mt19937_64& rng) {
        const Tables tables(random_question_with_beside(rng));
        if (tables.viewers().empty()) return;
        const auto expected = every_choice(tables.problem(), tables.reckon());
        Effort effort;
        effort.nodes_max = static_cast<std::uint64_t>(whole(rng, 1, 20));
        effort.moves_max = 1;
        effort.progress = [&](const Outcome& now) {
            EXPECT_GE(now.bound_db, expected.worst_db - rounding_db);
        };
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        EXPECT_GE(found.bound_db, expected.worst_db - rounding_db);
        EXPECT_LE(found.worst_db, expected.worst_db + rounding_db);
    });
}

TEST(BesideChoiceReaching, IsFoundIfAndOnlyIfThereIsOne) {
    for_all(60, [](std::mt19937_64& rng) {
        const Tables tables(random_question_with_beside(rng));
        if (tables.viewers().empty()) return;
        const auto best = every_choice(tables.problem(), tables.reckon());
        const double target = best.worst_db + between(rng, -3, 3);
        const auto found = choice_reaching(tables.problem(), tables.reckon(), target, {});
        EXPECT_EQ(found.worst_db >= target, best.worst_db >= target);
        EXPECT_GE(found.bound_db, best.worst_db - rounding_db);
    });
}

// --- groups and moves

/// The fewest groups by trying every choice with ever more of them.
std::optional<std::size_t> groups_by_trial(Question question, double target_db, std::size_t most) {
    for (question.groups = 1; question.groups <= most; ++question.groups) {
        const Tables tables(question);
        if (every_choice(tables.problem(), tables.reckon()).worst_db >= target_db)
            return question.groups;
    }
    return std::nullopt;
}

TEST(BesideFewestGroups, AreThoseOfTryingEveryRota) {
    for_all(25, [](std::mt19937_64& rng) {
        const auto question = random_question_with_beside(rng, 3);
        const auto n = question.allowed.size();
        const double target = between(rng, -6, 6);
        const auto expected = groups_by_trial(question, target, n);
        const auto found = fewest_groups(question, Decibel(target), n, {});
        ASSERT_EQ(found.choice.has_value(), expected.has_value());
        if (!found.choice) return;
        EXPECT_LE(found.groups_at_least, *expected);
        EXPECT_GE(found.groups, *expected);
        if (found.proved) {
            EXPECT_EQ(found.groups, *expected);
        }
        EXPECT_GE(found.tables->reckon(*found.choice), target);
    });
}

TEST(BesideFewMoves, AreTheFewestOfAll) {
    for_all(25, [](std::mt19937_64& rng) {
        const Tables tables(random_question_with_beside(rng));
        if (!tables.anybody_counts()) return;
        const auto held = random_choice(rng, tables.problem());
        const Holds holds(held.begin(), held.end());
        const auto best = every_choice(tables.problem(), tables.reckon());
        if (best.worst_db == -INFINITY) return;
        const double target = best.worst_db + between(rng, -8, 1);
        std::size_t least = SIZE_MAX;
        every_choice(tables.problem(), [&](const Choice& choice) {
            std::size_t moves = 0;
            for (std::size_t t = 0; t < choice.size(); ++t) moves += choice[t] != held[t] ? 1U : 0U;
            if (tables.reckon(choice) >= target) least = std::min(least, moves);
            return 0.0;
        });
        const auto found = few_moves(tables, holds, Decibel(target), holds.size(), {});
        ASSERT_EQ(found.plan.has_value(), least != SIZE_MAX);
        if (!found.plan) return;
        EXPECT_LE(found.least, least);
        if (found.proved) {
            EXPECT_EQ(found.least, least);
        }
        EXPECT_GE(tables.reckon(found.plan->choice), target - rounding_db);
    });
}

// Those who may not be swapped, though only what is beside them tells them apart.
TEST(BesideBestChoice, DoesNotTakeForTwinsWhomSomethingFollows) {
    for_all(60, [](std::mt19937_64& rng) {
        auto question = alike_but_for_beside(rng);
        if (chance(rng, 30)) question.groups = 2;
        const Tables tables(question);
        const auto expected = every_choice(tables.problem(), tables.reckon());
        const auto found = best_choice(tables.problem(), tables.reckon(), {});
        ASSERT_TRUE(found.best);
        EXPECT_GE(found.bound_db, expected.worst_db - rounding_db);
        if (found.proved) {
            EXPECT_NEAR(found.worst_db, expected.worst_db, Effort{}.tolerance_db + rounding_db);
        }
    });
}

// Two on half a channel and the whole one: who of them has the dirty transmitter belongs above.
TEST(BesideBestChoice, DoesNotTakeForTwinsWhoseHarmonicsDiffer) {
    for (const std::size_t dirty : {0U, 1U}) {
        auto question = testing::crowd({.pilots = 2, .spread_m = 0});
        for (auto& profile : question.scene.profiles) profile.front_end_low = 2000_MHz;
        for (auto& allowed : question.allowed) allowed.channels = {2870_MHz, 5740_MHz};
        question.scene.transmitters[dirty].harmonics_below = {Decibel(1), Decibel(1)};
        const Tables tables(question);
        const auto expected = every_choice(tables.problem(), tables.reckon());
        const auto found = best_choice(tables.problem(), tables.reckon(), {});
        ASSERT_TRUE(found.best);
        EXPECT_NEAR(found.worst_db, expected.worst_db, Effort{}.tolerance_db + rounding_db)
            << dirty;
    }
}

}  // namespace
}  // namespace fieldpeg::planner
