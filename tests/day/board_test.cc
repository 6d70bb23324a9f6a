#include "server/day/board.h"

#include "server/day/sentences.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

/// What the board says beside who holds what. People and places are invented.
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::Course;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::text_of;

const Actor marshal{0, v1::Role::marshal};

std::string flier(const std::string& name, const std::string& place, const std::string& on_channel,
                  const std::string& stage) {
    return text_of(PilotText{.name = name, .place = place, .channel = on_channel, .stage = stage});
}

std::string three_groups() {
    return field_text() + flier("Ann", "line-1", "R1", "group = 3") +
           flier("Ben", "line-2", "R1", "group = 1") + flier("Cyd", "line-3", "R8", "group = 1") +
           flier("Eve", "pits", "F4", "") +
           text_of(RelayText{.name = "mast", .owner = "Eve", .channel = "F8"});
}

const v1::BoardRow& row(const v1::BoardReply& board, const std::string& transmitter) {
    return *std::ranges::find(board.rows(), transmitter, &v1::BoardRow::transmitter);
}

v1::Command call(std::uint32_t group) {
    v1::Command command;
    command.mutable_call_group()->set_group(group);
    return command;
}

v1::Command see(const std::string& on, const std::string& place = "") {
    v1::Command command;
    *command.mutable_see()->mutable_channel() = testing::channel(on);
    command.mutable_see()->set_emission("fm-video");
    command.mutable_see()->set_place(place);
    return command;
}

TEST(Board, SaysWhereEverybodyStandsAndFlies) {
    Course course(three_groups());
    course.send(see("R5", "tripod"), marshal);
    const auto now = board(course.state());
    EXPECT_EQ(row(now, "Ben").place(), "line-2");
    EXPECT_EQ(row(now, "Ben").area(), "circuit");
    EXPECT_EQ(row(now, "mast").place(), "tripod");
    EXPECT_EQ(row(now, "mast").area(), "") << "it does not fly";
    EXPECT_EQ(now.rows(now.rows_size() - 1).place(), "tripod");
}

TEST(Board, NamesTheGroupsThatSomebodyIsIn) {
    Course course(three_groups());
    const auto now = board(course.state());
    ASSERT_EQ(now.groups_size(), 2);
    EXPECT_EQ(now.groups(0), 1U);
    EXPECT_EQ(now.groups(1), 3U);
    EXPECT_TRUE(
        board(Course(field_text() + flier("Ann", "pits", "R1", "")).state()).groups().empty());
}

