#include "server/planner/few_moves.h"
#include "server/planner/obstacle.h"
#include "server/planner/plan.h"
#include "server/planner/room.h"
#include "server/planner/rota.h"
#include "server/spectrum/standing.h"
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

/// Of those that count; the others infinite.
std::vector<double> margins(const Tables& tables, const Choice& choice) {
    std::vector<double> all;
    const auto standings = tables.standings(choice);
    for (std::size_t i = 0; i < standings.size(); ++i)
        all.push_back(standings[i] && tables.counts(i) ? tables.margin(*standings[i]).count()
                                                       : INFINITY);
    return all;
}

std::vector<double> sorted_margins(const Tables& tables, const Choice& choice) {
    auto all = margins(tables, choice);
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
        if (!tables.anybody_counts()) return;
        const auto plan = best_plan(tables, {});
        ASSERT_TRUE(plan);
        const auto scene = tables.scene(plan->choice);
        const spectrum::LinkTable links(scene);
        spectrum::RejectionTables rejection(scene);
        const auto receptions = spectrum::assess(scene, links, rejection);
        for (std::size_t i = 0; i < tables.viewers().size(); ++i) {
            const auto expected = spectrum::standing(receptions, tables.viewers()[i]);
            EXPECT_NEAR(plan->standings[i]->good.count(), expected.good.count(), 0.01);
            EXPECT_NEAR(plan->standings[i]->closest.count(), expected.closest.count(), 0.01);
            EXPECT_NEAR(plan->standings[i]->sharp.count(), expected.sharp.count(), 0.01);
        }
        const double reckoned = tables.reckon(plan->choice);
        if (!std::isfinite(reckoned)) return;
        EXPECT_NEAR(plan->worst.count(), reckoned, rounding_db);
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
        if (tables.viewers().size() < 2) return;
        const auto found = best_choice(tables.problem(), tables.reckon(), {});
        const auto before = margins(tables, *found.best);
        if (std::ranges::count(before, INFINITY) + 2 > static_cast<int>(before.size()) ||
            found.worst_db == -INFINITY)
            return;
        const auto worst =
            static_cast<std::size_t>(std::ranges::min_element(before) - before.begin());
        double best = -INFINITY;
        const auto second = [&](const Choice& choice) -> double {
            const auto now = margins(tables, choice);
            if (now[worst] < before[worst] || tables.reckon(choice) == -INFINITY) return -INFINITY;
            double least = INFINITY;
            for (std::size_t i = 0; i < now.size(); ++i)
                if (i != worst) least = std::min(least, now[i]);
            return least;
        };
        for_each_choice(
            tables, [&](const Choice& choice) { best = std::max<double>(best, second(choice)); });
        EXPECT_NEAR(second(raise_the_rest(tables, *found.best, {})), best, 0.01 + rounding_db);
    });
}

// Who changed places can only go back together.
TEST(SettleBack, PutsBackThoseWhoChangedPlaces) {
    auto question = testing::crowd({.pilots = 2, .spread_m = 0});
    for (auto& allowed : question.allowed)
        allowed.channels = {spectrum::from_mhz(5658), spectrum::from_mhz(5880)};
    const Tables tables(question);
    const Choice held = {{0, 0, 0, 0}, {0, 0, 1, 0}}, planned = {{0, 0, 1, 0}, {0, 0, 0, 0}};
    EXPECT_EQ(settle_back(tables, planned, Holds(held.begin(), held.end())), held);
}

// Nobody is moved for nothing: who held what the plan has, or as good, has it again.
TEST(SettleBack, CostsNobodyMoreThanIsSaid) {
    for_all(25, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (!tables.anybody_counts()) return;
        std::vector<Choice> all;
        for_each_choice(tables, [&](const Choice& choice) { all.push_back(choice); });
        const auto any = [&] {
            return all[static_cast<std::size_t>(whole(rng, 0, static_cast<int>(all.size()) - 1))];
        };
        const auto planned = any();
        const auto held = any();
        if (tables.reckon(planned) == -INFINITY) return;  // nothing to lose
        const auto settled = settle_back(tables, planned, Holds(held.begin(), held.end()));
        EXPECT_GE(tables.reckon(settled), tables.reckon(planned) - 0.01);
        const auto was = margins(tables, planned), is = margins(tables, settled);
        for (std::size_t i = 0; i < was.size(); ++i)
            EXPECT_GE(is[i], was[i] - stay_for.count() - rounding_db);
        EXPECT_EQ(settle_back(tables, held, Holds(held.begin(), held.end())), held);
    });
}

TEST(LowerPowers, TakeTheLeastThatIsSteadyAndHarmNobody) {
    for_all(25, [](std::mt19937_64& rng) {
        auto question = random_question(rng, 5);
        for (auto& allowed : question.allowed) {
            allowed.powers.clear();
            for (int dbm = 0; dbm < 30; dbm += 2) allowed.powers.push_back(spectrum::Dbm(dbm));
        }
        const Tables tables(question);
        Effort brief;
        brief.nodes_max = 200;
        const auto before = best_choice(tables.problem(), tables.reckon(), brief);
        const std::vector<bool> all(question.allowed.size(), true);
        const auto after = lower_powers(tables, *before.best, all);
        EXPECT_GE(tables.reckon(after), before.worst_db - rounding_db);
        const auto was = margins(tables, *before.best), is = margins(tables, after);
        const auto standings = tables.standings(after);
        for (std::size_t i = 0; i < is.size(); ++i) {
            bool is_lowered = false;
            for (const auto& way : tables.viewers()[i].ways)
                for (const auto& hop : way.hops) {
                    const auto t = hop.transmitter;
                    EXPECT_LE(tables.power(t, after[t]), tables.power(t, (*before.best)[t]));
                    is_lowered |= after[t] != (*before.best)[t];
                }
            if (is_lowered) {
                EXPECT_GE(standings[i]->worst(), 0_dB);
            } else {
                EXPECT_GE(is[i], was[i] - rounding_db);
            }
        }
    });
}

