#include "server/day/check.h"
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
#include <map>
#include <set>
#include <string>
#include <vector>

/// Rotas as they are asked for of a day. What a margin is `check` says.
namespace fieldpeg::planning {
namespace {

using testing::chance;
using testing::field_text;
using testing::for_all;
using testing::margins_by_check;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;
using testing::whole;
using testing::with;

v1::Answer ask(const v1::DaySheet& sheet, const v1::RotaQuery& asked) {
    v1::Query query;
    *query.mutable_rota() = asked;
    return plan(query, sheet, {});
}

v1::RotaReply rota(const v1::DaySheet& sheet, const v1::RotaQuery& asked = {}) {
    const auto answer = ask(sheet, asked);
    EXPECT_TRUE(answer.has_rota()) << answer.DebugString();
    return answer.rota();
}

std::map<std::string, std::uint32_t> groups_of(const v1::RotaReply& reply) {
    std::map<std::string, std::uint32_t> groups;
    for (const auto& group : reply.groups())
        for (const auto& c : group.choices()) {
            EXPECT_EQ(c.group(), group.group());
            EXPECT_TRUE(groups.emplace(c.transmitter(), c.group()).second) << c.transmitter();
        }
    return groups;
}

google::protobuf::RepeatedPtrField<v1::PlanChoice> shares(const v1::RotaReply& reply) {
    google::protobuf::RepeatedPtrField<v1::PlanChoice> all;
    for (const auto& group : reply.groups()) all.MergeFrom(group.choices());
    return all;
}

std::map<std::string, v1::RotaAside> asides_of(const v1::RotaReply& reply) {
    std::map<std::string, v1::RotaAside> all;
    for (const auto& aside : reply.asides()) all[aside.pilot()] = aside;
    return all;
}

std::string only(const std::string& name, const std::string& place, const std::string& channels,
                 const std::string& claim = "") {
    auto text = unclaimed(
        PilotText{.name = name, .place = place, .more_video = "channels = [" + channels + "]\n"});
    if (!claim.empty()) text += "[pilot.claim]\npower_mw = 25\n" + claim;
    return text;
}

// Lou flies two kilometres out with 25 mW: free-space loss alone is 21 dB more than for the others
// at 170 m [Recommendation ITU-R P.525: 20 log of the ratio of distances].
TEST(Rota, LeavesAsideWhoIsTooFarAndFliesTheRest) {
    const auto rest =
        field_text() + only("Ann", "line-1", "\"R1\"") + only("Ben", "line-2", "\"R1\"");
    const auto reply = rota(
        sheet_of(rest + unclaimed(PilotText{.name = "Lou", .place = "line-3", .area = "valley"})));
    const auto asides = asides_of(reply);
    ASSERT_EQ(asides.size(), 1U) << reply.DebugString();
    EXPECT_EQ(asides.at("Lou").why(), v1::RotaAside::range);
    EXPECT_LT(asides.at("Lou").margin_db(), 0);
    EXPECT_EQ(asides.at("Lou").transmitters(0), "Lou");
    const auto groups = groups_of(reply);
    EXPECT_EQ(groups, groups_of(rota(sheet_of(rest))));
    EXPECT_EQ(groups.size(), 2U);
}

TEST(Rota, SaysWhatWhoIsAsideStillHolds) {
    const auto reply = rota(sheet_of(
        field_text() + only("Ann", "line-1", "\"R1\"") +
        text_of(PilotText{
            .name = "Lou", .place = "line-3", .channel = "R1", .stage = "", .area = "valley"})));
    ASSERT_EQ(reply.asides_size(), 1) << reply.DebugString();
    ASSERT_EQ(reply.asides(0).held_size(), 1);
    EXPECT_EQ(reply.asides(0).held(0).channel().name(), "R1");
    EXPECT_EQ(groups_of(reply), (std::map<std::string, std::uint32_t>{{"Ann", 1}}));
}

// A sender on Ann's only channel, 10 m beside her goggles, is on whichever group flies: co-channel
// and nearer than her aircraft.
TEST(Rota, LeavesAsideWhoCannotFlyBesideWhatAlwaysIsOn) {
    const auto reply = rota(sheet_of(
        field_text() + only("Ann", "line-1", "\"R8\"") + only("Ben", "line-2", "\"R1\"") +
        unclaimed(RelayText{
            .name = "mast", .owner = "Ben", .more = "power_mw = 25\nchannels = [\"R8\"]\n"}) +
        "[relay.claim]\nchannel = \"R8\"\npower_mw = 25\ngroup = \"always\"\n"));
    const auto asides = asides_of(reply);
    ASSERT_EQ(asides.size(), 1U) << reply.DebugString();
    EXPECT_EQ(asides.at("Ann").why(), v1::RotaAside::beside_always);
    EXPECT_EQ(asides.at("Ann").beside(0), "mast");
    EXPECT_EQ(groups_of(reply).size(), 1U);
}

TEST(Rota, RefusesOnlyIfNobodyReachesIt) {
    const auto sheet =
        sheet_of(field_text() + only("Ann", "line-1", "\"R1\"") + only("Ben", "line-2", "\"R1\""));
    v1::RotaQuery asked;
    asked.set_margin_db(40);
    const auto answer = ask(sheet, asked);
    EXPECT_EQ(answer.refusal().kind(), v1::Refusal::conflict);
    EXPECT_NE(answer.refusal().why().find("Ann, Ben"), std::string::npos);
}

/// The best margin of one pilot by trying every channel and every power, nobody else having one.
double best_alone(const v1::DaySheet& sheet, const std::string& name,
                  const std::vector<double>& powers_dbm) {
    double best = -1000;
    auto alone = sheet;
    day::for_each_holder(alone, [](auto& one) { one.clear_claim(); });
    const auto& own = *day::pilot(alone, name);
    const auto channels = own.video().channels();
    for (const auto& channel : channels)
        for (const auto power : powers_dbm) {
            auto& claim = day::claim_of(alone, day::pilot(alone, name)->id());
            *claim.mutable_channel() = channel;
            claim.set_power_dbm(power);
            claim.set_stage(v1::Claim::held);
            best = std::max(best, margins_by_check(alone).at(name));
        }
    return best;
}

TEST(Rota, LeavesAsideThoseAloneWhoReachItWithNoChoiceOfTheirs) {
    std::set<bool> met;
    for_all(25, [&](std::mt19937_64& rng) {
        auto text = field_text();
        const int pilots = whole(rng, 1, 4);
        std::vector<double> powers;
        for (const double mw : {25.0, 100.0, 400.0}) powers.push_back(10 * std::log10(mw));
        for (int i = 0; i < pilots; ++i)
            text += unclaimed(
                PilotText{.name = fmt::format("P{}", i),
                          .place = fmt::format("line-{}", i + 1),
                          .area = chance(rng, 60) ? "valley" : "circuit",
                          .more_video = "power_mw = [25, 100, 400]\nchannels = [\"R1-R4\"]\n"});
        std::uint32_t last_id = 0;
        const auto sheet = day::with_ids(sheet_of(text), last_id);
        v1::RotaQuery asked;
        asked.set_margin_db(testing::between(rng, -14, 17));
        const auto answer = ask(sheet, asked);
        const auto asides = asides_of(answer.rota());
        for (int i = 0; i < pilots; ++i) {
            const auto name = fmt::format("P{}", i);
            const bool cannot = best_alone(sheet, name, powers) < asked.margin_db();
            if (answer.has_rota()) {
                EXPECT_EQ(asides.contains(name), cannot) << name << answer.DebugString();
                met.insert(cannot);
            } else {
                EXPECT_TRUE(cannot) << name << answer.DebugString();
            }
        }
    });
    EXPECT_EQ(met.size(), 2U);  // both were met
}

TEST(Rota, HasGroupsOfOneSizeAndNoneAboveTheMost) {
    const auto sheet = sheet_of(field_text() + only("Ann", "line-1", "\"R1\", \"R4\", \"R7\"") +
                                only("Ben", "line-2", "\"R1\", \"R4\", \"R7\"") +
                                only("Cem", "line-3", "\"R1\", \"R4\", \"R7\"") +
                                only("Dot", "line-4", "\"R1\", \"R4\", \"R7\""));
    const auto even = rota(sheet);  // three channels: two groups, and not of three and one
    ASSERT_EQ(even.groups_size(), 2);
    for (const auto& group : even.groups()) EXPECT_EQ(group.choices_size(), 2);
    EXPECT_EQ(even.sizes_differ(), 0U);
    v1::RotaQuery asked;
    asked.set_size_max(1);
    EXPECT_EQ(rota(sheet, asked).groups_size(), 4);
    asked.set_size_max(3);
    EXPECT_EQ(rota(sheet, asked).groups_size(), 2);
    asked.set_size_max(0);
    EXPECT_EQ(ask(sheet, asked).refusal().kind(), v1::Refusal::out_of_range);
    EXPECT_EQ(ask(sheet, asked).refusal().where(), "size_max");
}

// A relay is no pilot: Dee and her mast are one.
TEST(Rota, CountsPilotsNotTransmitters) {
    const auto sheet =
        sheet_of(field_text() + only("Ann", "line-1", "\"R1\"") + only("Ben", "line-2", "\"R3\"") +
                 unclaimed(PilotText{
                     .name = "Dee", .place = "chair", .more_video = "channels = [\"R5\"]\n"}) +
                 unclaimed(RelayText{.name = "mast", .owner = "Dee"}));
    v1::RotaQuery asked;
    asked.set_margin_db(-15);
    asked.set_size_max(3);
    EXPECT_EQ(rota(sheet, asked).groups_size(), 1);
}

// Ann and Ben have R1 in groups 3 and 5; Cem comes with R1 and R6. Nobody is moved for him.
TEST(Rota, LetsANewcomerInWithoutMovingAnybody) {
    const auto sheet = sheet_of(
        field_text() + only("Ann", "line-1", "\"R1\", \"R6\"", "channel = \"R1\"\ngroup = 3\n") +
        only("Ben", "line-2", "\"R1\", \"R6\"", "channel = \"R1\"\ngroup = 5\n") +
        only("Cem", "line-3", "\"R1\", \"R6\""));
    const auto reply = rota(sheet);
    // Two channels far apart for three: two groups, as there are.
    const auto groups = groups_of(reply);
    ASSERT_EQ(reply.groups_size(), 2) << reply.DebugString();
    EXPECT_EQ(groups.at("Ann"), 3U);
    EXPECT_EQ(groups.at("Ben"), 5U);
    EXPECT_EQ(reply.changes(), 0U);
    for (const auto& c : shares(reply)) {
        EXPECT_EQ(c.channel(), c.owner() == "Cem" ? "R6" : "R1");
        EXPECT_FALSE(c.has_held_group());
    }
    // With one group fewer that does, somebody leaves theirs.
    const auto fewer = sheet_of(
        field_text() + only("Ann", "line-1", "\"R1\", \"R6\"", "channel = \"R1\"\ngroup = 3\n") +
        only("Ben", "line-2", "\"R1\", \"R6\"", "channel = \"R6\"\ngroup = 5\n"));
    const auto one = rota(fewer);
    ASSERT_EQ(one.groups_size(), 1);
    EXPECT_EQ(one.changes(), 1U);
    EXPECT_EQ(one.changes_at_least(), 1U);
    EXPECT_EQ(std::ranges::count_if(shares(one), &v1::PlanChoice::has_held_group), 1);
}

// R7 and F8 are one frequency [common practice, no published source]: who holds it by one name
// keeps that.
TEST(Rota, CallsAChannelAsItIsHeld) {
    const auto reply = rota(sheet_of(
        field_text() + only("Ann", "line-1", "\"R7\", \"F8\"", "channel = \"R7\"\ngroup = 1\n")));
    EXPECT_EQ(shares(reply)[0].channel(), "R7");
}

// Who flies keeps channel and group; the others are put around them.
TEST(Rota, KeepsTheClaimsThatAreOnTheAir) {
    const auto sheet = sheet_of(
        field_text() +
        only("Ann", "line-1", "\"R1\", \"R6\"", "channel = \"R1\"\ngroup = 2\non_air = true\n") +
        only("Ben", "line-2", "\"R1\"", "channel = \"R1\"\ngroup = 2\n") +
        only("Cem", "line-3", "\"R1\", \"R6\""));
    const auto reply = rota(sheet);
    const auto groups = groups_of(reply);
    EXPECT_EQ(groups.at("Ann"), 2U);
    EXPECT_NE(groups.at("Ben"), 2U);
    for (const auto& c : shares(reply)) {
        if (c.owner() != "Ann") continue;
        EXPECT_TRUE(c.stays());
        EXPECT_EQ(c.channel(), "R1");
    }
}

// Two who fly in one group on one channel harm each other now: a rota keeps their channels and has
// to part them.
TEST(Rota, PartsThoseWhoHarmEachOtherOnTheAir) {
    const auto on = [](const std::string& name, const std::string& place) {
        return only(name, place, "\"R1\", \"R6\"", "channel = \"R1\"\ngroup = 1\non_air = true\n");
    };
    const auto reply = rota(sheet_of(field_text() + on("Ann", "line-1") + on("Ben", "line-2")));
    EXPECT_EQ(reply.groups_size(), 2) << reply.DebugString();
    for (const auto& c : shares(reply)) EXPECT_EQ(c.channel(), "R1");
}

// A remark that everybody's channels have orders nothing.
TEST(Rota, IsTheSameUnderRulesThatRemarkOnEverything) {
    const auto date = "date = 2026-06-12\n";
    auto text = field_text();
    for (int i = 0; i < 4; ++i)
        text +=
            only(fmt::format("P{}", i), fmt::format("line-{}", i + 1), "\"R1\", \"R2\", \"R3\"");
    const auto ruled = testing::changed(text, date, date + std::string("rules = \"cept-25mw\"\n"));
    const auto plain = rota(sheet_of(text)), remarked = rota(sheet_of(ruled));
    EXPECT_FALSE(remarked.remarks().empty());
    ASSERT_EQ(shares(plain).size(), shares(remarked).size());
    for (int i = 0; i < shares(plain).size(); ++i) {
        EXPECT_EQ(shares(plain)[i].channel(), shares(remarked)[i].channel());
        EXPECT_EQ(shares(plain)[i].group(), shares(remarked)[i].group());
    }
    EXPECT_EQ(plain.groups_proved(), remarked.groups_proved());
    EXPECT_NEAR(plain.worst_margin_db(), remarked.worst_margin_db(), 0.001);
}

// Who is down counts in every group and is in none.
TEST(Rota, DoesNotPlanWhoIsDown) {
    auto sheet =
        sheet_of(field_text() + text_of(PilotText{.name = "Mika", .channel = "R1"}) +
                 only("Ben", "line-2", "\"R1\", \"R6\"") + only("Cem", "line-3", "\"R6\""));
    sheet.mutable_pilots(0)->mutable_claim()->set_stage(v1::Claim::down);
    const auto reply = rota(sheet);
    const auto groups = groups_of(reply);
    EXPECT_FALSE(groups.contains("Mika"));
    EXPECT_EQ(groups.size(), 2U) << reply.DebugString();
    for (const auto& c : shares(reply)) EXPECT_EQ(c.channel(), "R6") << c.owner();
}

}  // namespace
}  // namespace fieldpeg::planning
