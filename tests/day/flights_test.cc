#include "server/day/flights.h"

#include "server/day/check.h"
#include "server/day/comparison.h"
#include "server/day/explain.h"
#include "server/day/relay_check.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

/// A day with flight groups, group by group. People and places are invented; that only one group
/// is in the air at a time is common practice, no published source.
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::channel;
using testing::Course;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

std::string flier(const std::string& name, const std::string& place, const std::string& on,
                  const std::string& group) {
    return text_of(PilotText{.name = name,
                             .place = place,
                             .channel = on,
                             .stage = group,
                             .more_video = "power_mw = [25, 200, 600]\n"});
}

/// Ann and Ben share R1, in groups of their own; Cyd beside Ann, Dora without a group.
std::string two_groups() {
    return field_text() + flier("Ann", "line-1", "R1", "group = 1") +
           flier("Ben", "line-2", "R1", "group = 2") + flier("Cyd", "line-3", "R5", "group = 1");
}

const v1::PilotResult& result(const v1::CheckReply& reply, const std::string& pilot) {
    return *std::ranges::find(reply.pilots(), pilot, &v1::PilotResult::pilot);
}

TEST(Flights, AreTheGroupsOfTheDayOrEverybodyAtOnce) {
    EXPECT_EQ(flight_groups(sheet_of(two_groups())), (std::vector<std::uint32_t>{1, 2}));
    EXPECT_EQ(flight_groups(sheet_of(field_text() + flier("Ann", "line-1", "R1", ""))),
              std::vector<std::uint32_t>{0});
    // Who is down, or always on, makes no flight of their own.
    EXPECT_EQ(
        flight_groups(sheet_of(field_text() + flier("Ann", "line-1", "R1", "group = \"always\""))),
        std::vector<std::uint32_t>{0});
}

TEST(Flights, ClaimsWithoutAGroupFlyWithEachOfTheOthers) {
    const auto sheet = sheet_of(two_groups());
    EXPECT_EQ(flies_with(sheet, "Ben", 0, false), std::vector<std::uint32_t>{1});
    EXPECT_EQ(flies_with(sheet, "Ben", 5, false), std::vector<std::uint32_t>{5});
    EXPECT_EQ(flies_with(sheet, "Ben", 5, true), std::vector<std::uint32_t>{1});
}

TEST(CheckByGroup, CallsNothingAClashBetweenPeopleWhoNeverFlyTogether) {
    const auto reply = check(sheet_of(two_groups()), v1::Basis::held, 0);
    EXPECT_EQ(result(reply, "Ann").verdict(), v1::Verdict::steady);
    EXPECT_EQ(result(reply, "Ben").verdict(), v1::Verdict::steady);
    EXPECT_EQ(result(reply, "Ann").group(), 1U);
    EXPECT_EQ(result(reply, "Ben").group(), 2U);
    ASSERT_EQ(reply.groups_size(), 2);
    const auto at_once = check(sheet_of(two_groups()), v1::Basis::held, 0, {.all_at_once = true});
    EXPECT_EQ(result(at_once, "Ann").verdict(), v1::Verdict::clash);
    EXPECT_TRUE(at_once.groups().empty());
}

TEST(CheckByGroup, IsThatOfADayOfWhichThatGroupIsLeft) {
    const auto sheet = sheet_of(two_groups() + flier("Dora", "line-4", "R3", ""));
    const auto reply = check(sheet, v1::Basis::held, 3);
    for (const auto& p : sheet.pilots()) {
        double least = 1000;
        for (const std::uint32_t group : {1U, 2U}) {
            if (p.claim().group() != 0 && p.claim().group() != group) continue;
            auto left = sheet;
            for (auto& other : *left.mutable_pilots())
                if (other.claim().group() != 0 && other.claim().group() != group)
                    other.clear_claim();
            for (auto& other : *left.mutable_pilots()) other.mutable_claim()->set_group(0);
            for (auto& other : *left.mutable_pilots())
                if (other.claim().channel().mhz() == 0) other.clear_claim();
            const auto alone = check(left, v1::Basis::held, 0);
            least = std::min(least, result(alone, p.name()).margin_ref_db());
        }
        EXPECT_NEAR(result(reply, p.name()).margin_ref_db(), least, 0.001) << p.name();
        const auto explained = explain(sheet, p, v1::Basis::held, 0);
        EXPECT_EQ(explained.pilot().margin_ref_db(), result(reply, p.name()).margin_ref_db());
    }
    // Dora flies with each: beside Ann and Cyd it is worst for her.
    EXPECT_EQ(result(reply, "Dora").group(), 1U);
}

TEST(CheckByGroup, ShowsOneGroupAloneIfItIsAsked) {
    const auto reply = check(sheet_of(two_groups()), v1::Basis::held, 0, {.group = 2});
    ASSERT_EQ(reply.pilots_size(), 1);
    EXPECT_EQ(reply.pilots(0).pilot(), "Ben");
    ASSERT_EQ(reply.receivers_size(), 1);
}

TEST(CheckByGroup, CountsWhoIsDownInEveryGroup) {
    auto sheet = sheet_of(two_groups());
    sheet.mutable_pilots(0)->mutable_claim()->set_stage(v1::Claim::down);
    EXPECT_EQ(result(check(sheet, v1::Basis::held, 0), "Ben").verdict(), v1::Verdict::clash);
}

