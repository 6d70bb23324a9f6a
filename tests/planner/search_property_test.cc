#include "server/planner/search.h"

#include "server/planner/tables.h"
#include "tests/planner/questions.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace fieldpeg::planner {
namespace {

using testing::chance;
using testing::for_all;
using testing::random_question;
using testing::whole;

constexpr double rounding_db = 1e-6;

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
    for (std::size_t group = 0; group < tables.question().groups; ++group) {
        spectrum::Scene alone{
            tables.question().scene.emissions, tables.question().scene.profiles, {}, {}};
        std::vector<std::size_t> index(choice.size(), SIZE_MAX);
        for (std::size_t t = 0; t < choice.size(); ++t) {
            if (choice[t].group != group) continue;
            index[t] = alone.transmitters.size();
            alone.transmitters.push_back(tables.question().scene.transmitters[t]);
            alone.transmitters.back().frequency = tables.channel(choice[t]);
            alone.transmitters.back().power = tables.power(t, choice[t]);
        }
        if (alone.transmitters.empty()) continue;
        std::vector<std::vector<std::size_t>> links;
        for (const auto& link : tables.links()) {
            if (index[link.transmitter] == SIZE_MAX) continue;
            auto& receivers = links.emplace_back();
            for (const auto v : link.receivers) {
                receivers.push_back(alone.receivers.size());
                alone.receivers.push_back(tables.question().scene.receivers[v]);
                alone.receivers.back().hears = index[link.transmitter];
            }
        }
        const auto budgets = spectrum::assess(alone);
        for (const auto& link : links) {
            std::vector<spectrum::Standing> all;
            for (const auto v : link)
                all.push_back(
                    spectrum::standing(*budgets[v], alone.profiles[alone.receivers[v].profile]));
            worst = std::min(worst, tables.margin(spectrum::best_of(all)).count());
        }
    }
    return worst;
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
        const Tables tables(chance(rng, 50) ? random_rota(rng) : random_bands(rng));
        const auto choice = random_choice(rng, tables.problem());
        const double expected = worst_by_scenes(tables, choice);
        EXPECT_NEAR(tables.reckon(choice), expected, rounding_db);
        EXPECT_NEAR(worst_margin_db(tables.problem(), choice), expected, rounding_db);
    });
}

TEST(BestChoice, IsAsGoodAsTheBestOfAll) {
    for_all(200, [](std::mt19937_64& rng) {
        auto question = random_question(rng, 4);
        if (question.scene.transmitters.size() < 4 && chance(rng, 30)) question.groups = 2;
        const Tables tables(question);
        const auto expected = every_choice(tables.problem(), tables.reckon());
        Effort effort;
        effort.moves_max = someone(rng, 30);  // a poor start must do as well
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        ASSERT_EQ(found.best.has_value(), expected.best.has_value());
        if (!found.best || tables.links().empty()) return;
        EXPECT_TRUE(found.proved);
        EXPECT_NEAR(found.worst_db, expected.worst_db, effort.tolerance_db + rounding_db);
        EXPECT_GE(found.bound_db, expected.worst_db - rounding_db);
        EXPECT_EQ(found.worst_db, tables.reckon(*found.best));
    });
}

// Whenever it is stopped, nobody can beat the bound it tells.
TEST(BestChoice, NeverTellsABoundThatSomeChoiceBeats) {
    for_all(60, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (tables.links().empty()) return;
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
        if (tables.links().empty()) return;
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
