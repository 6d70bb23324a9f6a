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
#include <set>

namespace fieldpeg::planner {
namespace {

using testing::chance;
using testing::for_all;
using testing::random_question;
using testing::whole;

constexpr double rounding_db = 1e-6;
constexpr double table_rounding_db = 1e-4;  // diversity is solved for to less than that

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(whole(rng, 0, static_cast<int>(size) - 1));
}

/// Any lawful choice, not a good one.
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

/// One scene of those transmitters alone that fly in a group, assessed as a check would.
double worst_by_scenes(const Tables& tables, const Choice& choice) {
    double worst = INFINITY;
    std::set<std::size_t> seeing;
    for (std::size_t group = 0; group < tables.question().groups; ++group) {
        auto alone = tables.question().scene;
        alone.transmitters.clear();
        std::map<std::size_t, std::size_t> index;
        for (std::size_t t = 0; t < choice.size(); ++t) {
            if (choice[t].group != group) continue;
            index[t] = alone.transmitters.size();
            alone.transmitters.push_back(tables.question().scene.transmitters[t]);
            alone.transmitters.back().frequency = tables.channel(choice[t]);
            alone.transmitters.back().power = tables.power(t, choice[t]);
        }
        if (alone.transmitters.empty()) continue;
        for (auto& receiver : alone.receivers) {
            if (receiver.hears)
                receiver.hears = index.contains(*receiver.hears)
                                     ? std::optional(index.at(*receiver.hears))
                                     : std::nullopt;
            if (receiver.feeds)
                receiver.feeds = index.contains(*receiver.feeds) ? index.at(*receiver.feeds)
                                                                 : spectrum::Receiver::silent;
        }
        spectrum::RejectionTables rejection(alone);
        const spectrum::LinkTable links(alone);
        const auto receptions = spectrum::assess(alone, links, rejection);
        for (const auto& viewer : spectrum::viewers(alone)) {
            seeing.insert(viewer.owner);
            const auto standing = spectrum::standing(receptions, viewer);
            const auto known =
                std::ranges::find(tables.viewers(), viewer.owner, &spectrum::Viewer::owner);
            if (tables.counts(static_cast<std::size_t>(known - tables.viewers().begin())))
                worst = std::min(worst, tables.margin(standing).count());
            else if (spectrum::interference(standing) != spectrum::Interference::none)
                return -INFINITY;
        }
    }
    return seeing.size() == tables.viewers().size() ? worst : -INFINITY;
}

Question random_rota(std::mt19937_64& rng) {
    auto question = random_question(rng, 4);
    question.groups = static_cast<std::size_t>(whole(rng, 1, 3));
    return question;
}

Question random_bands(std::mt19937_64& rng) {
    Question question{testing::random_scene(rng, testing::Channels::three_bands, 6), {}};
    for (std::size_t t = 0; t < question.scene.transmitters.size(); ++t) {
        auto& allowed = question.allowed.emplace_back();
        allowed.powers = {question.scene.transmitters[t].power};
        question.scene.transmitters[t].duty = 1;
        question.scene.transmitters[t].hops.reset();
        question.scene.transmitters[t].spares.reset();
        for (int i = 0; i < 3; ++i)
            allowed.channels.push_back(testing::random_scene(rng, testing::Channels::three_bands, 2)
                                           .transmitters[0]
                                           .frequency);
    }
    return question;
}

// The plain margin function knows nothing of tables, groups and bands.
TEST(Tables, SayOfAnyChoiceWhatTheMarginFunctionSays) {
    for_all(100, [](std::mt19937_64& rng) {
        const bool in_bands = chance(rng, 50);
        const Tables tables(in_bands ? random_bands(rng) : random_rota(rng));
        const auto choice = random_choice(rng, tables.problem());
        const double expected = worst_by_scenes(tables, choice);
        const double by_tables = worst_margin_db(tables.problem(), choice);
        if (std::isinf(expected)) {
            EXPECT_EQ(tables.reckon(choice), expected);
            EXPECT_GE(by_tables, expected);
            return;
        }
        EXPECT_NEAR(tables.reckon(choice), expected, rounding_db);
        // Harmonics, which no tables hold, make it less; nothing makes it more.
        EXPECT_GE(by_tables, expected - table_rounding_db);
        if (!in_bands && tables.question().groups == 1) {
            EXPECT_NEAR(by_tables, expected, table_rounding_db);
        }
    });
}

// Two who fly low over each other's heads: what the closest pass costs is a goal of the search
// unless tight is enough.
TEST(Tables, MindTheClosestPassUnlessTightWillDo) {
    auto question = testing::crowd({.pilots = 2});
    for (std::size_t t = 0; t < 2; ++t) {
        question.scene.transmitters[t].at = spectrum::Envelope{0, 10, 30, 1, 15, 1};
        question.allowed[t].channels = {spectrum::from_mhz(t == 0 ? 5658 : 5695)};
    }
    const auto worst_db = [&](Accept accept) {
        question.accept = accept;
        const Tables tables(question);
        const Choice choice = {{0, 0, 0, 0}, {0, 0, 1, 0}};
        EXPECT_NEAR(worst_margin_db(tables.problem(), choice), tables.reckon(choice),
                    table_rounding_db);
        return tables.reckon(choice);
    };
    EXPECT_LT(worst_db(Accept::steady), worst_db(Accept::tight) - 3);
}

TEST(BestChoice, IsAsGoodAsTheBestOfAll) {
    for_all(100, [](std::mt19937_64& rng) {
        auto question = random_question(rng, 4);
        if (question.scene.transmitters.size() < 4 && chance(rng, 30)) question.groups = 2;
        const Tables tables(question);
        const auto expected = every_choice(tables.problem(), tables.reckon());
        Effort effort;
        effort.moves_max = someone(rng, 30);  // a poor start must do as well
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        ASSERT_EQ(found.best.has_value(), expected.best.has_value());
        if (!found.best || tables.viewers().empty()) return;
        EXPECT_TRUE(found.proved);
        if (std::isinf(expected.worst_db)) {  // nobody counts, or somebody is wronged by all
            EXPECT_EQ(found.worst_db, expected.worst_db);
            return;
        }
        EXPECT_NEAR(found.worst_db, expected.worst_db, effort.tolerance_db + rounding_db);
        EXPECT_GE(found.bound_db, expected.worst_db - rounding_db);
        EXPECT_EQ(found.worst_db, tables.reckon(*found.best));
    });
}

// Whenever it is stopped, nobody can beat the bound it tells.
TEST(BestChoice, NeverTellsABoundThatSomeChoiceBeats) {
    for_all(60, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (tables.viewers().empty()) return;
        const auto expected = every_choice(tables.problem(), tables.reckon());
        Effort effort;
        effort.nodes_max = static_cast<std::uint64_t>(whole(rng, 1, 20));
        effort.moves_max = 1;
        double bound = INFINITY, worst = -INFINITY;
        effort.progress = [&](const Outcome& now) {
            EXPECT_GE(now.bound_db, expected.worst_db - rounding_db);
            EXPECT_LE(now.bound_db, bound + rounding_db);
            EXPECT_GE(now.worst_db, worst);
            bound = now.bound_db;
            worst = now.worst_db;
        };
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        EXPECT_GE(found.bound_db, expected.worst_db - rounding_db);
        EXPECT_LE(found.worst_db, expected.worst_db + rounding_db);
    });
}

