#include "server/planner/few_moves.h"
#include "server/planner/obstacle.h"
#include "server/planner/plan.h"
#include "server/planner/room.h"
#include "server/planner/rota.h"
#include "tests/planner/questions.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <vector>

namespace fieldpeg::planner {
namespace {

using namespace spectrum::literals;
using spectrum::Decibel;
using testing::between;
using testing::for_all;
using testing::random_question;
using testing::whole;

constexpr double rounding_db = 1e-6;

std::vector<double> sorted_margins(const Tables& tables, const Choice& choice) {
    std::vector<double> all;
    for (const auto& standing : tables.standings(choice))
        all.push_back(tables.margin(standing).count());
    std::ranges::sort(all);
    return all;
}

/// Calls visit(choice) for every lawful choice.
void for_each_choice(const Tables& tables, const std::function<void(const Choice&)>& visit) {
    every_choice(tables.problem(), [&](const Choice& choice) {
        visit(choice);
        return 0.0;
    });
}

std::size_t moved(const Holds& from, const Choice& to) {
    std::size_t count = 0;
    for (std::size_t t = 0; t < to.size(); ++t)
        count += from[t] && *from[t] != to[t] ? std::size_t{1} : 0;
    return count;
}

TEST(BestPlan, TellsTheMarginsOfACheckOfThePlannedDay) {
    for_all(25, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 5));
        if (tables.links().empty()) return;
        const auto plan = best_plan(tables, {});
        ASSERT_TRUE(plan);
        const auto scene = tables.scene(plan->choice);
        const auto budgets = spectrum::assess(scene);
        for (std::size_t l = 0; l < tables.links().size(); ++l) {
            std::vector<spectrum::Standing> receivers;
            std::size_t heard = 0;  // receivers that hear nothing are left out of the scene
            for (std::size_t v = 0; v < tables.question().scene.receivers.size(); ++v) {
                const auto& receiver = tables.question().scene.receivers[v];
                if (!receiver.hears) continue;
                const auto& in_link = tables.links()[l].receivers;
                if (std::ranges::find(in_link, v) != in_link.end())
                    receivers.push_back(
                        spectrum::standing(*budgets[heard], scene.profiles[receiver.profile]));
                ++heard;
            }
            const auto expected = spectrum::best_of(receivers);
            EXPECT_NEAR(plan->standings[l].ref.count(), expected.ref.count(), 0.01);
            EXPECT_NEAR(plan->standings[l].worst.count(), expected.worst.count(), 0.01);
            EXPECT_NEAR(plan->standings[l].sharp.count(), expected.sharp.count(), 0.01);
        }
        EXPECT_NEAR(plan->worst.count(), tables.reckon(plan->choice), rounding_db);
    });
}

TEST(RaiseTheRest, LeavesNobodyWorseOffThanTheyWereInRank) {
    for_all(25, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 5));
        const auto found = best_choice(tables.problem(), tables.reckon(), {});
        const auto before = sorted_margins(tables, *found.best);
        const auto after = sorted_margins(tables, raise_the_rest(tables, *found.best, {}));
        EXPECT_TRUE(std::ranges::lexicographical_compare(before, after) || before == after)
            << ::testing::PrintToString(before) << ::testing::PrintToString(after);
    });
}

// By trying every choice: with the worst off held, nobody can raise the next further.
TEST(RaiseTheRest, RaisesTheSecondWorstAsFarAsItGoes) {
    for_all(25, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 3));
        if (tables.links().size() < 2) return;
        const auto found = best_choice(tables.problem(), tables.reckon(), {});
        const auto before = tables.standings(*found.best);
        std::size_t worst = 0;
        for (std::size_t l = 0; l < before.size(); ++l)
            if (tables.margin(before[l]) < tables.margin(before[worst])) worst = l;
        double best = -INFINITY;
        const auto second = [&](const Choice& choice) -> double {
            const auto now = tables.standings(choice);
            if (tables.margin(now[worst]) < tables.margin(before[worst])) return -INFINITY;
            double least = INFINITY;
            for (std::size_t l = 0; l < now.size(); ++l)
                if (l != worst) least = std::min(least, tables.margin(now[l]).count());
            return least;
        };
        for_each_choice(
            tables, [&](const Choice& choice) { best = std::max<double>(best, second(choice)); });
        EXPECT_NEAR(second(raise_the_rest(tables, *found.best, {})), best, 0.01 + rounding_db);
    });
}

