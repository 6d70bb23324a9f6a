#include "server/planning/plan.h"

#include "server/day/check.h"
#include "server/day/state.h"
#include "server/planning/plan_scene.h"
#include "tests/planning/plans.h"
#include "tests/support/control.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <string>
#include <utility>
#include <vector>

/// Plans of days with handsets, access points, ground sides and control of aircraft. What a margin
/// is `check` says; the planner only has to agree.
namespace fieldpeg::planning {
namespace {

using testing::chance;
using testing::changed;
using testing::choice_of;
using testing::emitter_text;
using testing::far_rim_text;
using testing::field_text;
using testing::for_all;
using testing::margins_by_check;
using testing::one_of;
using testing::PilotText;
using testing::sheet_of;
using testing::steered;
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

v1::RotaReply rota(const v1::DaySheet& sheet, const v1::RotaQuery& asked) {
    v1::Query query;
    *query.mutable_rota() = asked;
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_rota()) << answer.DebugString();
    return answer.rota();
}

bool is_said(const google::protobuf::RepeatedPtrField<std::string>& texts,
             std::string_view phrase) {
    return std::ranges::any_of(
        texts, [&](const std::string& text) { return text.find(phrase) != std::string::npos; });
}

/// Digital both ways.
std::string two_way(const PilotText& pilot, const std::string& uplink) {
    auto text = changed(unclaimed(pilot), "\"fm-video\"", "\"ofdm-20\"");
    return changed(text, "\"fm-video-5g8\"", "\"ofdm-20-5g8\"") + "[pilot.uplink]\n" + uplink;
}

std::string random_emitter(std::mt19937_64& rng, int i) {
    return emitter_text(
        fmt::format("emitter {}", i), one_of(rng, {"pits", "tripod", "chair"}),
        fmt::format("wifi = {}\nduty = {}\npower_mw = {}\n", one_of(rng, {1, 36, 100, 149, 165}),
                    one_of(rng, {0.02, 0.3, 1.0}), one_of(rng, {10, 100})));
}

/// Who stands where, one way or two, steered or not, beside emitters.
std::string random_day(std::mt19937_64& rng) {
    auto text = field_text();
    const int emitters = whole(rng, 0, 2);
    for (int i = 0; i < emitters; ++i) text += random_emitter(rng, i);
    const int pilots = whole(rng, 1, 4);
    for (int i = 0; i < pilots; ++i) {
        PilotText pilot{.name = std::string(1, static_cast<char>('A' + i)) + "nn",
                        .place = fmt::format("line-{}", i + 1),
                        .more_video = "power_mw = [25]\nchannels = [\"R1-R8\"]\n"};
        text += chance(rng, 35)
                    ? two_way(pilot, fmt::format("power_mw = {}\nduty = {}\n", one_of(rng, {1, 10}),
                                                 one_of(rng, {0.02, 0.2})))
                    : unclaimed(pilot);
        if (chance(rng, 50)) text += steered;
    }
    return text;
}

TEST(BesidePlan, TellsTheMarginsThatCheckTellsOfThePlannedDay) {
    for_all(15, [](std::mt19937_64& rng) {
        const auto sheet = sheet_of(random_day(rng));
        const auto reply = planned(sheet);
        const auto margins = margins_by_check(with(sheet, reply.choices()));
        for (const auto& c : reply.choices()) {
            ASSERT_TRUE(margins.contains(c.owner()));
            EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01) << c.DebugString();
        }
        EXPECT_EQ(reply.choices_size(), sheet.pilots_size());  // emitters are nobody's choice
    });
}

// By trying every channel: one who flies alone among emitters, some of them rare and loud.
TEST(BesidePlan, FindsTheBestOfAllChannelsAmongEmitters) {
    for_all(15, [](std::mt19937_64& rng) {
        std::string text = field_text();
        for (int i = 0; i < 4; ++i)
            text +=
                emitter_text(fmt::format("emitter {}", i), one_of(rng, {"pits", "tripod", "chair"}),
                             fmt::format("channel = {}\nduty = {}\npower_dbm = {}\n",
                                         5658 + 37 * whole(rng, 0, 7),
                                         one_of(rng, {0.001, 0.01, 1.0}), whole(rng, -20, 20)));
        const auto sheet = sheet_of(
            text + unclaimed(PilotText{.name = "Ann",
                                       .more_video = "power_mw = 25\nchannels = [\"R1-R8\"]\n"}));
        const auto reply = planned(sheet);
        double best_db = -1000;
        for (const auto& channel : sheet.pilots(0).video().channels()) {
            google::protobuf::RepeatedPtrField<v1::PlanChoice> one = reply.choices();
            one[0].set_channel(channel.name());
            one[0].set_channel_mhz(channel.mhz());
            best_db = std::max(best_db, margins_by_check(with(sheet, one)).at("Ann"));
        }
        EXPECT_GE(choice_of(reply, "Ann").margin_db(), best_db - 0.02);
        EXPECT_GE(reply.bound_db(), best_db - 0.002);
    });
}