// Two share the only channel they have, so that the worst margin is far below steady: that is no
// reason to take the third's picture.
TEST(LowerPowers, TakeNobodysPictureThoughOthersHaveNone) {
    auto question = testing::crowd({.pilots = 3});
    question.allowed[0].channels = question.allowed[1].channels = {5665_MHz};
    question.allowed[2] = {{5880_MHz}, {}};
    for (int dbm = 14; dbm >= -30; --dbm) question.allowed[2].powers.push_back(spectrum::Dbm(dbm));
    const Tables tables(question);
    const auto at = [&](std::size_t step) {
        return Choice{*tables.pick(0, 5665_MHz, 14_dBm), *tables.pick(1, 5665_MHz, 14_dBm),
                      *tables.pick(2, 5880_MHz, question.allowed[2].powers[step])};
    };
    const auto worst = [&](const Choice& choice) { return tables.standings(choice)[2]->worst(); };
    ASSERT_LT(tables.reckon(at(0)), -10);
    const auto lowered = lower_powers(tables, at(0), {false, false, true});
    EXPECT_GT(lowered[2].power, 0U);
    ASSERT_LT(lowered[2].power + 1, question.allowed[2].powers.size());
    EXPECT_GE(worst(lowered), 0_dB);
    EXPECT_LT(worst(at(lowered[2].power + 1)), 0_dB);
}

TEST(FewMoves, AreTheFewestOfAll) {
    for_all(40, [](std::mt19937_64& rng) {
        const Tables tables(random_question(rng, 4));
        if (!tables.anybody_counts()) return;
        std::vector<Choice> all;
        for_each_choice(tables, [&](const Choice& choice) { all.push_back(choice); });
        const auto& held =
            all[static_cast<std::size_t>(whole(rng, 0, static_cast<int>(all.size()) - 1))];
        Holds holds(held.begin(), held.end());
        if (whole(rng, 0, 1) == 1) holds.back().reset();  // a newcomer
        const auto best = every_choice(tables.problem(), tables.reckon());
        if (best.worst_db == -INFINITY) return;
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
                more.scene.receivers.back().owner = 100 + i;
                more.scene.receivers.back().feeds.reset();
                more.allowed.push_back(kind.allowed);
                if (i == 0 && first) more.allowed.back().channels = {*first};
            }
            const Tables tables(more);
            return every_choice(tables.problem(), tables.reckon()).worst_db;
        };
        const Tables alone(only(question, 0));
        if (!alone.anybody_counts()) {
            EXPECT_EQ(room(question, kind, Decibel(-30), 2, {}).more, 0U);
            return;
        }
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

// No channel cures too far; nobody else's margin hangs on it.
TEST(BestPlan, LeavesOutWhoHasNoGoodFlightEvenAlone) {
    auto question = testing::crowd({3});
    const Tables near(question);
    question.scene.transmitters[1].at = spectrum::Envelope{0, 5000, 50, 3, 40};
    const Tables tables(question);
    EXPECT_FALSE(tables.counts(1));
    const auto plan = best_plan(tables, {});
    ASSERT_TRUE(plan);
    EXPECT_TRUE(plan->proved);
    EXPECT_GE(plan->worst, best_plan(near, {})->worst);
    EXPECT_EQ(spectrum::interference(*plan->standings[1]), spectrum::Interference::none);
    EXPECT_FALSE(obstacle(tables, plan->choice, 0_dB));
}

// Two on one channel: one who is too far anyway is harmed by no choice of theirs but by all.
TEST(WithFewestWhoPay, LetsNobodyPayWhoCanBeSpared) {
    auto question = testing::crowd({3});
    question.scene.transmitters[1].at = spectrum::Envelope{0, 700, 300, 3, 40};
    question.scene.transmitters[2].at = spectrum::Envelope{0, 700, 300, 3, 40};
    EXPECT_TRUE(with_fewest_who_pay(question, {}).may_pay.empty());
    question.allowed[0].channels = question.allowed[1].channels = {5800_MHz};
    const auto one = with_fewest_who_pay(question, {});
    EXPECT_EQ(one.may_pay, std::vector<std::size_t>{1});
    const auto plan = best_plan(Tables(one), {});
    ASSERT_TRUE(plan);
    EXPECT_TRUE(std::isfinite(plan->worst.count()));
    EXPECT_NE(spectrum::interference(*plan->standings[1]), spectrum::Interference::none);
    EXPECT_EQ(spectrum::interference(*plan->standings[2]), spectrum::Interference::none);
}

TEST(Obstacle, IsRangeWhereNobodyElseTakesIt) {
    auto question = testing::crowd({3});
    question.scene.transmitters[1].at = spectrum::Envelope{0, 120, 50, 3, 40};
    const Tables tables(question);
    const auto plan = best_plan(tables, {});
    ASSERT_TRUE(plan);
    const auto found = obstacle(tables, plan->choice, 20_dB);
    ASSERT_TRUE(found);
    EXPECT_EQ(tables.viewers()[found->viewer].owner, 1U);
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
    const auto victim = tables.viewers()[found->viewer].owner;
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
