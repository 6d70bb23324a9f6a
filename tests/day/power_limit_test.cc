#include "server/day/power_limit.h"

#include "server/day/check.h"
#include "server/day/choices.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

/// A club's own limit. The day is invented; that many clubs fly with 25 mW and let more only by the
/// leader's word is common practice, no published source.
namespace fieldpeg::day {
namespace {

using testing::asks_on;
using testing::changed;
using testing::channel;
using testing::claims;
using testing::club_day;
using testing::Course;
using testing::says_off;
using testing::sheet_of;

double dbm(double mw) {
    return 10 * std::log10(mw);
}

std::string limited(const std::string& mw = "25") {
    return changed(club_day(), "date = 2026-06-12", "date = 2026-06-12\npower_limit_mw = " + mw);
}

/// Ann flies so far out that a steady picture takes 600 mW.
std::string far_out(const std::string& mw = "25") {
    return changed(limited(mw), "area = \"circuit\"", "area = \"valley\"");
}

v1::Command allows(v1::Command command) {
    if (command.has_claim()) command.mutable_claim()->set_allowed_because("far out");
    if (command.has_on()) command.mutable_on()->set_allowed_because("far out");
    return command;
}

TEST(PowerLimit, IsThePowerItselfAndNothingBelow) {
    const auto sheet = sheet_of(limited());
    EXPECT_FALSE(is_above_limit(sheet, dbm(25)));
    EXPECT_FALSE(is_above_limit(sheet, dbm(1)));
    EXPECT_TRUE(is_above_limit(sheet, dbm(26)));
    EXPECT_FALSE(is_above_limit(sheet_of(club_day()), dbm(2000)));
}

TEST(PowerLimit, RefusesAClaimAboveItAndSaysWhatFits) {
    Course course(limited());
    for (const bool yes : {false, true}) {
        auto asked = claims("Ann", testing::channel("R1"), dbm(200));
        asked.mutable_claim()->set_yes_anyway(yes);
        const auto reply = course.send(asked).claim();
        EXPECT_FALSE(reply.claimed());
        EXPECT_EQ(reply.refusal().why(), "200 mW is above the club's limit of 25 mW");
        EXPECT_EQ(reply.refusal().next(), "25 mW fits; more only the marshal allows");
    }
    EXPECT_TRUE(course.send(claims("Ann", testing::channel("R1"), dbm(25))).claim().claimed());
}

TEST(PowerLimit, OffersNoAlternativeAboveIt) {
    Course course(limited());
    const auto reply = course.send(claims("Ann", testing::channel("R1"), dbm(600))).claim();
    ASSERT_FALSE(reply.alternatives().empty());
    for (const auto& other : reply.alternatives())
        EXPECT_FALSE(is_above_limit(course.state().sheet(), other.power_dbm()));
}

TEST(PowerLimit, IsTheMarshalsToLift) {
    Course course(limited());
    const auto ann = course.join("Ann");
    const auto asked = claims("Ann", testing::channel("R1"), dbm(200));
    EXPECT_EQ(course.send(allows(asked), ann).refusal().kind(), v1::Refusal::not_permitted);
    EXPECT_TRUE(course.send(allows(asked)).claim().claimed());
    EXPECT_EQ(holder(course.state().sheet(), "Ann")->claim->allowed_because(), "far out");
    // Who was let have it may switch it on.
    EXPECT_EQ(course.send(asks_on("Ann"), ann).switched().answer(), v1::SwitchReply::switch_on);
}

TEST(PowerLimit, LetsNobodySwitchOnAboveItUnasked) {
    Course course(limited());
    auto fact = asks_on("Ann");
    fact.mutable_on()->set_already(true);
    *fact.mutable_on()->mutable_channel() = testing::channel("R1");
    fact.mutable_on()->set_power_dbm(dbm(200));
    // What is so is noted, and said.
    const auto noted = course.send(fact).switched();
    EXPECT_EQ(noted.answer(), v1::SwitchReply::noted);
    EXPECT_NEAR(noted.power_limit_dbm(), dbm(25), 0.001);
    course.send(says_off("Ann"));
    const auto refused = course.send(asks_on("Ann")).switched();
    EXPECT_EQ(refused.answer(), v1::SwitchReply::ask_marshal);
    EXPECT_EQ(refused.refusal().why(), "200 mW is above the club's limit of 25 mW");
    EXPECT_EQ(course.send(allows(asks_on("Ann"))).switched().answer(), v1::SwitchReply::switch_on);
    // On the bench it sends with its lowest step.
    course.send(says_off("Ann"));
    auto bench = asks_on("Ann");
    bench.mutable_on()->set_bench(true);
    EXPECT_NE(course.send(bench).switched().answer(), v1::SwitchReply::ask_marshal);
}

TEST(PowerLimit, BoundsWhatIsChosenWhereNobodySays) {
    for (const auto& [mw, most] : {std::pair("25", 25.0), {"200", 200.0}, {"1000", 600.0}}) {
        Course course(far_out(mw));
        v1::Command best;
        best.mutable_claim()->set_transmitter("Ann");
        best.mutable_claim()->set_yes_anyway(true);
        EXPECT_NEAR(course.send(best).claim().power_dbm(), dbm(most), 0.001) << mw;
    }
}

TEST(PowerLimit, LeavesTheLowestStepToWhoHasNoneWithinIt) {
    const auto sheet = sheet_of(limited("10"));
    EXPECT_EQ(powers_within(sheet, pilot(sheet, "Ann")->video()).size(), 1U);
    const auto refusal = above_limit(sheet, *holder(sheet, "Ann"), dbm(25));
    ASSERT_TRUE(refusal);
    EXPECT_EQ(refusal->next(), "it has no step within the limit: only the marshal allows it");
    // What can be set to anything is set to the limit.
    EXPECT_NEAR(powers_within(sheet, pilot(sheet, "Dee")->video()).front(), dbm(10), 0.001);
}

TEST(PowerLimit, IsNotGivenOutAbove) {
    Course course(limited());
    v1::Command assign;
    auto& one = *assign.mutable_assign()->add_all();
    one.set_transmitter("Ann");
    *one.mutable_channel() = testing::channel("R1");
    one.set_power_dbm(dbm(200));
    EXPECT_EQ(course.send(assign).refusal().why(), "200 mW is above the club's limit of 25 mW");
    assign.mutable_assign()->set_allowed_because("far out");
    EXPECT_TRUE(course.send(assign).assigned().assigned());
}

TEST(PowerLimit, IsInTheCheckForWhoIsAbove) {
    Course course(limited());
    course.send(allows(claims("Ann", testing::channel("R1"), dbm(200))));
    course.send(claims("Bob", testing::channel("R7"), dbm(25)));
    const auto reply = check(course.state().sheet(), v1::Basis::held, 0);
    ASSERT_EQ(std::ranges::count_if(reply.remarks(), &v1::Remark::above_limit), 1);
    const auto& above = *std::ranges::find_if(reply.remarks(), &v1::Remark::above_limit);
    EXPECT_EQ(above.owner(), "Ann");
    EXPECT_EQ(above.text(), "200 mW is above the club's limit of 25 mW");
}

TEST(Sharp, AsksForMoreThanASteadyPictureNeeds) {
    const auto power = [](bool sharp) {
        Course course(changed(club_day(), "height_m = [3, 40]", "height_m = [3, 41]"));
        v1::Command asked = claims("Ann", testing::channel("R1"), 0);
        asked.mutable_claim()->clear_power_dbm();
        asked.mutable_claim()->set_sharp(sharp);
        return course.send(asked).claim();
    };
    EXPECT_NE(power(true).own().picture(), v1::Picture::broken);
    EXPECT_EQ(power(true).own().picture(), v1::Picture::sharp);
    EXPECT_GE(power(true).power_dbm(), power(false).power_dbm());
}

}  // namespace
}  // namespace fieldpeg::day