// Nobody is moved for nothing: who held what the plan has, or as good, has it again.
TEST(SettleBack, CostsNobodyMoreThanIsSaid) {
    for_all(25, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (tables.links().empty()) return;
        std::vector<Choice> all;
        for_each_choice(tables, [&](const Choice& choice) { all.push_back(choice); });
        const auto any = [&] {
            return all[static_cast<std::size_t>(whole(rng, 0, static_cast<int>(all.size()) - 1))];
        };
        const auto planned = any();
        const auto held = any();
        const auto settled = settle_back(tables, planned, Holds(held.begin(), held.end()));
        EXPECT_GE(tables.reckon(settled), tables.reckon(planned) - 0.01);
        const auto was = tables.standings(planned), is = tables.standings(settled);
        for (std::size_t l = 0; l < was.size(); ++l)
            EXPECT_GE(tables.margin(is[l]).count(),
                      tables.margin(was[l]).count() - stay_for.count() - rounding_db);
        EXPECT_EQ(settle_back(tables, held, Holds(held.begin(), held.end())), held);
    });
}

TEST(LowerPowers, TakeTheLeastThatIsSharpAndHarmNobody) {
    for_all(25, [](std::mt19937_64& rng) {
        auto question = random_question(rng, 5);
        for (auto& allowed : question.allowed)
            allowed.powers = {spectrum::Dbm(between(rng, 0, 10)),
                              spectrum::Dbm(between(rng, 10, 20)),
                              spectrum::Dbm(between(rng, 20, 30))};
        const Tables tables(question);
        Effort brief;
        brief.nodes_max = 200;
        const auto before = best_choice(tables.problem(), tables.reckon(), brief);
        const std::vector<bool> all(question.allowed.size(), true);
        const auto after = lower_powers(tables, *before.best, all);
        EXPECT_GE(tables.reckon(after), before.worst_db - rounding_db);
        const auto was = tables.standings(*before.best), is = tables.standings(after);
        for (std::size_t l = 0; l < is.size(); ++l) {
            const auto t = tables.links()[l].transmitter;
            EXPECT_LE(tables.power(t, after[t]), tables.power(t, (*before.best)[t]));
            if (after[t] == (*before.best)[t]) {
                EXPECT_GE(tables.margin(is[l]).count(),
                          tables.margin(was[l]).count() - rounding_db);
            } else {
                EXPECT_GE(is[l].sharp, 0_dB);
            }
        }
    });
}

TEST(FewMoves, AreTheFewestOfAll) {
    for_all(40, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (tables.links().empty()) return;
        std::vector<Choice> all;
        for_each_choice(tables, [&](const Choice& choice) { all.push_back(choice); });
        const auto& held =
            all[static_cast<std::size_t>(whole(rng, 0, static_cast<int>(all.size()) - 1))];
        Holds holds(held.begin(), held.end());
        if (whole(rng, 0, 1) == 1) holds.back().reset();  // a newcomer
        const auto best = every_choice(tables.problem(), tables.reckon());
        const double target = best.worst_db + between(rng, -8, 1);
        std::size_t least = SIZE_MAX;
        double margin = -INFINITY;
        for (const auto& choice : all) {
            const double worst = tables.reckon(choice);
            const auto moves = moved(holds, choice);
            if (worst < target || moves > least) continue;
            margin = moves < least ? worst : std::max(margin, worst);
            least = moves;
        }
        const auto found = few_moves(tables, holds, Decibel(target), holds.size(), {});
        EXPECT_TRUE(found.proved);
        ASSERT_EQ(found.plan.has_value(), least != SIZE_MAX);
        if (!found.plan) return;
        EXPECT_EQ(found.least, least);
        EXPECT_EQ(moved(holds, found.plan->choice), least);
        EXPECT_NEAR(found.plan->worst.count(), margin, 0.01 + rounding_db);
        EXPECT_GE(found.plan->bound.count(), margin - rounding_db);
    });
}

