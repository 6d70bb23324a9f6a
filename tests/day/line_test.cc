#include "server/day/board.h"
#include "server/day/line.h"
#include "server/day/sentences.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

/// A yes in steps, and the one line for the field. People and places are invented; how pilots take
/// turns on one channel is common practice, no published source.
namespace fieldpeg::day {
namespace {

using testing::Course;
using testing::field_text;
using testing::on;
using testing::PilotText;
using testing::says_off;
using testing::text_of;

std::string flier(const std::string& name, const std::string& place, const std::string& on_channel,
                  const std::string& stage = "") {
    return text_of(PilotText{.name = name, .place = place, .channel = on_channel, .stage = stage});
}

/// Three on one channel, one far away from it.
std::string three_on_one(const std::string& ann = "") {
    return field_text() + flier("Ann", "line-1", "R3", ann) + flier("Ben", "line-2", "R3") +
           flier("Cyd", "line-3", "R3") + flier("Dora", "line-4", "F8");
}

const Actor marshal{0, v1::Role::marshal};
constexpr std::int64_t second_ms = 1000;
constexpr std::int64_t minute_ms = 60 * second_ms;

v1::Command in_steps(const std::string& who) {
    auto c = on(who);
    c.mutable_on()->set_in_steps(true);
    return c;
}
v1::Command confirms(const std::string& who) {
    auto c = on(who);
    c.mutable_on()->set_confirm(true);
    return c;
}
v1::Command when_free(const std::string& who) {
    auto c = on(who);
    c.mutable_on()->set_when_free(true);
    return c;
}
v1::Command not_after_all(const std::string& who) {
    auto c = says_off(who);
    c.mutable_off()->set_not_after_all(true);
    return c;
}
v1::Command moves(const std::string& who, std::uint32_t place) {
    v1::Command c;
    c.mutable_move_in_line()->set_transmitter(who);
    c.mutable_move_in_line()->set_place(place);
    return c;
}

std::vector<std::string> line(const Course& course) {
    std::vector<std::string> names;
    const auto now = board(course.state());
    for (const auto& one : now.line()) names.push_back(one.transmitter());
    return names;
}
std::vector<std::string> called(const Course& course) {
    std::vector<std::string> names;
    const auto now = board(course.state());
    for (const auto& one : now.line())
        if (one.called_until_ms() != 0) names.push_back(one.transmitter());
    return names;
}
const v1::Claim& claim(const Course& course, const std::string& who) {
    return *holder(course.state().sheet(), who)->claim;
}
v1::SwitchReply::Answer answer(Course& course, const v1::Command& command) {
    return course.send(command, marshal).switched().answer();
}
using Names = std::vector<std::string>;

TEST(InSteps, CountsForOthersFromTheYesOn) {
    Course course(three_on_one());
    EXPECT_EQ(answer(course, in_steps("Ann")), v1::SwitchReply::switch_on);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::told_on);
    EXPECT_EQ(answer(course, on("Ben")), v1::SwitchReply::wait);
    EXPECT_EQ(board(course.state()).rows(0).result().verdict(), v1::Verdict::steady);
}

TEST(InSteps, IsConfirmedWithItsFlightCountedFromTheYes) {
    Course course(three_on_one());
    course.send(in_steps("Ann"), marshal);
    const auto yes_ms = course.now_ms();
    course.pass(20 * second_ms);
    EXPECT_EQ(answer(course, confirms("Ann")), v1::SwitchReply::confirmed);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::on_air);
    EXPECT_EQ(claim(course, "Ann").since_ms(), yes_ms);
    course.pass(2 * minute_ms);
    EXPECT_FALSE(claim(course, "Ann").unconfirmed());
}

TEST(InSteps, IsTakenBackAndFreesTheChannel) {
    Course course(three_on_one());
    course.send(in_steps("Ann"), marshal);
    EXPECT_EQ(answer(course, not_after_all("Ann")), v1::SwitchReply::taken_back);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::held);
    EXPECT_EQ(answer(course, on("Ben")), v1::SwitchReply::switch_on);
    EXPECT_EQ(course.send(not_after_all("Ben"), marshal).refusal().kind(), v1::Refusal::conflict);
}

// Nothing drops off by a timer: what nobody has confirmed may well radiate.
TEST(InSteps, WithoutAWordIsOnTheAirUnconfirmed) {
    Course course(three_on_one());
    course.send(in_steps("Ann"), marshal);
    course.pass(yes_valid_ms - 1);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::told_on);
    course.pass(1);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::on_air);
    EXPECT_TRUE(claim(course, "Ann").unconfirmed());
    EXPECT_EQ(course.events().back().actor(), 0U);
    course.pass(60 * minute_ms);
    EXPECT_EQ(answer(course, on("Ben")), v1::SwitchReply::wait);
    course.send(confirms("Ann"), marshal);
    EXPECT_FALSE(claim(course, "Ann").unconfirmed());
}