// An access point of much power on 5745 MHz: whoever can keeps away.
TEST(BesidePlan, KeepsAwayFromAnEmitter) {
    const auto channel = [](const std::string& emitter) {
        const auto sheet = sheet_of(
            field_text() + emitter +
            unclaimed(PilotText{.name = "Ann",
                                .more_video = "power_mw = 25\nchannels = [\"R3\", \"R8\"]\n"}));
        return choice_of(planned(sheet), "Ann").channel();
    };
    const auto access = [](int wifi) {
        return emitter_text("canteen", "pits",
                            fmt::format("wifi = {}\npower_mw = 100\nduty = 1\n", wifi));
    };
    EXPECT_EQ(channel(access(149)), "R8");             // 5745 beside R3, 5732 MHz
    EXPECT_EQ(channel(emitter_text("canteen", "pits",  // beside R8, 5917 MHz
                                   "channel = 5910\npower_mw = 100\nduty = 1\n")),
              "R3");
}

TEST(BesidePlan, KeepsOthersAwayFromAGroundSide) {
    const auto sheet = sheet_of(
        field_text() +
        unclaimed(PilotText{.name = "Ann", .more_video = "power_mw = 25\nchannels = [\"R1\"]\n"}) +
        two_way(PilotText{.name = "Uwe",
                          .place = "line-2",
                          .more_video = "power_mw = 25\nchannels = [\"R2\", \"R8\"]\n"},
                "power_mw = 0.1\nduty = 1\n"));
    const auto reply = planned(sheet);
    EXPECT_EQ(choice_of(reply, "Uwe").channel(), "R8");  // with R2 his ground side is 37 MHz off
}

// --- control

std::string on_the_lower_band(const std::string& pilot) {
    return changed(pilot, "fm-video-5g8", "fm-video-2g4");
}

std::string ann_flies() {
    return text_of(PilotText{.name = "Ann", .channel = "R4"}) + std::string(steered);
}

TEST(BesidePlan, LeavesOutChannelsThatTakeControlAndSaysSo) {
    const auto on = [](const std::string& channels) {
        return planned(
            sheet_of(field_text() + far_rim_text() + ann_flies() +
                     on_the_lower_band(unclaimed(PilotText{
                         .name = "Ben",
                         .place = "line-2",
                         .area = "corner",
                         .more_video = "power_mw = [800]\nchannels = " + channels + "\n"}))));
    };
    const auto reply = on("[2350, 2440]");
    EXPECT_EQ(choice_of(reply, "Ben").channel_mhz(), 2350);
    EXPECT_TRUE(
        is_said(reply.said(), "Ben: control of Ann's aircraft is at risk on 2440; left out"))
        << reply.DebugString();
    EXPECT_TRUE(reply.control().empty());
    EXPECT_FALSE(is_said(on("[2330, 2350]").said(), "is at risk on"));
}

// Neither waits for the other to go away first.
TEST(BesidePlan, LeavesOutWhatTwoWouldTakeEachByThemselves) {
    std::string text = field_text() + far_rim_text() + ann_flies();
    for (const auto& [name, place] : {std::pair("Ben", "line-2"), {"Bob", "line-3"}})
        text += on_the_lower_band(unclaimed(
            PilotText{.name = name,
                      .place = place,
                      .area = "corner",
                      .more_video = "power_mw = [800]\nchannels = [2440, 2350, 2320]\n"}));
    const auto reply = planned(sheet_of(text));
    for (const auto* name : {"Ben", "Bob"}) {
        EXPECT_NE(choice_of(reply, name).channel_mhz(), 2440) << name;
        EXPECT_TRUE(
            is_said(reply.said(),
                    std::string(name) + ": control of Ann's aircraft is at risk on 2440; left out"))
            << name;
    }
    EXPECT_TRUE(reply.control().empty());
}

TEST(BesidePlan, SaysWhoseControlIsAtRiskWhereThereIsNoOtherChannel) {
    const auto sheet = sheet_of(
        field_text() + far_rim_text() + ann_flies() +
        on_the_lower_band(unclaimed(PilotText{.name = "Ben",
                                              .place = "line-2",
                                              .area = "corner",
                                              .more_video = "power_mw = [800]\n"
                                                            "channels = [2430, 2440]\n"})));
    const auto reply = planned(sheet);
    ASSERT_EQ(reply.control_size(), 1) << reply.DebugString();
    EXPECT_TRUE(reply.control(0).starts_with("Ann: control of the aircraft loses"))
        << reply.control(0);
}

TEST(BesidePlan, LeavesOutAChannelThatTakesOnesOwnControl) {
    const auto sheet = sheet_of(
        field_text() +
        on_the_lower_band(unclaimed(PilotText{.name = "Ann",
                                              .more_video = "power_mw = [25]\n"
                                                            "channels = [2320, 2440]\n"})) +
        std::string(steered));
    const auto reply = planned(sheet);
    EXPECT_EQ(choice_of(reply, "Ann").channel_mhz(), 2320);
    EXPECT_TRUE(
        is_said(reply.said(), "Ann: control of Ann's aircraft is at risk on 2440; left out"))
        << reply.DebugString();
}