TEST(Board, SaysSinceWhenAGroupFlies) {
    Course course(three_groups());
    EXPECT_EQ(board(course.state()).flying_since_ms(), 0);
    course.send(call(1), marshal);
    const auto since = course.now_ms();
    EXPECT_EQ(board(course.state()).flying_since_ms(), since);
    course.pass(60'000);
    course.send(call(1), marshal);
    EXPECT_EQ(board(course.state()).flying_since_ms(), since) << "it flew already";
    course.pass(60'000);
    course.send(call(3), marshal);
    EXPECT_EQ(board(course.state()).flying_since_ms(), course.now_ms());
    course.send(call(0), marshal);
    EXPECT_EQ(board(course.state()).flying_since_ms(), 0);
}

TEST(Board, SaysWhoClosedTheField) {
    Course course(three_groups());
    const auto ann = course.join("Ann");
    v1::Command close;
    close.mutable_close_field()->set_because("lunch");
    course.send(close, marshal);
    EXPECT_EQ(board(course.state()).closed().by(), "") << "the marshal at the server";
    close.mutable_close_field()->set_because("a helicopter");
    close.mutable_close_field()->set_now(true);
    course.send(close, ann);
    EXPECT_EQ(board(course.state()).closed().by(), "Ann");
    EXPECT_EQ(board(course.state()).closed().by_id(), ann.id);
    EXPECT_EQ(course.state().closed().by(), "") << "states name nobody";
}

TEST(Board, HasTheClubsOwnDrill) {
    EXPECT_EQ(board(Course(three_groups()).state()).lost_picture(), "");
    Course course(changed(three_groups(), "date = 2026-06-12",
                          "date = 2026-06-12\nlost_picture = \"Level off, climb, call it out\""));
    EXPECT_EQ(board(course.state()).lost_picture(), "Level off, climb, call it out");
}

TEST(Sighting, IsTakenBackByWhoeverEnteredItAndByTheMarshal) {
    Course course(three_groups());
    const auto ann = course.join("Ann"), ben = course.join("Ben");
    const auto olly = course.join("Olly", v1::Role::onlooker);
    for (const auto& by : {ann, marshal}) {
        const auto seen = course.send(see("R5"), ann).done().id();
        const auto now = board(course.state());
        EXPECT_EQ(now.rows(now.rows_size() - 1).id(), seen);
        EXPECT_EQ(now.rows(now.rows_size() - 1).reported_by(), ann.id);
        v1::Command gone;
        gone.mutable_unsee()->set_sighting(seen);
        for (const auto& other : {ben, olly})
            EXPECT_EQ(course.send(gone, other).refusal().kind(), v1::Refusal::not_permitted);
        EXPECT_TRUE(course.send(gone, by).has_done());
        EXPECT_TRUE(course.state().sheet().sightings().empty());
    }
}

TEST(Sighting, OfTheMarshalIsNobodyElsesToTakeBack) {
    Course course(three_groups());
    const auto ann = course.join("Ann");
    v1::Command gone;
    gone.mutable_unsee()->set_sighting(course.send(see("R5"), marshal).done().id());
    EXPECT_EQ(course.send(gone, ann).refusal().kind(), v1::Refusal::not_permitted);
}

/// Finn's tripod breaks Edda's picture.
Course harmed() {
    Course course(field_text() + flier("Edda", "line-1", "R1", "on_air = true") +
                  flier("Finn", "pits", "F8", "") + flier("Gil", "line-4", "R8", "") +
                  changed(text_of(RelayText{.name = "mast",
                                            .owner = "Finn",
                                            .channel = "R2",
                                            .power_mw = "600",
                                            .more = "power_mw = [25, 600]"}),
                          "on_air = true", ""));
    v1::Command already = testing::asks_on("mast");
    already.mutable_on()->set_already(true);
    course.send(already, marshal);
    return course;
}

TEST(Board, HasTheNumberByWhichAWarningNamesItsCause) {
    const auto now = board(harmed().state());
    ASSERT_EQ(now.untold_size(), 1);
    EXPECT_EQ(row(now, "mast").id(), now.untold(0).cause());
    EXPECT_NE(row(now, "Finn").id(), now.untold(0).cause());
}

v1::Command cannot_reach(std::uint64_t warning) {
    v1::Command command;
    command.mutable_acknowledge_warning()->set_warning(warning);
    command.mutable_acknowledge_warning()->set_cannot_reach(true);
    return command;
}

TEST(CauseAnswer, OfOneWhoCannotReachItIsSaidToTheMarshalAndEndsNothing) {
    auto course = harmed();
    const auto edda = course.join("Edda"), finn = course.join("Finn"), gil = course.join("Gil");
    ASSERT_FALSE(course.state().unacknowledged().empty());
    const auto warning = course.state().unacknowledged(0).version();
    EXPECT_EQ(board(course.state()).untold(0).cause_answer(), v1::Warning::no_answer);
    for (const auto& other : {edda, gil})
        EXPECT_EQ(course.send(cannot_reach(warning), other).refusal().kind(),
                  v1::Refusal::not_permitted);
    const auto reply = course.send(cannot_reach(warning), finn);
    ASSERT_TRUE(reply.has_done());
    ASSERT_EQ(reply.call_out_size(), 1);
    EXPECT_NE(reply.call_out(0).find("Finn cannot reach it"), std::string::npos);
    const auto now = board(course.state());
    ASSERT_EQ(now.untold_size(), 1) << "Edda is still to be told";
    EXPECT_EQ(now.untold(0).cause_answer(), v1::Warning::cannot_reach);
    EXPECT_EQ(now.call_out_cause(0), reply.call_out(0));
    EXPECT_EQ(kind_name(course.events().back()), "cause_answered");
}

}  // namespace
}  // namespace fieldpeg::day