TEST(InSteps, IsCalledOutUnconfirmedOnlyWhereSomebodyWaits) {
    for (const bool waits : {false, true}) {
        Course course(three_on_one());
        course.send(in_steps("Ann"), marshal);
        if (waits) course.send(when_free("Ben"), marshal);
        course.pass(yes_valid_ms);
        const auto& lapse = course.events().back();
        ASSERT_TRUE(lapse.stage_set().unconfirmed());
        EXPECT_EQ(call_outs(lapse, course.state()).size(), waits ? 1U : 0U);
    }
}

TEST(Line, CallsTheFirstByNameWhenItIsFree) {
    Course course(three_on_one("on_air = true"));
    EXPECT_EQ(answer(course, when_free("Ben")), v1::SwitchReply::in_line);
    EXPECT_EQ(answer(course, when_free("Cyd")), v1::SwitchReply::in_line);
    EXPECT_EQ(line(course), (Names{"Ben", "Cyd"}));
    EXPECT_TRUE(called(course).empty());
    const auto reply = course.send(says_off("Ann"), marshal);
    EXPECT_EQ(called(course), Names{"Ben"});
    ASSERT_EQ(reply.call_out_size(), 1);
    EXPECT_TRUE(reply.call_out(0).starts_with("Ben, your turn: ")) << reply.call_out(0);
    EXPECT_EQ(answer(course, on("Ben")), v1::SwitchReply::switch_on);
    EXPECT_EQ(line(course), Names{"Cyd"});
    EXPECT_EQ(course.state().line(0).passed_over(), 0U);  // who waits behind is not passed over
}

TEST(Line, IsNotNeededWhereItIsFree) {
    Course course(three_on_one());
    EXPECT_EQ(answer(course, when_free("Ben")), v1::SwitchReply::switch_on);
    EXPECT_TRUE(line(course).empty());
}

TEST(Line, RefusesASecondPlace) {
    Course course(three_on_one("on_air = true"));
    course.send(when_free("Ben"), marshal);
    const auto again = course.send(when_free("Ben"), marshal).refusal();
    EXPECT_EQ(again.kind(), v1::Refusal::malformed);
    EXPECT_NE(again.why().find("place 1 of 1"), std::string::npos) << again.why();
    EXPECT_EQ(line(course), Names{"Ben"});
}

// A call counts as radiating.
TEST(Line, RefusesWhatWouldBlockSomebodyCalled) {
    Course course(three_on_one("on_air = true"));
    course.send(when_free("Ben"), marshal);
    course.send(says_off("Ann"), marshal);
    const auto reply = course.send(on("Ann"), marshal).switched();
    EXPECT_EQ(reply.answer(), v1::SwitchReply::wait);
    EXPECT_NE(reply.refusal().why().find("Ben is called, 59 s"), std::string::npos)
        << reply.refusal().why();
    EXPECT_EQ(answer(course, on("Dora")), v1::SwitchReply::switch_on);
    course.pass(call_valid_ms);
    EXPECT_EQ(answer(course, on("Ann")), v1::SwitchReply::wait);  // called once more
    course.pass(call_valid_ms);
    EXPECT_EQ(answer(course, on("Ann")), v1::SwitchReply::switch_on);
}

TEST(Line, LetsOnePassWhoDoesNotAnswerAndDropsThemAfterTwo) {
    Course course(three_on_one("on_air = true"));
    course.send(when_free("Ben"), marshal);
    course.send(when_free("Cyd"), marshal);
    course.send(says_off("Ann"), marshal);
    ASSERT_EQ(called(course), Names{"Ben"});
    course.pass(call_valid_ms);
    EXPECT_EQ(line(course), (Names{"Cyd", "Ben"}));
    EXPECT_EQ(called(course), Names{"Cyd"});
    EXPECT_EQ(answer(course, on("Cyd")), v1::SwitchReply::switch_on);
    course.send(says_off("Cyd"), marshal);
    ASSERT_EQ(called(course), Names{"Ben"});
    course.pass(call_valid_ms);
    EXPECT_TRUE(line(course).empty());
    EXPECT_EQ(course.events().back().left_line().why(), v1::LeftLine::unanswered);
}

