#include "server/day/check.h"
#include "server/day/state.h"
#include "server/planning/plan.h"
#include "server/planning/plan_scene.h"
#include "tests/planning/plans.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <set>
#include <string>

/// Plans of days with transmitters that move by themselves, and with those that are on whatever
/// group flies. What a margin is `check` says; the planner only has to agree.
namespace fieldpeg::planning {
namespace {

using testing::field_text;
using testing::for_all;
using testing::margins_by_check;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;
using testing::whole;
using testing::with;

v1::PlanReply planned(const v1::DaySheet& sheet) {
    v1::Query query;
    query.mutable_plan();
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_plan()) << answer.DebugString();
    return answer.plan();
}

v1::RotaReply rota(const v1::DaySheet& sheet) {
    v1::Query query;
    query.mutable_rota()->set_margin_db(-15);
    query.mutable_rota()->mutable_planned()->set_as_landed(true);
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_rota()) << answer.DebugString();
    return answer.rota();
}

const v1::PlanChoice* find_choice(const v1::PlanReply& reply, const std::string& transmitter) {
    const auto found =
        std::ranges::find(reply.choices(), transmitter, &v1::PlanChoice::transmitter);
    return found == reply.choices().end() ? nullptr : &*found;
}
std::string channel_of(const v1::PlanReply& reply, const std::string& transmitter) {
    const auto* found = find_choice(reply, transmitter);
    return found != nullptr ? found->channel() : "";
}

std::string mover(const std::string& on, const std::string& channels) {
    const PilotText pilot{
        .name = "Mo",
        .place = "line-2",
        .channel = on,
        .stage = "",
        .more_video = "power_mw = 25\nmoves_by_itself = true\nchannels = [" + channels + "]\n"};
    return on.empty() ? unclaimed(pilot) : text_of(pilot);
}

// --- who moves by itself

TEST(MovingPlan, AvoidsEveryChannelThatAMoverMayGoTo) {
    for (const auto* on : {"", "R1", "R3"}) {
        const auto reply = planned(
            sheet_of(field_text() +
                     unclaimed(PilotText{
                         .name = "Ann",
                         .more_video = "power_mw = 25\nchannels = [\"R1\", \"R3\", \"R7\"]\n"}) +
                     mover(on, "\"R1\", \"R3\"")));
        EXPECT_EQ(channel_of(reply, "Ann"), "R7") << on;
    }
}

TEST(MovingPlan, LeavesAMoverOnTheChannelThatItHolds) {
    for (const auto* on : {"R1", "R3", "R5"}) {
        const auto reply = planned(sheet_of(field_text() + unclaimed(PilotText{.name = "Ann"}) +
                                            mover(on, "\"R1\", \"R3\", \"R5\"")));
        if (const auto* mo = find_choice(reply, "Mo")) {
            EXPECT_EQ(mo->channel(), on);
        }
    }
}

TEST(MovingPlan, TellsTheMarginsThatCheckTellsOfThePlannedDay) {
    for_all(12, [](std::mt19937_64& rng) {
        std::string text = field_text();
        const int pilots = whole(rng, 1, 3);
        for (int i = 0; i < pilots; ++i)
            text += unclaimed(PilotText{.name = std::string(1, static_cast<char>('A' + i)) + "nn",
                                        .place = fmt::format("line-{}", i == 0 ? 1 : i + 2),
                                        .more_video = "power_mw = 25\nchannels = [\"R1-R8\"]\n"});
        const int first = whole(rng, 1, 7);
        text += mover(one_of<std::string>(rng, {"", fmt::format("R{}", first)}),
                      fmt::format("\"R{}\", \"R{}\"", first, whole(rng, first + 1, 8)));
        const auto sheet = sheet_of(text);
        const auto reply = planned(sheet);
        const auto margins = margins_by_check(with(sheet, reply.choices()));
        for (const auto& c : reply.choices())
            EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01) << c.DebugString();
    });
}