TEST(CheckByGroup, OnTheAirIsOneFlightWhateverTheGroup) {
    auto sheet = sheet_of(two_groups());
    for (auto& p : *sheet.mutable_pilots()) p.mutable_claim()->set_stage(v1::Claim::on_air);
    const auto reply = check(sheet, v1::Basis::on_air, 0);
    EXPECT_TRUE(reply.groups().empty());
    EXPECT_EQ(result(reply, "Ben").verdict(), v1::Verdict::clash);
}

// --- relays

/// Finn's tripod beside the line, in group 1 with Ann; Ben and Cyd are all over the band in 2.
std::string tripod(const std::string& group) {
    return field_text() + flier("Ann", "line-1", "R1", "group = 1") +
           flier("Ben", "line-2", "R2", "group = 2") + flier("Cyd", "line-3", "R1", "group = 2") +
           "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n[[pilot.receiver]]\nreceiver = "
           "\"fm-video-5g8\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n" +
           changed(text_of(RelayText{.name = "mast",
                                     .owner = "Dee",
                                     .channel = "R4",
                                     .power_mw = "200",
                                     .more = "power_mw = [25, 200]"}),
                   "on_air = true", group);
}

v1::RelayCheckReply checked(const v1::DaySheet& sheet) {
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    return relay_check(sheet, query).value();
}

TEST(RelayCheckByGroup, IsThatOfItsOwnGroup) {
    const auto reply = checked(sheet_of(tripod("group = 1")));
    EXPECT_EQ(reply.group(), 1U);
    EXPECT_TRUE(reply.ref().below_before().empty());  // nobody has lost the picture without it
    auto left = sheet_of(tripod("group = 1"));
    left.mutable_pilots(1)->clear_claim();
    left.mutable_pilots(2)->clear_claim();
    EXPECT_EQ(reply.ref().ceiling_dbm(), checked(left).ref().ceiling_dbm());
}

TEST(RelayCheckByGroup, OfARelayWithoutOneIsTheStrictestOfAll) {
    const auto any = checked(sheet_of(tripod("")));
    double least = 1000;
    for (const auto* group : {"group = 1", "group = 2"})
        least = std::min(least, checked(sheet_of(tripod(group))).ref().ceiling_dbm());
    EXPECT_EQ(any.ref().ceiling_dbm(), least);
}

// --- what is asked

v1::Command claim_in(const std::string& who, const std::string& on, std::uint32_t group) {
    auto command = testing::claim(who, on);
    command.mutable_claim()->set_group(group);
    return command;
}

TEST(ClaimByGroup, WithoutOneIsJudgedAgainstEachGroupInTurn) {
    Course course(two_groups() + testing::unclaimed(PilotText{.name = "Dora", .place = "line-4"}));
    EXPECT_FALSE(course.send(claim_in("Dora", "R1", 0)).claim().claimed());
    EXPECT_FALSE(course.send(claim_in("Dora", "R5", 0)).claim().claimed());  // Cyd's, of group 1
    EXPECT_TRUE(course.send(claim_in("Dora", "R5", 2)).claim().claimed());
    // Everybody at once would leave her nothing that two who never meet do not fill.
    EXPECT_TRUE(course.send(claim_in("Dora", "R8", 0)).claim().claimed());
}

TEST(ClaimByGroup, SaysWhoOfAnotherGroupHasToLandFirst) {
    Course course(changed(two_groups(), "group = 2", "group = 2\non_air = true") +
                  testing::unclaimed(PilotText{.name = "Dora", .place = "line-4"}));
    const auto reply = course.send(claim_in("Dora", "R8", 1)).claim();
    ASSERT_EQ(reply.not_before_size(), 1);
    EXPECT_EQ(reply.not_before(0), "Ben");
    EXPECT_TRUE(course.send(claim_in("Dora", "R7", 2)).claim().not_before().empty());
}

// --- harms of several flights

v1::Harm harm(const std::string& pilot, double left_db, v1::Verdict::Word after) {
    v1::Harm h;
    h.set_pilot(pilot);
    h.set_receiver("goggles");
    h.set_margin_after_db(left_db);
    h.set_after(after);
    return h;
}

TEST(HarmsOfFlights, HaveControlFirstInWhicheverFlightItIs) {
    std::vector<v1::Harm> all{harm("Ann", -20, v1::Verdict::clash)};
    add_harms({harm("Ben", 5, v1::Verdict::control_at_risk), harm("Cyd", -30, v1::Verdict::clash)},
              all);
    ASSERT_EQ(all.size(), 3U);
    EXPECT_EQ(all[0].pilot(), "Ben");
    EXPECT_EQ(all[1].pilot(), "Cyd");
}

TEST(HarmsOfFlights, AreOfAPilotsControlAloneWhereThatIsAtRiskInOne) {
    std::vector<v1::Harm> all{harm("Ann", -20, v1::Verdict::clash)};
    auto control = harm("Ann", 5, v1::Verdict::control_at_risk);
    control.clear_receiver();
    add_harms({control}, all);
    ASSERT_EQ(all.size(), 1U);
    EXPECT_EQ(all[0].after(), v1::Verdict::control_at_risk);
}

TEST(HarmsOfFlights, AreTheWorseOfOneWhoFliesInBoth) {
    for (const auto& [first_db, second_db] : {std::pair(-1.0, -9.0), {-9.0, -1.0}}) {
        std::vector<v1::Harm> all{harm("Ann", first_db, v1::Verdict::shaky)};
        add_harms({harm("Ann", second_db, v1::Verdict::shaky)}, all);
        ASSERT_EQ(all.size(), 1U);
        EXPECT_EQ(all[0].margin_after_db(), -9);
    }
}

}  // namespace
}  // namespace fieldpeg::day