/// The fewest groups by trying every choice with ever more of them.
std::optional<std::size_t> groups_by_trial(Question question, double target_db, std::size_t most) {
    for (question.groups = 1; question.groups <= most; ++question.groups) {
        const Tables tables(question);
        if (every_choice(tables.problem(), tables.reckon()).worst_db >= target_db)
            return question.groups;
    }
    return std::nullopt;
}

TEST(FewestGroups, AreThoseOfTryingEveryRota) {
    for_all(25, [](std::mt19937_64& rng) {
        auto question = random_question(rng, 3);
        const auto n = question.allowed.size();
        if (n >= 3 && testing::chance(rng, 40)) {
            auto& pairs = testing::chance(rng, 50) ? question.apart : question.together;
            pairs.emplace_back(0, static_cast<std::size_t>(whole(rng, 1, 2)));
        }
        const double target = between(rng, -6, 6);
        const auto expected = groups_by_trial(question, target, n);
        const auto found = fewest_groups(question, Decibel(target), n, {});
        ASSERT_EQ(found.choice.has_value(), expected.has_value());
        EXPECT_TRUE(found.proved);
        if (!found.choice) return;
        EXPECT_EQ(found.groups, *expected);
        EXPECT_EQ(found.groups_at_least, *expected);
        EXPECT_EQ(found.choice->size(), n);  // everybody once
        EXPECT_GE(found.tables->reckon(*found.choice), target);
        for (const auto& [a, b] : question.apart)
            EXPECT_NE((*found.choice)[a].group, (*found.choice)[b].group);
        for (const auto& [a, b] : question.together)
            EXPECT_EQ((*found.choice)[a].group, (*found.choice)[b].group);
    });
}

// Whatever the effort, what is told of the number of groups holds.
TEST(FewestGroups, NeverExcludeANumberThatWouldDo) {
    for_all(25, [](std::mt19937_64& rng) {
        const auto question = random_question(rng, 3);
        const double target = between(rng, -6, 6);
        const auto expected = groups_by_trial(question, target, 3);
        if (!expected) return;
        EXPECT_LE(groups_needed(Tables([&] {
                                    auto asked = question;
                                    asked.groups = 2;
                                    return asked;
                                }())
                                    .problem(),
                                target),
                  *expected);
        Effort effort;
        effort.nodes_max = 10;
        const auto found = fewest_groups(question, Decibel(target), 3, effort);
        EXPECT_LE(found.groups_at_least, *expected);
        if (found.choice) {
            EXPECT_GE(found.groups, *expected);
            EXPECT_GE(found.tables->reckon(*found.choice), target);
        }
    });
}

// By trying every choice with one more, then with the first of them on each channel.
TEST(Room, IsForAsManyAsFit) {
    for_all(20, [](std::mt19937_64& rng) {
        auto question = random_question(rng, 2);
        const Newcomer kind{question.scene.transmitters[0],
                            {question.scene.receivers[0]},
                            {question.allowed[0].channels, {question.scene.transmitters[0].power}}};
        const auto asked = [&](std::size_t count, std::optional<spectrum::Hertz> first) {
            auto more = question;
            for (std::size_t i = 0; i < count; ++i) {
                more.scene.transmitters.push_back(kind.transmitter);
                more.scene.receivers.push_back(kind.receivers[0]);
                more.scene.receivers.back().hears = more.scene.transmitters.size() - 1;
                more.allowed.push_back(kind.allowed);
                if (i == 0 && first) more.allowed.back().channels = {*first};
            }
            const Tables tables(more);
            return every_choice(tables.problem(), tables.reckon()).worst_db;
        };
        const double target = between(rng, -30, 3);
        std::size_t expected = 0;
        while (expected < 2 && asked(expected + 1, {}) >= target) ++expected;
        const auto found = room(question, kind, Decibel(target), 2, {});
        EXPECT_EQ(found.more, expected);
        EXPECT_EQ(found.proved, expected < 2);
        for (const auto channel : kind.allowed.channels) {
            if (expected == 0) break;
            const bool keeps = std::ranges::find(found.channels, channel) != found.channels.end();
            EXPECT_EQ(keeps, asked(expected, channel) >= target);
        }
    });
}

