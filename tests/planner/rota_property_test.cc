#include "server/planner/rota.h"

#include "server/planner/plan.h"
#include "tests/planner/questions.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <set>
#include <tuple>
#include <vector>

/// The rota's stages against trying every rota there is: every choice of group, channel and power,
/// judged by the plain margin function, with sizes and changes counted here anew.
namespace fieldpeg::planner {
namespace {

using spectrum::Decibel;
using testing::between;
using testing::chance;
using testing::for_all;
using testing::random_question;
using testing::whole;

constexpr double rounding_db = 1e-6;

/// What a rota is worth, stage by stage.
struct Worth {
    std::size_t groups, spread, changes;
    double worst_db;

    bool is_better_than(const Worth& o) const {
        return std::tuple(groups, spread, changes, -worst_db) <
               std::tuple(o.groups, o.spread, o.changes, -o.worst_db);
    }
};

std::size_t spread(const RotaTerms& terms, const Choice& choice, std::size_t groups) {
    std::vector<std::size_t> size(groups, 0);
    for (std::size_t s = 0; s < terms.is_head.size(); ++s)
        if (terms.is_head[s]) ++size[choice[s].group];
    return size.empty() ? 0 : std::ranges::max(size) - std::ranges::min(size);
}

std::size_t largest(const RotaTerms& terms, const Choice& choice, std::size_t groups) {
    std::vector<std::size_t> size(groups, 0);
    for (std::size_t s = 0; s < terms.is_head.size(); ++s)
        if (terms.is_head[s]) ++size[choice[s].group];
    return std::ranges::max(size);
}

/// The changes to what is held, groups having these numbers.
std::size_t changes_by(const Tables& tables, const RotaTerms& terms, const Choice& choice,
                       const std::vector<std::uint32_t>& numbers) {
    std::size_t count = 0;
    for (std::size_t s = 0; s < terms.before.size(); ++s) {
        const auto& before = terms.before[s];
        if (before.channel && tables.channel(choice[s]) != *before.channel) ++count;
        if (before.group != 0 && numbers[choice[s].group] != before.group) ++count;
    }
    return count;
}

bool stay_where_they_are(const RotaTerms& terms, const Choice& choice,
                         const std::vector<std::uint32_t>& numbers) {
    for (std::size_t s = 0; s < terms.before.size(); ++s)
        if (terms.before[s].stays_in_it && numbers[choice[s].group] != terms.before[s].group)
            return false;
    return true;
}

/// Numbers for so many groups: of those there were as many as may be, the rest new.
std::vector<std::vector<std::uint32_t>> every_numbering(const RotaTerms& terms,
                                                        std::size_t groups) {
    std::set<std::uint32_t> known;
    for (const auto& one : terms.before)
        if (one.group != 0) known.insert(one.group);
    std::vector<std::uint32_t> pool(known.begin(), known.end());
    for (std::uint32_t next = 100; pool.size() < groups; ++next) pool.push_back(next);
    std::set<std::vector<std::uint32_t>> all;
    do {
        all.insert({pool.begin(), pool.begin() + static_cast<std::ptrdiff_t>(groups)});
    } while (std::next_permutation(pool.begin(), pool.end()));
    return {all.begin(), all.end()};
}

/// The best of all rotas.
std::optional<Worth> best_of_all(const Question& question, const RotaTerms& terms) {
    for (std::size_t groups = 1; groups <= terms.groups_max; ++groups) {
        const Tables tables(in_groups(question, groups));
        const auto numberings = every_numbering(terms, groups);
        std::optional<Worth> best;
        every_choice(tables.problem(), [&](const Choice& choice) {
            if (largest(terms, choice, groups) > terms.size_max) return 0.0;
            Worth worth{groups, spread(terms, choice, groups), SIZE_MAX, 0};
            if (best && worth.spread > best->spread) return 0.0;
            for (const auto& numbers : numberings)
                if (stay_where_they_are(terms, choice, numbers))
                    worth.changes =
                        std::min(worth.changes, changes_by(tables, terms, choice, numbers));
            if (worth.changes == SIZE_MAX) return 0.0;
            worth.worst_db = INFINITY;
            if (best && !worth.is_better_than(*best)) return 0.0;
            worth.worst_db = tables.reckon(choice);
            if (worth.worst_db >= terms.target.count() && (!best || worth.is_better_than(*best)))
                best = worth;
            return 0.0;
        });
        if (best) return best;
    }
    return std::nullopt;
}

/// A day of up to four, a relay always with whom it carries, nobody with more than so many
/// channels.
Question random_day(std::mt19937_64& rng, std::size_t channels_most) {
    auto question = random_question(rng, 4);
    for (auto& allowed : question.allowed)
        allowed.channels.resize(std::min(allowed.channels.size(), channels_most));
    for (const auto& receiver : question.scene.receivers)
        if (receiver.hears && receiver.feeds && *receiver.feeds != spectrum::Receiver::silent)
            question.together.emplace_back(*receiver.hears, *receiver.feeds);
    return question;
}

RotaTerms random_terms(std::mt19937_64& rng, const Question& question) {
    const auto n = question.allowed.size();
    RotaTerms terms{Decibel(between(rng, -6, 6)), n};
    if (chance(rng, 30)) terms.size_max = static_cast<std::size_t>(whole(rng, 1, 3));
    terms.is_head.assign(n, true);
    terms.before.resize(n);
    for (std::size_t t = 0; t < n; ++t) {
        auto& before = terms.before[t];
        if (chance(rng, 30)) continue;  // a newcomer
        const auto& channels = question.allowed[t].channels;
        before.channel = channels[static_cast<std::size_t>(
            whole(rng, 0, static_cast<int>(channels.size()) - 1))];
        if (chance(rng, 10)) before.channel = spectrum::from_mhz(5555);  // other gear by now
        if (chance(rng, 80)) before.group = static_cast<std::uint32_t>(whole(rng, 1, 4));
        before.stays_in_it = before.group != 0 && chance(rng, 15);
    }
    return terms;
}

TEST(Rota, IsStageByStageTheBestOfAll) {
    for_all(60, [](std::mt19937_64& rng) {
        auto question = random_day(rng, 3);
        if (question.together.empty() && chance(rng, 25)) {
            question.in_every_group = {0};
            question.allowed[0].channels.resize(1);
            question.allowed[0].powers.resize(1);
        }
        auto terms = random_terms(rng, question);
        for (const auto t : question.in_every_group) {
            terms.is_head[t] = false;
            terms.before[t] = {};
        }
        const auto expected = best_of_all(question, terms);
        const auto found = rota(question, terms, {});
        ASSERT_EQ(found.choice.has_value(), expected.has_value());
        EXPECT_TRUE(found.proved);
        if (!found.choice) return;
        const auto& choice = *found.choice;
        EXPECT_EQ(found.groups, expected->groups);
        EXPECT_EQ(found.groups_at_least, expected->groups);
        EXPECT_EQ(spread(terms, choice, found.numbers.size()), expected->spread);
        EXPECT_EQ(found.spread_at_least, expected->spread);
        EXPECT_EQ(changes_by(*found.tables, terms, choice, found.numbers), expected->changes);
        EXPECT_EQ(found.changes, expected->changes);
        EXPECT_EQ(found.changes_at_least, expected->changes);
        EXPECT_TRUE(stay_where_they_are(terms, choice, found.numbers));
        EXPECT_LE(largest(terms, choice, found.numbers.size()), terms.size_max);
        if (!std::isfinite(expected->worst_db)) return;
        const double worst = found.tables->reckon(choice);
        EXPECT_NEAR(found.worst.count(), worst, rounding_db);
        EXPECT_NEAR(worst, expected->worst_db, 0.01 + rounding_db);
        EXPECT_GE(found.bound.count(), expected->worst_db - rounding_db);
    });
}

// However short the effort, what is told of each stage holds.
TEST(Rota, ExcludesNothingThatWouldDo) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto question = random_day(rng, 2);
        const auto terms = random_terms(rng, question);
        const auto expected = best_of_all(question, terms);
        Effort effort;
        effort.nodes_max = static_cast<std::uint64_t>(whole(rng, 1, 40));
        effort.moves_max = 4;
        const auto found = rota(question, terms, effort);
        if (!expected) {
            EXPECT_FALSE(found.choice);
            return;
        }
        EXPECT_LE(found.groups_at_least, expected->groups);
        if (!found.choice) return;
        EXPECT_GE(found.tables->reckon(*found.choice), terms.target.count());
        EXPECT_EQ(spread(terms, *found.choice, found.numbers.size()), found.spread);
        EXPECT_EQ(changes_by(*found.tables, terms, *found.choice, found.numbers), found.changes);
        EXPECT_TRUE(stay_where_they_are(terms, *found.choice, found.numbers));
        if (found.groups != expected->groups) return;
        EXPECT_LE(found.spread_at_least, expected->spread);
        if (found.spread != expected->spread) return;
        EXPECT_LE(found.changes_at_least, expected->changes);
        if (found.changes != expected->changes) return;
        EXPECT_GE(found.bound.count(), expected->worst_db - rounding_db);
    });
}

// A crowd whose rota is even and stays as it was when it is asked for again.
TEST(Rota, StaysAsItWas) {
    const auto question = testing::crowd({.pilots = 9, .spread_m = 2, .channels_each = 4}, 3);
    RotaTerms terms{Decibel(0), 9, SIZE_MAX, std::vector<bool>(9, true)};
    Effort effort;
    effort.nodes_max = 60'000;
    const auto first = rota(question, terms, effort);
    ASSERT_TRUE(first.choice);
    EXPECT_LE(first.spread, 1U);
    for (std::size_t s = 0; s < 9; ++s) {
        const auto& pick = (*first.choice)[s];
        terms.before.push_back({first.tables->channel(pick), first.numbers[pick.group], false});
    }
    const auto again = rota(question, terms, effort);
    ASSERT_TRUE(again.choice);
    EXPECT_EQ(again.changes, 0U);
    for (std::size_t s = 0; s < 9; ++s)
        EXPECT_EQ(again.numbers[(*again.choice)[s].group], terms.before[s].group);
}

}  // namespace
}  // namespace fieldpeg::planner
