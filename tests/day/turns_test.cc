#include "server/day/board.h"
#include "server/day/sentences.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <string_view>

/// Whose turn it is, and a field that closes. People and places are invented; how clubs do it is
/// common practice, no published source.
namespace fieldpeg::day {
namespace {

using testing::Course;
using testing::field_text;
using testing::on;
using testing::PilotText;
using testing::RelayText;
using testing::text_of;

std::string flier(const std::string& name, const std::string& place, const std::string& on_channel,
                  const std::string& stage) {
    return text_of(PilotText{.name = name, .place = place, .channel = on_channel, .stage = stage});
}

/// Ann and Ben in group 1, Cyd on Ann's channel and Dora in group 2; Eve in none.
std::string two_groups(const std::string& ann = "", const std::string& ben = "") {
    return field_text() + flier("Ann", "line-1", "R1", "group = 1\n" + ann) +
           flier("Ben", "line-2", "R8", "group = 1\n" + ben) +
           flier("Cyd", "line-3", "R1", "group = 2") + flier("Dora", "line-4", "F8", "group = 2") +
           flier("Eve", "pits", "R4", "");
}

v1::Command call(std::uint32_t group) {
    v1::Command command;
    command.mutable_call_group()->set_group(group);
    return command;
}
v1::Command close_field(const std::string& because, bool now = false) {
    v1::Command command;
    command.mutable_close_field()->set_because(because);
    command.mutable_close_field()->set_now(now);
    return command;
}
v1::Command open_field() {
    v1::Command command;
    command.mutable_open_field();
    return command;
}

const Actor marshal{0, v1::Role::marshal};

bool may(Course& course, const std::string& who) {
    return course.send(on(who), marshal).switched().answer() == v1::SwitchReply::switch_on;
}

TEST(GroupCall, LetsOnlyThatGroupAndThoseOfNoneSwitchOn) {
    Course course(two_groups());
    ASSERT_TRUE(course.send(call(2), marshal).has_group());
    EXPECT_EQ(board(course.state()).flying_group(), 2U);
    const auto refused = course.send(on("Ben"), marshal).refusal();
    EXPECT_NE(refused.why().find("group 2 flies"), std::string::npos) << refused.why();
    EXPECT_TRUE(may(course, "Dora"));
    EXPECT_TRUE(may(course, "Eve"));
    auto anyway = on("Ben");
    anyway.mutable_on()->set_out_of_turn(true);
    EXPECT_TRUE(course.send(anyway, marshal).has_switched());
    course.send(call(0), marshal);
    EXPECT_EQ(board(course.state()).flying_group(), 0U);
}

TEST(GroupCall, OutOfTurnIsTheMarshalsToSay) {
    Course course(two_groups());
    course.send(call(2), marshal);
    auto anyway = on("Ben");
    anyway.mutable_on()->set_out_of_turn(true);
    const Actor ben{holder(course.state().sheet(), "Ben")->id, v1::Role::pilot};
    EXPECT_EQ(course.send(anyway, ben).refusal().kind(), v1::Refusal::not_permitted);
    EXPECT_EQ(course.send(call(1), ben).refusal().kind(), v1::Refusal::not_permitted);
}

// What radiates is a fact, whosever turn it is.
TEST(GroupCall, NotesAFactOutOfTurn) {
    Course course(two_groups());
    course.send(call(2), marshal);
    auto fact = on("Ben");
    fact.mutable_on()->set_already(true);
    EXPECT_EQ(course.send(fact, marshal).switched().answer(), v1::SwitchReply::noted);
}

TEST(GroupCall, SaysWhoIsStillOnTheAirAndWhoWaitsForThem) {
    Course course(two_groups("on_air = true"));
    const auto reply = course.send(call(2), marshal);
    ASSERT_EQ(reply.group().still_on_size(), 1);
    EXPECT_EQ(reply.group().still_on(0).transmitter(), "Ann");
    ASSERT_EQ(reply.group().next_size(), 2);
    for (const auto& one : reply.group().next()) {
        auto asked = on(one.transmitter());
        asked.mutable_on()->set_out_of_turn(true);
        Course same(two_groups("on_air = true"));
        const auto answer = same.send(asked, marshal).switched().answer();
        EXPECT_EQ(one.wait_for().empty(), answer == v1::SwitchReply::switch_on)
            << one.transmitter();
    }
    EXPECT_EQ(reply.group().next(0).wait_for(0), "Ann");  // Cyd has her channel
    EXPECT_EQ(reply.call_out_size(), 3);
}

TEST(GroupCall, DownIsAskedBackAndLeavesOutWhoIsNamed) {
    Course course(two_groups("on_air = true", "on_air = true"));
    auto down = call(2);
    down.mutable_call_group()->set_down(true);
    const auto asked = course.send(down, marshal).refusal();
    EXPECT_NE(asked.why().find("Ann"), std::string::npos) << asked.why();
    EXPECT_NE(asked.why().find("Ben"), std::string::npos);
    EXPECT_EQ(course.state().flying_group(), 0U);
    down.mutable_call_group()->add_but("Ben");
    down.mutable_call_group()->set_yes_anyway(true);
    const auto reply = course.send(down, marshal);
    ASSERT_EQ(reply.group().off_size(), 1);
    EXPECT_EQ(reply.group().still_on(0).transmitter(), "Ben");
    EXPECT_EQ(reply.group().next(0).transmitter(), "Cyd");  // on the channel of Ann, who is off
    EXPECT_TRUE(reply.group().next(0).wait_for().empty());
    const auto stage = [&](const char* who) {
        return holder(course.state().sheet(), who)->claim->stage();
    };
    EXPECT_EQ(stage("Ann"), v1::Claim::off_air);
    EXPECT_EQ(stage("Ben"), v1::Claim::on_air);
}

TEST(GroupCall, DownTouchesNoRelayAndNobodyWhoIsDownOrAlwaysOn) {
    for (const auto* stage : {"group = 1\non_air = true", "group = \"always\"\non_air = true"}) {
        Course course(field_text() + flier("Ann", "line-1", "R1", stage) +
                      flier("Cyd", "line-3", "R8", "group = 2") +
                      text_of(RelayText{.name = "mast", .owner = "Ann", .channel = "F4"}) +
                      "group = 1\n");
        auto lost = testing::off("Ann");
        lost.mutable_off()->set_down(true);
        if (std::string_view(stage).starts_with("group = 1")) course.send(lost, marshal);
        auto down = call(2);
        down.mutable_call_group()->set_down(true);
        down.mutable_call_group()->set_yes_anyway(true);
        const auto reply = course.send(down, marshal);
        ASSERT_TRUE(reply.has_group()) << reply.ShortDebugString();
        EXPECT_EQ(reply.group().off_size(), 0) << stage;
        EXPECT_TRUE(holder(course.state().sheet(), "Ann")->radiates());
        EXPECT_TRUE(holder(course.state().sheet(), "mast")->radiates());
    }
}

TEST(GroupCall, OfAGroupThatNobodyIsInIsNotFound) {
    Course course(two_groups());
    const auto version = course.state().version();
    EXPECT_EQ(course.send(call(7), marshal).refusal().kind(), v1::Refusal::not_found);
    auto but = call(2);
    but.mutable_call_group()->add_but("Ann");
    EXPECT_EQ(course.send(but, marshal).refusal().kind(), v1::Refusal::malformed);
    but.mutable_call_group()->set_down(true);
    but.mutable_call_group()->set_but(0, "Nobody");
    EXPECT_EQ(course.send(but, marshal).refusal().kind(), v1::Refusal::not_found);
    EXPECT_EQ(course.state().version(), version);
}

// --- a closed field

TEST(ClosedField, GivesNobodyAYesAndNotesFacts) {
    Course course(two_groups("on_air = true"));
    const auto closed = course.send(close_field("lunch"), marshal);
    EXPECT_NE(closed.done().text().find("still on the air: Ann"), std::string::npos)
        << closed.done().text();
    for (const bool bench : {false, true}) {
        auto asked = on("Eve");
        asked.mutable_on()->set_bench(bench);
        asked.mutable_on()->set_out_of_turn(true);
        EXPECT_NE(course.send(asked, marshal).refusal().why().find("closed: lunch"),
                  std::string::npos);
    }
    auto fact = on("Eve");
    fact.mutable_on()->set_already(true);
    EXPECT_EQ(course.send(fact, marshal).switched().answer(), v1::SwitchReply::noted);
    EXPECT_TRUE(course.send(testing::off("Ann"), marshal).has_switched());
    EXPECT_EQ(board(course.state()).closed().because(), "lunch");
    EXPECT_TRUE(course.send(open_field(), marshal).has_done());
    EXPECT_FALSE(board(course.state()).has_closed());
    EXPECT_TRUE(may(course, "Ann"));
}

TEST(ClosedField, IsClosedAtOnceByAnybodyAndOpenedByTheMarshal) {
    Course course(two_groups());
    const Actor onlooker{99, v1::Role::onlooker};
    EXPECT_EQ(course.send(close_field("lunch"), onlooker).refusal().kind(),
              v1::Refusal::not_permitted);
    const auto reply = course.send(close_field("a helicopter", true), onlooker);
    ASSERT_EQ(reply.call_out_size(), 1);
    EXPECT_EQ(reply.call_out(0), "Land now, everybody: a helicopter");
    EXPECT_EQ(course.send(open_field(), onlooker).refusal().kind(), v1::Refusal::not_permitted);
    EXPECT_TRUE(course.send(open_field(), marshal).has_done());
}

TEST(ClosedField, MayBecomeUrgentAndNothingElse) {
    Course course(two_groups());
    EXPECT_EQ(course.send(open_field(), marshal).refusal().kind(), v1::Refusal::malformed);
    EXPECT_EQ(course.send(close_field(""), marshal).refusal().kind(), v1::Refusal::malformed);
    course.send(close_field("lunch"), marshal);
    const auto since = course.state().closed().since_ms();
    EXPECT_EQ(course.send(close_field("tea"), marshal).refusal().kind(), v1::Refusal::malformed);
    EXPECT_TRUE(course.send(close_field("a walker", true), marshal).has_done());
    EXPECT_TRUE(course.state().closed().now());
    EXPECT_EQ(course.state().closed().since_ms(), since);
    EXPECT_EQ(course.send(close_field("again", true), marshal).refusal().kind(),
              v1::Refusal::malformed);
}

}  // namespace
}  // namespace fieldpeg::day