TEST(Obstacle, IsThePilotWhoFliesTooFarAlone) {
    auto question = testing::crowd({3});
    question.scene.transmitters[1].at = spectrum::Envelope{0, 5000, 50, 3, 40};
    const Tables tables(question);
    const auto plan = best_plan(tables, {});
    ASSERT_TRUE(plan);
    const auto found = obstacle(tables, plan->choice, 0_dB);
    ASSERT_TRUE(found);
    EXPECT_EQ(tables.links()[found->link].transmitter, 1U);
    EXPECT_EQ(found->limit, Obstacle::Limit::range);
}

TEST(Obstacle, NamesTheNeighbourOnTheSameChannel) {
    auto question = testing::crowd({2});
    for (auto& allowed : question.allowed) allowed.channels = {5800_MHz};
    const Tables tables(question);
    const auto plan = best_plan(tables, {});
    ASSERT_TRUE(plan);
    const auto found = obstacle(tables, plan->choice, 0_dB);
    ASSERT_TRUE(found);
    EXPECT_EQ(found->limit, Obstacle::Limit::others);
    ASSERT_TRUE(found->strongest);
    EXPECT_EQ(found->strongest->kind, spectrum::Contribution::Kind::co_channel);
    const auto victim = tables.links()[found->link].transmitter;
    EXPECT_EQ(found->strongest->from, (std::vector<std::size_t>{1 - victim}));
    EXPECT_NEAR(found->margin.count(), plan->worst.count(), rounding_db);
    EXPECT_FALSE(obstacle(tables, plan->choice, plan->worst));
}

// A loud transmitter beside a pilot's goggles: no channel helps, the pair are strangers.
TEST(Obstacle, IsALoudNeighbourWhomNoChannelCures) {
    auto question = testing::crowd({2, 3, {14, 30}});
    question.scene.transmitters[1].at = spectrum::Point{0.5, 0, 1.7};
    const Tables tables(question);
    const auto plan = best_plan(tables, {});
    ASSERT_TRUE(plan);
    const auto found = obstacle(tables, plan->choice, 0_dB);
    ASSERT_TRUE(found);
    EXPECT_EQ(found->limit, Obstacle::Limit::swamped);
    ASSERT_TRUE(found->strangers);
    EXPECT_EQ(*found->strangers, std::pair(std::size_t{0}, std::size_t{1}));
}

// Two share the only channel they have: another channel for either, or one staying out, cures it.
TEST(Reliefs, ComeBestFirstAndCureWhatIsWrong) {
    auto question = testing::crowd({3});
    question.allowed[0].channels = question.allowed[1].channels = {5665_MHz};
    question.allowed[2].channels = {5917_MHz, 5800_MHz};
    const auto found = reliefs(question, {});
    ASSERT_FALSE(found.empty());
    EXPECT_TRUE(std::ranges::is_sorted(found, std::greater<>{}, &Relief::worst));
    EXPECT_NE(found.front().transmitter, 2U);
    EXPECT_GE(found.front().worst, 0_dB);
    EXPECT_LT(found.back().worst, 0_dB);
    EXPECT_EQ(found.back().transmitter, 2U);
}

}  // namespace
}  // namespace fieldpeg::planner
