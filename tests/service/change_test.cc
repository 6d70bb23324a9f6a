#include "tests/support/kept_day.h"

#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include <functional>
#include <string>
#include <utility>
#include <vector>

/// One fact at a time: what is written changes, and nothing else.
namespace fieldpeg::service {
namespace {

using testing::for_all;
using testing::KeptDay;

using Change = std::function<void(v1::ChangePilot&)>;
using Expect = std::function<void(v1::Pilot&)>;

v1::Command changed(const std::string& pilot, const Change& change) {
    v1::Command command;
    command.mutable_change_pilot()->set_pilot(pilot);
    change(*command.mutable_change_pilot());
    return command;
}

const v1::Pilot& ann(KeptDay& day) {
    return *day::pilot(day.keeper().state().sheet(), "Ann");
}

/// What is asked for, and what of the pilot is to be another.
std::vector<std::pair<Change, Expect>> changes() {
    return {
        {[](auto& c) { c.set_place("line-2"); }, [](auto& p) { p.set_place("line-2"); }},
        {[](auto& c) { c.set_area("valley"); }, [](auto& p) { p.set_area("valley"); }},
        {[](auto& c) {
             c.add_power_dbm(20);
             c.add_power_dbm(10);
         },
         [](auto& p) {
             p.mutable_video()->clear_power_dbm();
             p.mutable_video()->add_power_dbm(10);
             p.mutable_video()->add_power_dbm(20);
         }},
        {[](auto& c) { c.set_emission("ofdm-20"); },
         [](auto& p) { p.mutable_video()->set_emission("ofdm-20"); }},
        {[](auto& c) { c.set_polarisation("lhcp"); },
         [](auto& p) {
             p.mutable_video()->mutable_mounting()->set_polarisation(v1::Polarisation::lhcp);
         }},
        {[](auto& c) { c.set_antenna("circular-patch"); },
         [](auto& p) { p.mutable_video()->mutable_mounting()->set_antenna("circular-patch"); }},
        {[](auto& c) { c.set_receiver("fm-video-5g8-sharp"); },
         [](auto& p) { p.mutable_receivers(0)->set_receiver("fm-video-5g8-sharp"); }},
        {[](auto& c) { c.set_receiver_antenna("circular-helix"); },
         [](auto& p) {
             p.mutable_receivers(0)->mutable_mounting()->set_antenna("circular-helix");
         }},
    };
}

TEST(ChangePilot, ChangesWhatIsWrittenAndNothingElse) {
    for (const auto& [change, expect] : changes()) {
        KeptDay day;
        auto expected = ann(day);
        expect(expected);
        const auto reply = day.take(changed("ann", change));
        ASSERT_TRUE(reply.has_done()) << reply.ShortDebugString();
        EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(ann(day), expected))
            << ann(day).DebugString() << expected.DebugString();
        EXPECT_NE(reply.done().text().find(" -> "), std::string::npos) << reply.done().text();
        const auto version = day.keeper().state().version();
        EXPECT_NE(day.take(changed("Ann", change)).done().text().find("nothing was changed"),
                  std::string::npos);
        EXPECT_EQ(day.keeper().state().version(), version);
    }
}

TEST(ChangePilot, RefusesWhatIsNotThereAndChangesNothing) {
    const std::vector<Change> wrong = {
        [](auto& c) { c.set_place("nowhere"); },
        [](auto& c) { c.set_area("nowhere"); },
        [](auto& c) { c.add_power_dbm(500); },
        [](auto& c) { c.add_channels("R99"); },
        [](auto& c) { c.set_emission("smoke"); },
        [](auto& c) { c.set_antenna("spoon"); },
        [](auto& c) { c.set_polarisation("vertical"); },
        [](auto& c) { c.set_polarisation("sideways"); },
        [](auto& c) { c.set_receiver("ear"); },
        [](auto& c) {
            c.set_of_receiver("periscope");
            c.set_receiver("fm-video-5g8-sharp");
        },
        [](auto& c) {
            c.set_place("line-2");
            c.set_antenna("spoon");
        },
    };
    for (const auto& change : wrong) {
        KeptDay day;
        const auto before = testing::bytes_of(day.keeper().state());
        EXPECT_TRUE(day.take(changed("Ann", change)).has_refusal());
        EXPECT_TRUE(testing::bytes_of(day.keeper().state()) == before);
    }
}

TEST(ChangePilot, KeepsTheGroupOfAChannelThatItCosts) {
    KeptDay day;
    auto held = testing::claim("Ann", "R1");
    held.mutable_claim()->set_group(3);
    ASSERT_TRUE(day.take(held).claim().claimed());
    const auto reply = day.take(changed("Ann", [](auto& c) { c.add_channels("R3-R8"); }));
    EXPECT_FALSE(ann(day).has_claim());
    EXPECT_NE(reply.done().text().find("best for Ann now: "), std::string::npos)
        << reply.done().text();
    EXPECT_NE(reply.done().text().find("in group 3"), std::string::npos) << reply.done().text();
    const auto claimed = day.take(testing::claim("Ann", "R5")).claim();
    EXPECT_EQ(claimed.group(), 3U);
    EXPECT_EQ(ann(day).claim().group(), 3U);
    // It is remembered no longer than until then.
    day.take(testing::release("Ann"));
    EXPECT_EQ(day.take(testing::claim("Ann", "R5")).claim().group(), 0U);
}

// The hand is held against the receiver that is meant, not against the first.
TEST(ChangePilot, TurnsTheAerialOfTheReceiverThatIsNamed) {
    const auto second = std::string(
        "[[pilot.receiver]]\nname = \"panel\"\nreceiver = \"fm-video-5g8\"\nantenna = "
        "\"wide-panel\"\npolarisation = \"vertical\"\n");
    KeptDay day(testing::field_text() + testing::unclaimed(testing::PilotText{.name = "Ann"}) +
                second);
    const auto turned = [](const std::string& to) {
        return changed("Ann", [&](auto& c) {
            c.set_of_receiver("panel");
            c.set_receiver_polarisation(to);
        });
    };
    EXPECT_TRUE(day.take(turned("lhcp")).has_refusal());
    EXPECT_TRUE(day.take(turned("horizontal")).has_done());
    EXPECT_EQ(ann(day).receivers(1).mounting().polarisation(), v1::Polarisation::horizontal);
    EXPECT_EQ(ann(day).receivers(0).mounting().polarisation(), v1::Polarisation::rhcp);
}

TEST(PutNew, IsRefusedForWhoIsOnTheDayAlready) {
    KeptDay day;
    const auto before = testing::bytes_of(day.keeper().state());
    v1::Command command;
    command.mutable_put()->set_toml("[[pilot]]\nname = \"ann\"\nplace = \"line-2\"\n");
    command.mutable_put()->set_only_new(true);
    const auto reply = day.take(command);
    EXPECT_NE(reply.refusal().next().find("pilot change"), std::string::npos)
        << reply.ShortDebugString();
    EXPECT_TRUE(testing::bytes_of(day.keeper().state()) == before);
}

}  // namespace
}  // namespace fieldpeg::service
