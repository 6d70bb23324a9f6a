#include "server/day/check.h"
#include "server/day/state.h"
#include "server/planning/plan.h"
#include "tests/support/days.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

/// What a plan says is proved is proved of everything that is allowed. A remark of a rule set
/// orders what is equal and rules nothing out: only 5725-5875 MHz is without one at 25 mW in the
/// European short-range set [ERC Recommendation 70-03, annex 1], half of the R row.
namespace fieldpeg::planning {
namespace {

using testing::for_all;
using testing::sheet_of;
using testing::whole;

std::string field_under_rules() {
    std::string text =
        "[day]\nname = \"Crowd\"\ndate = 2026-06-12\nrules = \"cept-25mw\"\n[field]\nname = "
        "\"Meadow\"\n";
    for (int i = 0; i < 8; ++i)
        text += fmt::format("[[field.place]]\nname = \"p{0}\"\nat_m = [{1}, 0]\nheight_m = 1.7\n",
                            i, 4 * i);
    return text +
           "[[field.area]]\nname = \"c\"\ncentre_m = [0, 80]\nradius_m = 50\nheight_m = [3, 40]\n";
}

std::string pilot(int i, const std::string& channels, const std::string& claim = "") {
    return fmt::format(
        "[[pilot]]\nname = \"Pilot {0}\"\nplace = \"p{0}\"\narea = \"c\"\n[pilot.video]\n"
        "emission = \"fm-video\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n"
        "power_mw = [25]\nchannels = [{1}]\n"
        "[[pilot.receiver]]\nreceiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\n"
        "polarisation = \"rhcp\"\n{2}",
        i, channels,
        claim.empty() ? ""
                      : fmt::format("[pilot.claim]\nchannel = \"{}\"\npower_mw = 25\n", claim));
}

v1::PlanReply planned(const v1::DaySheet& sheet) {
    v1::Query query;
    query.mutable_plan()->mutable_planned()->set_seconds(30);
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_plan()) << answer.DebugString();
    return answer.plan();
}

TEST(Proof, IsNotOfTheChannelsWithoutARemarkAlone) {
    auto text = field_under_rules();
    for (int i = 0; i < 6; ++i) text += pilot(i, "\"R1-R8\"");
    const auto sheet = sheet_of(text);
    const auto reply = planned(sheet);
    EXPECT_TRUE(reply.proved());
    EXPECT_TRUE(reply.reached());
    std::set<std::string> channels;
    for (const auto& c : reply.choices()) {
        EXPECT_EQ(c.verdict(), v1::Verdict::steady) << c.transmitter();
        channels.insert(c.channel());
    }
    EXPECT_EQ(channels.size(), 6U);
    EXPECT_FALSE(reply.remarks().empty());

    v1::Query query;
    query.mutable_rota();
    const auto rota = plan(query, sheet, {});
    ASSERT_TRUE(rota.has_rota()) << rota.DebugString();
    EXPECT_EQ(rota.rota().groups_size(), 1);
}

TEST(Proof, LeavesRoomOnChannelsWithARemark) {
    auto text = field_under_rules();
    for (int i = 0; i < 4; ++i) text += pilot(i, "\"R1-R8\"", fmt::format("R{}", i + 3));
    text += pilot(4, "\"R1-R8\"");
    v1::Query query;
    query.mutable_room()->set_like("Pilot 4");
    query.mutable_room()->set_most(2);
    const auto found = plan(query, sheet_of(text), {});
    ASSERT_TRUE(found.has_room()) << found.DebugString();
    EXPECT_EQ(found.room().more(), 2U);
}

// One line of rules that remarks on everything alike orders nothing: the plan is the one without
// it.
TEST(Proof, IsTheSameUnderRulesThatRemarkOnEverything) {
    auto text = field_under_rules();
    for (int i = 0; i < 3; ++i) text += pilot(i, "\"R1\", \"R2\", \"R3\"");
    const auto ruled = planned(sheet_of(text));
    const std::string rules = "rules = \"cept-25mw\"\n";
    const auto plain = planned(sheet_of(text.erase(text.find(rules), rules.size())));
    EXPECT_GT(ruled.remarks_size(), plain.remarks_size());
    ASSERT_EQ(ruled.choices_size(), plain.choices_size());
    for (int i = 0; i < ruled.choices_size(); ++i)
        EXPECT_EQ(ruled.choices(i).channel(), plain.choices(i).channel());
    EXPECT_EQ(ruled.proved(), plain.proved());
    EXPECT_EQ(ruled.worst_margin_db(), plain.worst_margin_db());
    EXPECT_EQ(ruled.bound_db(), plain.bound_db());
}

// Spare goggles that know the R row alone: the F row is not looked at for that, so that nothing can
// be said to be the best of all that is allowed.
TEST(Proof, IsNotOfChannelsThatFewerReceiversHear) {
    auto text = field_under_rules() + pilot(0, "\"R1-R4\", \"F1-F4\"") + pilot(1, "\"R1-R4\"");
    const auto spare = [](const std::string& channels) {
        return "[[pilot.receiver]]\nname = \"spare\"\nreceiver = \"fm-video-5g8\"\nantenna = "
               "\"circular-omni\"\npolarisation = \"rhcp\"\nchannels = [" +
               channels + "]\n";
    };
    const auto all = planned(sheet_of(text + spare("\"R1-R4\"")));
    EXPECT_TRUE(all.proved());
    text = field_under_rules() + pilot(1, "\"R1-R4\"") + pilot(0, "\"R1-R4\", \"F1-F4\"");
    const auto sheet = sheet_of(text + spare("\"R1-R4\""));
    const auto some = planned(sheet);
    EXPECT_FALSE(some.proved());
    EXPECT_FALSE(some.has_bound_db());
    EXPECT_TRUE(std::ranges::any_of(some.said(), [](const std::string& said) {
        return said.find("F1, F2, F3, F4") != std::string::npos;
    })) << some.DebugString();
    v1::Query query;
    query.mutable_rota();
    const auto rota = plan(query, sheet, {});
    EXPECT_FALSE(rota.rota().has_bound_db());
    EXPECT_EQ(rota.rota().sizes_differ_at_least(), 0U);
}

/// The best least margin by trying every choice, as `check` tells margins.
double best_of_all(const v1::DaySheet& sheet,
                   const std::vector<std::vector<v1::Channel>>& allowed) {
    std::vector<std::size_t> at(allowed.size(), 0);
    double best = -1000;
    while (true) {
        auto tried = sheet;
        for (std::size_t i = 0; i < at.size(); ++i) {
            auto& claim = *tried.mutable_pilots(static_cast<int>(i))->mutable_claim();
            *claim.mutable_channel() = allowed[i][at[i]];
            claim.set_power_dbm(10 * std::log10(25.0));
            claim.set_stage(v1::Claim::held);
        }
        double worst = 1000;
        const auto reply = day::check(tried, v1::Basis::held, 0);
        for (const auto& p : reply.pilots()) worst = std::min(worst, p.margin_worst_db());
        best = std::max(best, worst);
        std::size_t i = 0;
        while (i < at.size() && ++at[i] == allowed[i].size()) at[i++] = 0;
        if (i == at.size()) return best;
    }
}

TEST(Proof, ComparesWithEveryChoiceThereIsRemarksAndAll) {
    for_all(12, [](std::mt19937_64& rng) {
        const std::vector<std::string> rows = {"R1", "R2", "R3", "R4", "R5",
                                               "R6", "F1", "F8", "A8"};
        auto text = field_under_rules();
        const int pilots = whole(rng, 2, 3);
        for (int i = 0; i < pilots; ++i) {
            std::set<std::string> chosen;
            while (chosen.size() < 4)
                chosen.insert(rows[static_cast<std::size_t>(
                    whole(rng, 0, static_cast<int>(rows.size()) - 1))]);
            text += pilot(i, fmt::format("\"{}\"", fmt::join(chosen, "\", \"")));
        }
        const auto sheet = sheet_of(text);
        std::vector<std::vector<v1::Channel>> allowed;
        for (const auto& p : sheet.pilots())
            allowed.emplace_back(p.video().channels().begin(), p.video().channels().end());
        const auto reply = planned(sheet);
        EXPECT_TRUE(reply.proved());
        EXPECT_NEAR(reply.worst_margin_db(), best_of_all(sheet, allowed), 0.02);
    });
}

}  // namespace
}  // namespace fieldpeg::planning