// By trying every channel.
TEST(MovingPlan, FindsTheBestOfAllChannelsBesideAMover) {
    for_all(10, [](std::mt19937_64& rng) {
        const int first = whole(rng, 1, 6);
        const auto on = fmt::format("R{}", first);
        const auto sheet =
            sheet_of(field_text() +
                     unclaimed(PilotText{.name = "Ann",
                                         .more_video = "power_mw = 25\nchannels = [\"R1-R8\"]\n"}) +
                     mover(on, fmt::format("\"{}\", \"R{}\", \"R{}\"", on, first + 1, first + 2)));
        const auto reply = planned(sheet);
        double best_db = -1000;
        for (const auto& channel : sheet.pilots(0).video().channels()) {
            auto one = reply.choices();
            for (auto& c : one) {
                if (c.transmitter() != "Ann") continue;
                c.set_channel(channel.name());
                c.set_channel_mhz(channel.mhz());
            }
            const auto margins = margins_by_check(with(sheet, one));
            best_db = std::max(best_db, std::min(margins.at("Ann"), margins.at("Mo")));
        }
        EXPECT_GE(reply.worst_margin_db(), best_db - 0.02);
        EXPECT_GE(reply.bound_db(), best_db - 0.002);
    });
}

/// How the planner itself reckons that everybody stands on what they hold: the least margin.
double reckoned(const v1::DaySheet& sheet) {
    PlanFor what;
    for (const auto& p : sheet.pilots()) what.planned.add_keep(p.name());
    const auto scene = PlanScene::make(sheet, what);
    const planner::Tables tables(scene.value().question());
    planner::Choice choice;
    for (std::size_t t = 0; t < scene.value().seats().size(); ++t) {
        const auto& allowed = scene.value().question().allowed[t];
        choice.push_back(tables.pick(t, allowed.channels.front(), allowed.powers.front()).value());
    }
    double least_db = 1000;
    for (const auto& is : tables.standings(choice))
        if (is) least_db = std::min(least_db, tables.margin(*is).count());
    return least_db;
}

double least_by_check(const v1::DaySheet& sheet) {
    double least_db = 1000;
    for (const auto& [name, margin_db] : margins_by_check(sheet))
        least_db = std::min(least_db, margin_db);
    return least_db;
}

TEST(MovingPlan, ReckonsAsCheckDoes) {
    for_all(20, [](std::mt19937_64& rng) {
        std::string text = field_text();
        const int pilots = whole(rng, 1, 3);
        for (int i = 0; i < pilots; ++i)
            text += text_of(PilotText{.name = std::string(1, static_cast<char>('A' + i)) + "nn",
                                      .place = fmt::format("line-{}", i == 0 ? 1 : i + 2),
                                      .channel = fmt::format("R{}", whole(rng, 1, 8)),
                                      .stage = ""});
        const int first = whole(rng, 1, 7);
        text += mover(fmt::format("R{}", first),
                      fmt::format("\"R{}\", \"R{}\"", first, whole(rng, first + 1, 8)));
        EXPECT_NEAR(reckoned(sheet_of(text)), least_by_check(sheet_of(text)), 0.01);
    });
}

// A ground side is where its aircraft is: loud on the line, on whichever channel.
TEST(MovingPlan, ReckonsWithAGroundSideOnEveryChannelOfItsMover) {
    for (const auto* on : {"R3", "R7"}) {
        const auto sheet = sheet_of(
            field_text() + text_of(PilotText{.name = "Ann", .channel = "R1", .stage = ""}) +
            mover(on, "\"R1\", \"R3\", \"R7\"") + "[pilot.uplink]\npower_mw = 400\n");
        EXPECT_NEAR(reckoned(sheet), least_by_check(sheet), 0.01) << on;
    }
}

// --- who is on whatever group flies

/// Dee's relay, on the air with every group.
std::string mast(const std::string& group) {
    return "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n[[pilot.receiver]]\nreceiver = "
           "\"fm-video-5g8\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n" +
           unclaimed(RelayText{.name = "mast",
                               .owner = "Dee",
                               .more = "power_mw = 25\nchannels = [\"F1\", \"F8\"]\n"}) +
           "[relay.claim]\nchannel = \"F8\"\npower_mw = 25\n" + group;
}
std::string only_r1(const std::string& name, const std::string& place) {
    return unclaimed(PilotText{
        .name = name, .place = place, .more_video = "power_mw = 25\nchannels = [\"R1\"]\n"});
}