TEST(BestChoice, GivesEverybodyOnlyWhatIsAllowed) {
    for_all(60, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 6));
        Effort effort;
        effort.nodes_max = 2000;
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        ASSERT_TRUE(found.best);
        for (std::size_t t = 0; t < found.best->size(); ++t) {
            const auto& allowed = tables.question().allowed[t];
            const auto& pick = (*found.best)[t];
            EXPECT_NE(std::ranges::find(allowed.channels, tables.channel(pick)),
                      allowed.channels.end());
            EXPECT_LT(pick.power, allowed.powers.size());
        }
    });
}

TEST(ChoiceReaching, IsFoundIfAndOnlyIfThereIsOne) {
    for_all(60, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (tables.viewers().empty()) return;
        const auto best = every_choice(tables.problem(), tables.reckon());
        const double target = best.worst_db + testing::between(rng, -3, 3);
        const auto found = choice_reaching(tables.problem(), tables.reckon(), target, {});
        EXPECT_EQ(found.worst_db >= target, best.worst_db >= target);
        EXPECT_GE(found.bound_db, best.worst_db - rounding_db);
        if (best.worst_db < target) {
            EXPECT_LE(found.bound_db, target + rounding_db);
        }
    });
}

TEST(BestChoice, IsNoneWhereSomebodyHasNothingToChoose) {
    auto question = testing::crowd({3});
    question.allowed[1].channels.clear();
    const Tables tables(question);
    const auto found = best_choice(tables.problem(), tables.reckon(), {});
    EXPECT_FALSE(found.best);
    EXPECT_FALSE(found.proved);
    question = testing::crowd({3});
    question.allowed[1].powers.clear();
    const Tables without_power(question);
    EXPECT_FALSE(best_choice(without_power.problem(), without_power.reckon(), {}).best);
}

TEST(BestChoice, OfNobodyIsEmptyAndProved) {
    const Tables tables(Question{});
    const auto found = best_choice(tables.problem(), tables.reckon(), {});
    ASSERT_TRUE(found.best);
    EXPECT_TRUE(found.best->empty());
}

TEST(BestChoice, StopsWhenAskedTo) {
    const Tables tables(testing::crowd({8}));
    Effort effort;
    int asked = 0;
    effort.stop = [&] { return ++asked > 40; };
    const auto found = best_choice(tables.problem(), tables.reckon(), effort);
    ASSERT_TRUE(found.best);
    EXPECT_FALSE(found.proved);
    EXPECT_GT(found.bound_db, found.worst_db);
}

TEST(BestChoice, IsTheSameEveryTime) {
    const Tables tables(testing::crowd({6, 3, {14, 20}}));
    const auto once = best_choice(tables.problem(), tables.reckon(), {});
    const auto again = best_choice(tables.problem(), tables.reckon(), {});
    EXPECT_EQ(once.best, again.best);
    EXPECT_EQ(once.nodes, again.nodes);
}

}  // namespace
}  // namespace fieldpeg::planner
