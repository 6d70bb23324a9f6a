#include "server/day/state.h"
#include "server/planning/plan.h"
#include "tests/planning/plans.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

/// Plans of days with flight groups, against trying every choice with `check`, which goes group by
/// group.
namespace fieldpeg::planning {
namespace {

using testing::chance;
using testing::choice_of;
using testing::field_text;
using testing::for_all;
using testing::margins_by_check;
using testing::PilotText;
using testing::sheet_of;
using testing::unclaimed;
using testing::whole;
using testing::with;

constexpr double mw25_dbm = 13.979400086720376;

std::string pilot(const std::string& name, const std::string& place, const std::string& channels,
                  const std::string& claim = "") {
    auto text = unclaimed(
        PilotText{.name = name, .place = place, .more_video = "channels = [" + channels + "]\n"});
    if (!claim.empty()) text += "[pilot.claim]\npower_mw = 25\n" + claim;
    return text;
}

v1::PlanReply planned(const v1::DaySheet& sheet, const std::vector<std::string>& who = {},
                      std::optional<std::uint32_t> moves = {}) {
    v1::Query query;
    for (const auto& name : who) query.mutable_plan()->mutable_planned()->add_who(name);
    if (moves) query.mutable_plan()->set_moves(*moves);
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_plan()) << answer.DebugString();
    return answer.plan();
}

// One channel for two who never fly together.
TEST(PlanOfFlights, LetsGroupsShareAChannel) {
    const auto sheet =
        sheet_of(field_text() + pilot("Ann", "line-1", "\"R1\"", "channel = \"R1\"\ngroup = 1\n") +
                 pilot("Ben", "line-2", "\"R1\"", "channel = \"R1\"\ngroup = 2\n") +
                 pilot("Cem", "line-3", "\"R1\""));
    const auto reply = planned(sheet);
    EXPECT_TRUE(reply.reached());
    EXPECT_TRUE(reply.proved());
    EXPECT_EQ(reply.choices_size(), 2);  // Cem holds nothing and is in no group
    EXPECT_TRUE(std::ranges::any_of(reply.said(), [](const std::string& text) {
        return text.find("Cem") != std::string::npos;
    }));
    EXPECT_EQ(choice_of(reply, "Ben").group(), 2U);
    EXPECT_FALSE(planned(sheet, {"Cem"}).reached());  // who flies with both is in somebody's way
}

// Who is in no group counts in each of the others, and has one channel for all of them.
TEST(PlanOfFlights, IsAsGoodAsTryingEveryChoice) {
    for_all(12, [](std::mt19937_64& rng) {
        const std::vector<std::string> rows = {"R1", "R2", "R3", "F1", "F2", "F4"};
        auto text = field_text();
        std::vector<std::string> who;
        for (int i = 0; i < 4; ++i) {
            std::vector<std::string> some = rows;
            std::ranges::shuffle(some, rng);
            some.resize(3);
            const int group = i < 2 ? i + 1 : whole(rng, 0, 2);
            const auto claim =
                group == 0 ? fmt::format("channel = \"{}\"\n", some.front())
                           : fmt::format("channel = \"{}\"\ngroup = {}\n", some.front(), group);
            who.push_back(fmt::format("P{}", i));
            text += pilot(who.back(), fmt::format("line-{}", i + 1),
                          fmt::format("\"{}\"", fmt::join(some, "\", \"")), claim);
        }
        std::uint32_t last_id = 0;
        const auto sheet = day::with_ids(sheet_of(text), last_id);
        const auto least = [](const v1::DaySheet& day) {
            double worst = 1000;
            for (const auto& [name, margin] : margins_by_check(day))
                worst = std::min(worst, margin);
            return worst;
        };
        double best = -1000;
        for (int code = 0; code < 81; ++code) {
            auto tried = sheet;
            for (int i = 0, rest = code; i < 4; ++i, rest /= 3)
                *tried.mutable_pilots(i)->mutable_claim()->mutable_channel() =
                    sheet.pilots(i).video().channels(rest % 3);
            best = std::max(best, least(tried));
        }
        const auto reply = planned(sheet);
        EXPECT_TRUE(reply.proved());
        EXPECT_NEAR(reply.worst_margin_db(), best, 0.02);
        EXPECT_NEAR(least(with(sheet, reply.choices())), best, 0.02);
        const auto margins = margins_by_check(with(sheet, reply.choices()));
        for (const auto& c : reply.choices())
            EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01) << c.owner();
    });
}

TEST(PlanOfFlights, FindsANewcomerThatFliesWithEachTheBestChannel) {
    const auto sheet =
        sheet_of(field_text() + pilot("Ann", "line-1", "\"R1\"", "channel = \"R1\"\ngroup = 1\n") +
                 pilot("Ben", "line-2", "\"R4\"", "channel = \"R4\"\ngroup = 2\n") +
                 pilot("Cem", "line-3", "\"R1-R8\""));
    std::uint32_t last_id = 0;
    double best = -1000;
    for (const auto& channel : day::pilot(sheet, "Cem")->video().channels()) {
        auto tried = day::with_ids(sheet, last_id);
        auto& claim = day::claim_of(tried, day::pilot(tried, "Cem")->id());
        *claim.mutable_channel() = channel;
        claim.set_power_dbm(mw25_dbm);
        claim.set_stage(v1::Claim::held);
        double worst = 1000;
        for (const auto& [name, margin] : margins_by_check(tried)) worst = std::min(worst, margin);
        best = std::max(best, worst);
    }
    const auto reply = planned(sheet, {"Cem"});
    EXPECT_TRUE(reply.proved());
    EXPECT_NEAR(reply.worst_margin_db(), best, 0.02);
}

// Dee flies with both groups on R1, where Ann is: one move mends it, of her or of Ann.
TEST(PlanOfFlights, MovesAsFewAsDo) {
    const auto sheet = sheet_of(
        field_text() + pilot("Ann", "line-1", "\"R1\", \"R5\"", "channel = \"R1\"\ngroup = 1\n") +
        pilot("Ben", "line-2", "\"R3\", \"R7\"", "channel = \"R3\"\ngroup = 2\n") +
        pilot("Dee", "line-3", "\"R1\", \"R8\"", "channel = \"R1\"\n"));
    const auto reply = planned(sheet, {}, 2);
    EXPECT_EQ(reply.moves(), 1U);
    EXPECT_TRUE(reply.moves_proved());
    EXPECT_TRUE(reply.reached());
    EXPECT_EQ(std::ranges::count_if(reply.choices(), [](const auto& c) { return c.has_held(); }),
              1);
}

TEST(PlanOfFlights, SaysWhatStandsInTheWay) {
    const auto sheet =
        sheet_of(field_text() + pilot("Ann", "line-1", "\"R1\"", "channel = \"R1\"\ngroup = 1\n") +
                 pilot("Ben", "line-2", "\"R4\"", "channel = \"R4\"\ngroup = 2\n") +
                 pilot("Dee", "line-3", "\"R4\"", "channel = \"R4\"\n"));
    const auto reply = planned(sheet);
    EXPECT_FALSE(reply.reached());
    EXPECT_NE(reply.obstacle().find("on the same channel"), std::string::npos) << reply.obstacle();
    EXPECT_EQ(reply.obstacle().find("Ann"), std::string::npos) << reply.obstacle();
    ASSERT_FALSE(reply.advice().empty());
    EXPECT_EQ(reply.advice(0).text().find("Ann"), std::string::npos);
}

}  // namespace
}  // namespace fieldpeg::planning