TEST(AlwaysRota, DoesNotPlanWhoIsOnInEveryGroup) {
    const auto planned_for = [](const std::string& group) {
        const auto sheet = sheet_of(field_text() + only_r1("Ann", "line-1") +
                                    only_r1("Ben", "line-2") + mast(group));
        const auto reply = rota(sheet);
        std::multiset<std::string> names;
        for (const auto& one : reply.groups())
            for (const auto& c : one.choices()) names.insert(c.transmitter());
        EXPECT_EQ(reply.groups_size(), 2) << reply.DebugString();
        return names;
    };
    EXPECT_EQ(planned_for("group = \"always\"\n").count("mast"), 0U);
    EXPECT_EQ(planned_for("group = \"always\"\n"), (std::multiset<std::string>{"Ann", "Ben"}));
    EXPECT_EQ(planned_for("").count("mast"), 1U);
}

TEST(AlwaysRota, CountsWhoIsOnInEveryGroupInEachOfThem) {
    const auto near = [](const std::string& group) {  // 37 MHz beside R1
        auto text = testing::changed(mast(group), "channel = \"F8\"", "channel = 5695");
        text = testing::changed(text, "[\"F1\", \"F8\"]", "[5695]");
        return text;
    };
    const auto sheet = sheet_of(field_text() + only_r1("Ann", "line-1") + only_r1("Ben", "line-2") +
                                near("group = \"always\"\n"));
    const auto reply = rota(sheet);
    ASSERT_EQ(reply.groups_size(), 2) << reply.DebugString();
    google::protobuf::RepeatedPtrField<v1::PlanChoice> all;
    for (const auto& one : reply.groups()) all.MergeFrom(one.choices());
    const auto flown = with(sheet, all);
    auto alone = flown;
    alone.mutable_relays(0)->clear_claim();
    for (const auto& one : reply.groups()) {
        const auto margins = margins_by_check(day::of_group(flown, one.group()));
        const auto without = margins_by_check(day::of_group(alone, one.group()));
        for (const auto& c : one.choices()) {
            EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01) << c.owner();
            EXPECT_LT(c.margin_db(), without.at(c.owner()) - 0.01) << c.owner();
        }
    }
}

// In both groups R1 is taken, though one of them has more to choose.
TEST(AlwaysRota, KeepsEveryGroupAwayFromWhoIsOnInEachOfThem) {
    std::string text = field_text();
    for (const auto& [name, place] : {std::pair("Ann", "line-1"), {"Ben", "line-2"}})
        text += unclaimed(PilotText{.name = name,
                                    .place = place,
                                    .more_video = "power_mw = 25\nchannels = [\"R1\", \"R8\"]\n"});
    auto on_r1 = testing::changed(mast("group = \"always\"\n"), "[\"F1\", \"F8\"]", "[\"R1\"]");
    on_r1 = testing::changed(on_r1, "channel = \"F8\"", "channel = \"R1\"");
    v1::Query query;
    query.mutable_rota()->set_margin_db(-15);
    query.mutable_rota()->mutable_planned()->set_as_landed(true);
    query.mutable_rota()->add_apart()->set_a("Ann");
    query.mutable_rota()->mutable_apart(0)->set_b("Ben");
    const auto answer = plan(query, sheet_of(text + on_r1), {});
    ASSERT_EQ(answer.rota().groups_size(), 2) << answer.DebugString();
    for (const auto& one : answer.rota().groups())
        for (const auto& c : one.choices()) EXPECT_EQ(c.channel(), "R8") << c.owner();
}

TEST(MovingPlan, ReckonsWithTheGainsOfEachBandThatAMoverGoesTo) {
    for (const auto* on : {"5732", "2440"}) {
        const auto ann =
            testing::changed(text_of(PilotText{.name = "Ann", .channel = "2470", .stage = ""}),
                             "fm-video-5g8", "fm-video-2g4");
        const auto mo = testing::changed(mover(on, "5732, 2440"), "[[pilot.receiver]]",
                                         "[[pilot.receiver]]\nchannels = [5900]");
        const auto sheet = sheet_of(field_text() + ann + mo);
        EXPECT_NEAR(reckoned(sheet), least_by_check(sheet), 0.01) << on;
    }
}

}  // namespace
}  // namespace fieldpeg::planning