TEST(Line, IsTheMarshalsToOrder) {
    Course course(three_on_one("on_air = true"));
    course.send(when_free("Ben"), marshal);
    course.send(when_free("Cyd"), marshal);
    const Actor cyd{holder(course.state().sheet(), "Cyd")->id, v1::Role::pilot};
    EXPECT_EQ(course.send(moves("Cyd", 1), cyd).refusal().kind(), v1::Refusal::not_permitted);
    course.send(moves("Cyd", 1), marshal);
    EXPECT_EQ(line(course), (Names{"Cyd", "Ben"}));
    course.send(moves("Cyd", 2), marshal);
    EXPECT_EQ(line(course), (Names{"Ben", "Cyd"}));
    EXPECT_EQ(course.send(moves("Cyd", 0), marshal).refusal().kind(), v1::Refusal::malformed);
    EXPECT_EQ(course.send(moves("Cyd", 3), marshal).refusal().kind(), v1::Refusal::malformed);
    EXPECT_EQ(course.send(moves("Dora", 1), marshal).refusal().kind(), v1::Refusal::malformed);
    v1::Command leave;
    leave.mutable_leave_line()->set_transmitter("Cyd");
    course.send(leave, cyd);
    EXPECT_EQ(line(course), Names{"Ben"});
}

TEST(Line, KeepsPlacesWhileTheFieldIsClosedAndCallsNobody) {
    Course course(three_on_one("on_air = true"));
    course.send(when_free("Ben"), marshal);
    course.send(says_off("Ann"), marshal);
    ASSERT_EQ(called(course), Names{"Ben"});
    v1::Command close;
    close.mutable_close_field()->set_because("lunch");
    course.send(close, marshal);
    EXPECT_TRUE(called(course).empty());
    EXPECT_EQ(line(course), Names{"Ben"});
    course.pass(60 * minute_ms);
    EXPECT_EQ(line(course), Names{"Ben"});
    v1::Command open;
    open.mutable_open_field();
    course.send(open, marshal);
    EXPECT_EQ(called(course), Names{"Ben"});
}

// What may be taken back in a moment is not given away meanwhile.
TEST(Line, WaitsUntilAnUndoHasPassed) {
    Course course(three_on_one("on_air = true"));
    course.send(when_free("Ben"), marshal);
    auto off = says_off("Ann");
    off.mutable_off()->set_undoable(true);
    course.send(off, marshal);
    EXPECT_TRUE(called(course).empty());
    EXPECT_EQ(next_lapse_ms(course.state(), course.now_ms()),
              course.now_ms() + undo_valid_ms);
    course.pass(undo_valid_ms);
    EXPECT_EQ(called(course), Names{"Ben"});
}

// Whoever of the group whose turn it is changes a battery flies on before somebody of none.
TEST(Line, LeavesTheTurnToWhoChangesABattery) {
    Course course(field_text() + flier("Ann", "line-1", "R3", "group = 1\non_air = true") +
                  flier("Ben", "line-2", "R3"));
    v1::Command call;
    call.mutable_call_group()->set_group(1);
    course.send(call, marshal);
    course.send(when_free("Ben"), marshal);
    course.send(says_off("Ann"), marshal);
    EXPECT_TRUE(called(course).empty());
    EXPECT_EQ(answer(course, on("Ann")), v1::SwitchReply::switch_on);
    course.send(says_off("Ann"), marshal);
    course.pass(battery_swap_ms);
    EXPECT_EQ(called(course), Names{"Ben"});
}

// However often they are passed over, two who wait never wait for each other.
TEST(Line, DrainsWhoeverIsPassedOver) {
    Course course(three_on_one("on_air = true") + flier("Eve", "pits", "R3") +
                  flier("Finn", "chair", "R3"));
    const Names all{"Ben", "Cyd", "Eve", "Finn"};
    for (const auto& name : all) course.send(when_free(name), marshal);
    course.send(says_off("Ann"), marshal);
    // Others come between, as often as they can.
    for (int i = 0; i < 5; ++i) {
        course.send(moves("Finn", 1), marshal);
        course.send(moves("Eve", 2), marshal);
        if (answer(course, on("Ann")) == v1::SwitchReply::switch_on)
            course.send(says_off("Ann"), marshal);
    }
    for (std::size_t flown = 0; flown < all.size(); ++flown) {
        ASSERT_EQ(called(course).size(), 1U) << flown;
        const auto next = called(course).front();
        ASSERT_EQ(answer(course, on(next)), v1::SwitchReply::switch_on) << next;
        course.send(says_off(next), marshal);
    }
    EXPECT_TRUE(line(course).empty());
}

// Said again, it is the same flight, and the same crash.
TEST(InSteps, AnotherPowerOnTheWayIsTheSameFlight) {
    Course course(three_on_one());
    course.send(on("Ann"), marshal);
    const auto since_ms = claim(course, "Ann").since_ms();
    auto lower = on("Ann");
    lower.mutable_on()->set_already(true);
    lower.mutable_on()->set_power_dbm(10);
    course.send(lower, marshal);
    EXPECT_EQ(claim(course, "Ann").since_ms(), since_ms);
    EXPECT_FALSE(claim(course, "Ann").unasked());
    EXPECT_EQ(claim(course, "Ann").power_dbm(), 10);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::on_air);
    auto down = says_off("Ann");
    down.mutable_off()->set_down(true);
    down.mutable_off()->set_near("tall grass");
    course.send(down, marshal);
    const auto down_ms = claim(course, "Ann").since_ms();
    down.mutable_off()->clear_near();
    course.send(down, marshal);
    EXPECT_EQ(claim(course, "Ann").since_ms(), down_ms);
    EXPECT_EQ(claim(course, "Ann").lies(), "tall grass");
    down.mutable_off()->set_near("by the brook");
    course.send(down, marshal);
    EXPECT_EQ(claim(course, "Ann").lies(), "by the brook");
    EXPECT_EQ(claim(course, "Ann").since_ms(), down_ms);
}

