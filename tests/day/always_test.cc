#include "server/day/scene.h"
#include "server/day/state.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <string>

/// A claim for whatever group flies: a relay or a sender that is never off (common practice, no
/// published source).
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;

constexpr double mw25_dbm = 13.979400086720376;

std::string pilot_in(const std::string& name, const std::string& place, const std::string& on,
                     const std::string& group) {
    return text_of(
        PilotText{.name = name, .place = place, .channel = on, .stage = "group = " + group});
}

/// Ann in group 1, Ben in 2, the mast always.
std::string three() {
    return field_text() + pilot_in("Ann", "line-1", "R1", "1") +
           pilot_in("Ben", "line-2", "R1", "2") +
           unclaimed(PilotText{.name = "Dee", .place = "chair"}) +
           changed(text_of(RelayText{.name = "mast", .owner = "Dee"}), "on_air = true",
                   "group = \"always\"");
}

TEST(Always, IsInEveryGroupAndOthersInTheirOwn) {
    const auto sheet = sheet_of(three());
    for (const std::uint32_t group : {1U, 2U, 3U, 40U}) {
        const auto seen = of_group(sheet, group);
        EXPECT_TRUE(seen.relays(0).has_claim()) << group;
        EXPECT_EQ(seen.pilots(0).has_claim(), group == 1) << group;
        EXPECT_EQ(seen.pilots(1).has_claim(), group == 2) << group;
        EXPECT_TRUE(situation(seen, v1::Basis::held).transmitter("mast")) << group;
    }
}

TEST(Always, IsWrittenAsAWordAndNoOther) {
    EXPECT_TRUE(sheet_of(three()).relays(0).claim().always());
    EXPECT_EQ(sheet_of(three()).relays(0).claim().group(), 0U);
    EXPECT_FALSE(sheet_of(three()).pilots(0).claim().always());
    for (const auto* group : {"\"never\"", "\"1\"", "0", "41", "true"})
        EXPECT_THROW(sheet_of(changed(three(), "\"always\"", group)), std::logic_error) << group;
}

TEST(Always, IsNotWhatAClaimWithoutAGroupIs) {
    const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .stage = ""}));
    EXPECT_FALSE(sheet.pilots(0).claim().always());
    EXPECT_TRUE(of_group(sheet, 2).pilots(0).has_claim());  // she flies when she can
}

// Whoever is told another channel on the day is still never off.
TEST(Always, StaysThroughALaterClaim) {
    Course course(three());
    ASSERT_TRUE(course.send(claims("mast", channel("F1", 5740), mw25_dbm)).claim().claimed());
    const auto& claim = course.state().sheet().relays(0).claim();
    EXPECT_EQ(claim.channel().mhz(), 5740);
    EXPECT_TRUE(claim.always());
    EXPECT_EQ(claim.group(), 0U);
}

TEST(Always, EndsWithAClaimForAGroup) {
    Course course(three());
    auto command = claims("mast", channel("F1", 5740), mw25_dbm);
    command.mutable_claim()->set_group(2);
    ASSERT_TRUE(course.send(command).claim().claimed());
    EXPECT_FALSE(course.state().sheet().relays(0).claim().always());
    EXPECT_EQ(course.state().sheet().relays(0).claim().group(), 2U);
}

TEST(Always, StaysThroughAnAssignment) {
    Course course(three());
    v1::Command command;
    auto& share = *command.mutable_assign()->add_all();
    share.set_transmitter("mast");
    *share.mutable_channel() = channel("F1", 5740);
    share.set_power_dbm(mw25_dbm);
    ASSERT_TRUE(course.send(command).assigned().assigned());
    EXPECT_EQ(course.state().sheet().relays(0).claim().channel().mhz(), 5740);
    EXPECT_TRUE(course.state().sheet().relays(0).claim().always());
}

TEST(Always, StaysThroughComingOnAndGoingOff) {
    Course course(three());
    course.send(testing::asks_on("mast"));
    EXPECT_TRUE(course.state().sheet().relays(0).claim().always());
    course.send(testing::says_off("mast"));
    EXPECT_TRUE(course.state().sheet().relays(0).claim().always());
}

TEST(Always, IsMindedByAClaimInAnyGroup) {
    // Cem asks in group 3, where nobody else flies, for the channel of the mast.
    Course course(three() + unclaimed(PilotText{.name = "Cem", .place = "line-3"}));
    auto command = claims("Cem", channel("R8", 5917), mw25_dbm);
    command.mutable_claim()->set_group(3);
    const auto reply = course.send(command).claim();
    EXPECT_FALSE(reply.claimed());
    ASSERT_EQ(reply.harms_size(), 1);
    auto apart = claims("Cem", channel("R1", 5658), mw25_dbm);  // Ann's and Ben's, in other groups
    apart.mutable_claim()->set_group(3);
    EXPECT_TRUE(course.send(apart).claim().claimed());
}

}  // namespace
}  // namespace fieldpeg::day