TEST(BesidePlan, SaysNothingOfControlOnADayWithoutIt) {
    const auto sheet = sheet_of(field_text() + unclaimed(PilotText{.name = "Ann"}) +
                                unclaimed(PilotText{.name = "Ben", .place = "line-2"}));
    const auto reply = planned(sheet);
    EXPECT_TRUE(reply.control().empty());
    EXPECT_FALSE(is_said(reply.said(), "control"));
}

// --- flight groups

TEST(BesideRota, KeepsAnEmitterInEveryGroup) {
    const auto only_r1 = [](const std::string& name, const std::string& place) {
        return unclaimed(PilotText{
            .name = name, .place = place, .more_video = "power_mw = 25\nchannels = [\"R1\"]\n"});
    };
    const auto text = field_text() + only_r1("Ann", "line-1") + only_r1("Ben", "line-2");
    v1::RotaQuery asked;
    asked.set_margin_db(-15);
    asked.mutable_planned()->set_as_landed(true);
    for (const auto* duty : {"1", "0.02"}) {  // a seat of the question, and beside it
        const auto beside = emitter_text(
            "canteen", "tripod",
            std::string("channel = 5695\npower_mw = 1\nwidth_mhz = 20\nduty = ") + duty + "\n");
        const auto sheet =
            sheet_of(field_text() + beside + only_r1("Ann", "line-1") + only_r1("Ben", "line-2"));
        const auto reply = rota(sheet, asked);
        const auto quiet = rota(sheet_of(text), asked);
        ASSERT_EQ(reply.groups_size(), 2) << reply.DebugString();
        google::protobuf::RepeatedPtrField<v1::PlanChoice> all;
        for (const auto& group : reply.groups()) {
            ASSERT_EQ(group.choices_size(), 1);  // the emitter is nobody's choice
            all.MergeFrom(group.choices());
        }
        const auto less = [](const auto& a, const auto& b) {
            return a.margin_db() < b.margin_db();
        };
        EXPECT_NEAR(reply.worst_margin_db(), std::ranges::min_element(all, less)->margin_db(),
                    0.01);
        const auto flown = with(sheet, all);
        for (const auto& group : reply.groups()) {
            const auto margins = margins_by_check(day::of_group(flown, group.group()));
            const auto& c = group.choices(0);
            EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01) << c.owner();
            for (const auto& other : quiet.groups())
                for (const auto& alone : other.choices())
                    if (alone.owner() == c.owner()) {
                        EXPECT_LT(c.margin_db(), alone.margin_db()) << c.owner();
                    }
        }
    }
}

TEST(BesideRota, SaysWhoseControlIsAtRiskInTheirGroup) {
    const auto text =
        field_text() + far_rim_text() +
        unclaimed(PilotText{.name = "Ann", .more_video = "power_mw = 25\nchannels = [\"R4\"]\n"}) +
        std::string(steered) +
        on_the_lower_band(unclaimed(PilotText{.name = "Ben",
                                              .place = "line-2",
                                              .area = "corner",
                                              .more_video = "power_mw = [800]\n"
                                                            "channels = [2440]\n"}));
    v1::RotaQuery asked;
    asked.set_margin_db(-60);
    const auto together = rota(sheet_of(text), asked);
    ASSERT_EQ(together.groups_size(), 1);
    ASSERT_EQ(together.control_size(), 1);
    EXPECT_TRUE(together.control(0).starts_with("Ann: ")) << together.control(0);
    auto& pair = *asked.add_apart();
    pair.set_a("Ann");
    pair.set_b("Ben");
    const auto apart = rota(sheet_of(text), asked);
    ASSERT_EQ(apart.groups_size(), 2);
    EXPECT_TRUE(apart.control().empty()) << apart.control(0);
}

TEST(BesideRoom, IsLessWhereNewcomersBringAGroundSide) {
    const auto more = [](const std::string& uplink) {
        const std::string channels = "power_mw = 25\nchannels = [\"R1-R8\"]\n";
        auto text = two_way(PilotText{.name = "Uwe", .more_video = channels}, uplink);
        if (uplink.empty()) text = changed(text, "[pilot.uplink]\n", "");
        v1::Query query;
        query.mutable_room()->set_like("Uwe");
        query.mutable_room()->set_margin_db(-3);
        query.mutable_room()->set_most(3);
        const auto sheet =
            sheet_of(field_text() + text +
                     text_of(PilotText{.name = "Ann", .place = "line-3", .more_video = channels}));
        const auto found = plan(query, sheet, {});
        EXPECT_TRUE(found.has_room()) << found.DebugString();
        return found.room().more();
    };
    const auto quiet = more("");
    EXPECT_GT(quiet, 0U);
    EXPECT_EQ(more("power_mw = 1000\nduty = 1\n"), 0U);
}

}  // namespace
}  // namespace fieldpeg::planning