TEST(Line, NamesInAWaitWhoIsLongInTheAir) {
    Course course(three_on_one("on_air = true"));
    course.pass(7 * minute_ms);
    EXPECT_EQ(course.send(on("Ben"), marshal).switched().refusal().next().find("may have landed"),
              std::string::npos);
    course.pass(7 * minute_ms);
    const auto next = course.send(on("Ben"), marshal).switched().refusal().next();
    EXPECT_NE(next.find("Ann (14 minutes, may have landed)"), std::string::npos) << next;
    EXPECT_EQ(course.stage("Ann"), v1::Claim::on_air);  // no timer releases anything
}

TEST(Restart, LeavesWhatWasOnTheAirToBeConfirmed) {
    Course course(three_on_one());
    course.restart();
    EXPECT_EQ(board(course.state()).restarted_ms(), 0);
    course.send(on("Ann"), marshal);
    course.send(on("Dora"), marshal);
    course.restart();
    EXPECT_EQ(board(course.state()).restarted_ms(), course.now_ms());
    EXPECT_TRUE(claim(course, "Ann").unconfirmed());
    EXPECT_EQ(answer(course, on("Ben")), v1::SwitchReply::wait);
    course.send(confirms("Ann"), marshal);
    EXPECT_NE(board(course.state()).restarted_ms(), 0);
    course.send(says_off("Dora"), marshal);
    EXPECT_EQ(board(course.state()).restarted_ms(), 0);
}

TEST(HandOver, MakesSomebodyElseTheMarshal) {
    Course course(three_on_one());
    const auto gil = course.join("Gil", v1::Role::marshal);
    const auto edda = course.join("Edda", v1::Role::onlooker);
    v1::Command over;
    over.mutable_hand_over()->set_name("Edda");
    EXPECT_EQ(course.send(over, edda).refusal().kind(), v1::Refusal::not_permitted);
    course.send(over, gil);
    EXPECT_EQ(person(course.state(), edda.id)->role(), v1::Role::marshal);
    EXPECT_EQ(person(course.state(), gil.id)->role(), v1::Role::onlooker);
}

TEST(Walk, KeepsTheAreaClearUntilTheyAreBack) {
    Course course(three_on_one("on_air = true"));
    v1::Command walk;
    walk.mutable_walk()->set_transmitter("Ann");
    EXPECT_EQ(course.send(walk, marshal).refusal().kind(), v1::Refusal::conflict);  // she flies
    auto down = says_off("Ann");
    down.mutable_off()->set_down(true);
    down.mutable_off()->set_near("tall grass");
    course.send(down, marshal);
    EXPECT_EQ(claim(course, "Ann").lies(), "tall grass");
    course.send(on("Dora"), marshal);
    v1::Command close;
    close.mutable_close_field()->set_because("somebody walks out");
    const auto closed = course.send(close, marshal).done().text();
    EXPECT_NE(closed.find("; down: Ann"), std::string::npos) << closed;
    const auto flies = course.send(walk, marshal).refusal();  // closed, but not landed yet
    EXPECT_NE(flies.why().find("Dora"), std::string::npos) << flies.why();
    course.send(says_off("Dora"), marshal);
    v1::Command open;
    open.mutable_open_field();
    course.send(open, marshal);
    EXPECT_TRUE(course.send(walk, marshal).has_done());
    EXPECT_EQ(board(course.state()).searches(0).lies(), "tall grass");
    EXPECT_EQ(course.send(on("Dora"), marshal).refusal().kind(), v1::Refusal::conflict);
    walk.mutable_walk()->set_is_back(true);
    course.send(walk, marshal);
    EXPECT_EQ(answer(course, on("Dora")), v1::SwitchReply::switch_on);
}

TEST(Told, AllAtOnce) {
    Course course(three_on_one("on_air = true"));
    auto fact = on("Ben");
    fact.mutable_on()->set_already(true);
    ASSERT_GT(course.send(fact, marshal).warnings_size(), 0);
    v1::Command all;
    all.mutable_acknowledge_warning()->set_all(true);
    course.send(all, marshal);
    EXPECT_TRUE(course.state().unacknowledged().empty());
}

}  // namespace
}  // namespace fieldpeg::day
