#include "server/day/trial.h"

#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <cstdint>
#include <vector>

/// A claim that is tried in several flights. People and places are invented; that a relay of
/// another group is not in the air is common practice, no published source.
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;

/// Ann far out without a group; her relay on the ridge before her flies with group 1 alone.
std::string helped_in_one_group() {
    return field_text() + "[[field.place]]\nname = \"ridge\"\nat_m = [-300, 900]\nheight_m = 60\n" +
           unclaimed(PilotText{.name = "Ann",
                               .place = "line-1",
                               .area = "valley",
                               .more_video = "power_mw = [25, 200, 600]\n",
                               .more_goggles = "hears = \"video\""}) +
           "[[pilot.receiver]]\nname = \"second\"\nreceiver = \"fm-video-5g8\"\nantenna = "
           "\"circular-omni\"\npolarisation = \"rhcp\"\nhears = \"mast\"\n" +
           changed(text_of(RelayText{
                       .name = "mast",
                       .owner = "Ann",
                       .power_mw = "600",
                       .place = "ridge",
                       .tables = "[[relay.receiver]]\nreceiver = \"fm-video-5g8\"\nantenna = "
                                 "\"circular-omni\"\npolarisation = \"rhcp\"\n"}),
                   "on_air = true", "group = 1") +
           text_of(
               PilotText{.name = "Ben", .place = "line-3", .channel = "R5", .stage = "group = 2"});
}

Trial::Outcome tried(const std::vector<std::uint32_t>& groups) {
    std::uint32_t last_id = 0;
    const auto sheet = with_ids(sheet_of(helped_in_one_group()), last_id);
    v1::Claim claim;
    *claim.mutable_channel() = testing::channel("R1");
    claim.set_power_dbm(13.98);
    claim.set_stage(v1::Claim::held);
    return Trial(sheet, pilot(sheet, "Ann")->id(), v1::Basis::held, groups).outcome(claim);
}

TEST(TrialOfSeveralFlights, IsAsLoudAsTheWorstOfThemNeeds) {
    const auto helped = tried({1});
    const auto not_helped = tried({2});
    ASSERT_TRUE(helped.alone && not_helped.alone);
    ASSERT_LT(*not_helped.alone, *helped.alone);
    EXPECT_EQ(tried({1, 2}).alone, not_helped.alone);
    EXPECT_EQ(tried({2, 1}).alone, not_helped.alone);
}

TEST(TrialOfSeveralFlights, TellsOfTheWorstWhicheverComesFirst) {
    const auto by_others = tried({1});
    const auto by_range = tried({2});
    ASSERT_EQ(by_others.own.verdict(), v1::Verdict::clash);
    ASSERT_EQ(by_range.own.verdict(), v1::Verdict::too_far);
    ASSERT_LT(by_range.own.margin_ref_db(), by_others.own.margin_ref_db());
    for (const auto& both : {tried({1, 2}), tried({2, 1})}) {
        EXPECT_EQ(both.own.verdict(), v1::Verdict::clash);
        EXPECT_EQ(both.own.margin_ref_db(), by_others.own.margin_ref_db());
        EXPECT_EQ(both.reason, by_others.reason);
    }
}

}  // namespace
}  // namespace fieldpeg::day
