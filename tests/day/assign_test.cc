#include "server/day/decide.h"

#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>

/// Channels given out together: all of them, or none. The channels are the trade's R row [common
/// practice, no published source].
namespace fieldpeg::day {
namespace {

using testing::asks_on;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::field_text;
using testing::PilotText;
using testing::says_off;
using testing::unclaimed;

constexpr double mw25_dbm = 13.979400086720376;
const auto r1 = channel("R1", 5658);
const auto r3 = channel("R3", 5732);
const auto r8 = channel("R8", 5917);

Course three_pilots() {
    return Course(field_text() + unclaimed(PilotText{.name = "Ann", .place = "line-1"}) +
                  unclaimed(PilotText{.name = "Ben", .place = "line-2"}) +
                  unclaimed(PilotText{.name = "Cem", .place = "line-3"}));
}

v1::Command assigns(const std::vector<std::pair<std::string, v1::Channel>>& shares) {
    v1::Command command;
    auto& assign = *command.mutable_assign();
    for (const auto& [name, on] : shares) {
        auto& one = *assign.add_all();
        one.set_transmitter(name);
        *one.mutable_channel() = on;
        one.set_power_dbm(mw25_dbm);
    }
    return command;
}

const v1::Claim* claim_of(const Course& course, const std::string& name) {
    return holder(course.state().sheet(), name)->claim;
}

TEST(Assign, GivesEverybodyTheirsAndTellsThem) {
    auto course = three_pilots();
    const auto reply = course.send(assigns({{"Ann", r1}, {"Ben", r3}, {"Cem", r8}}));
    ASSERT_TRUE(reply.assigned().assigned()) << reply.DebugString();
    EXPECT_EQ(reply.assigned().changed_size(), 3);
    EXPECT_EQ(claim_of(course, "Ben")->channel().name(), "R3");
    EXPECT_EQ(claim_of(course, "Ben")->stage(), v1::Claim::held);
    ASSERT_EQ(reply.call_out_size(), 3);
    EXPECT_EQ(reply.call_out(1), "Ben: you now have R3 (5732 MHz) at 25 mW");
    EXPECT_EQ(course.state().unacknowledged_size(), 3);

    // Let on the air there, Ben knows; the same again changes nothing.
    course.send(asks_on("Ben"));
    EXPECT_EQ(course.state().unacknowledged_size(), 2);
    const auto again = course.send(assigns({{"Ann", r1}, {"Ben", r3}, {"Cem", r8}}));
    EXPECT_TRUE(again.assigned().assigned());
    EXPECT_TRUE(again.assigned().changed().empty());
    EXPECT_EQ(again.version(), course.state().version());
}

TEST(Assign, IsAllOrNothing) {
    auto course = three_pilots();
    course.send(claims("Cem", r8, mw25_dbm));
    course.send(asks_on("Cem"));
    const auto before = course.state().version();
    // Cem is on the air elsewhere by now.
    const auto reply = course.send(assigns({{"Ann", r1}, {"Cem", r3}}));
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::conflict) << reply.DebugString();
    EXPECT_EQ(course.state().version(), before);
    EXPECT_EQ(claim_of(course, "Ann"), nullptr);

    EXPECT_TRUE(course.send(assigns({{"Ann", r1}, {"Ann", r3}})).has_refusal());
    EXPECT_TRUE(course.send(assigns({})).has_refusal());
    EXPECT_TRUE(course.send(assigns({{"Zoe", r1}})).has_refusal());
    EXPECT_EQ(course.state().version(), before);
}

// A rota puts whoever is on the air into a group: nothing that radiates is moved by that, and
// nobody has to be told of a channel that they have.
TEST(Assign, PutsWhoIsOnTheAirIntoAGroupOnTheirChannel) {
    auto course = three_pilots();
    course.send(claims("Cem", r8, mw25_dbm));
    course.send(asks_on("Cem"));
    const auto before = *claim_of(course, "Cem");
    auto command = assigns({{"Ann", r1}, {"Cem", r8}});
    for (auto& one : *command.mutable_assign()->mutable_all()) one.set_group(2);
    const auto reply = course.send(command);
    ASSERT_TRUE(reply.assigned().assigned()) << reply.DebugString();
    const auto* after = claim_of(course, "Cem");
    EXPECT_EQ(after->group(), 2U);
    EXPECT_EQ(after->stage(), before.stage());
    EXPECT_EQ(after->since_ms(), before.since_ms());
    ASSERT_EQ(reply.call_out_size(), 1);  // Ann alone
    EXPECT_EQ(course.send(command).assigned().changed_size(), 0);

    // Down, it counts in every group and is in none.
    auto down = says_off("Cem");
    down.mutable_off()->set_down(true);
    course.send(down);
    command.mutable_assign()->mutable_all(1)->set_group(3);
    EXPECT_TRUE(course.send(command).has_refusal());
}

TEST(Assign, HarmsNobodyElseWithoutAReason) {
    auto course = three_pilots();
    course.send(claims("Cem", r1, mw25_dbm));
    const auto before = course.state().version();
    auto command = assigns({{"Ann", r1}});
    const auto refused = course.send(command);
    EXPECT_TRUE(refused.assigned().has_refusal()) << refused.DebugString();
    ASSERT_EQ(refused.assigned().harms_size(), 1);
    EXPECT_EQ(refused.assigned().harms(0).pilot(), "Cem");
    EXPECT_EQ(course.state().version(), before);

    command.mutable_assign()->set_allowed_because("Cem has gone home");
    const auto allowed = course.send(command);
    EXPECT_TRUE(allowed.assigned().assigned());
    EXPECT_EQ(claim_of(course, "Ann")->allowed_because(), "Cem has gone home");
    EXPECT_EQ(allowed.warnings_size(), 2);  // Ann has a channel, Cem pays
}

TEST(Assign, PutsNobodyInTroubleUnasked) {
    auto course = three_pilots();
    auto command = assigns({{"Ann", r1}, {"Ben", r1}});
    EXPECT_EQ(course.send(command).assigned().in_trouble_size(), 2);
    EXPECT_EQ(claim_of(course, "Ann"), nullptr);
    // In two flight groups they never meet.
    command.mutable_assign()->mutable_all(0)->set_group(1);
    command.mutable_assign()->mutable_all(1)->set_group(2);
    EXPECT_TRUE(course.send(command).assigned().assigned());
    EXPECT_EQ(claim_of(course, "Ben")->group(), 2U);
}

TEST(Assign, IsTheMarshals) {
    auto course = three_pilots();
    const auto ann = course.join("Ann");
    const auto reply = course.send(assigns({{"Ann", r1}}), ann);
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::not_permitted);
}

TEST(Assign, OnlyTriesIfAskedTo) {
    auto course = three_pilots();
    auto command = assigns({{"Ann", r1}});
    command.mutable_assign()->set_only_try(true);
    const auto before = course.state().version();
    const auto reply = course.send(command);
    EXPECT_FALSE(reply.assigned().assigned());
    EXPECT_FALSE(reply.assigned().has_refusal());
    EXPECT_EQ(course.state().version(), before);
}

}  // namespace
}  // namespace fieldpeg::day
