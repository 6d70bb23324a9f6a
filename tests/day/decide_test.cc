#include "server/day/decide.h"

#include "server/day/board.h"
#include "server/day/check.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>

/// What may be done on a flying day, by whom, and what it does to others. The channels are the
/// trade's R row [common practice, no published source]: R1 5658, R2 5695, R3 5732, R8 5917 MHz.
namespace fieldpeg::day {
namespace {

using testing::asks_on;
using testing::changed;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::releases;
using testing::says_off;
using testing::text_of;
using testing::unclaimed;

constexpr double mw25_dbm = 13.979400086720376;
constexpr double mw200_dbm = 23.010299956639813;
constexpr double mw800_dbm = 29.030899869919434;
const auto r1 = channel("R1", 5658);
const auto r2 = channel("R2", 5695);
const auto r5 = channel("R5", 5806);
const auto r8 = channel("R8", 5917);

PilotText pilot(const std::string& name, const std::string& place) {
    return {.name = name, .place = place, .stage = ""};
}

/// Ann and Ben, neither holds anything.
Course two_pilots() {
    Course course(field_text() + text_of(pilot("Ann", "line-1")) + text_of(pilot("Ben", "line-2")));
    course.send(releases("Ann"));
    course.send(releases("Ben"));
    return course;
}

TEST(Decide, WhoClaimsFirstHasIt) {
    auto course = two_pilots();
    EXPECT_TRUE(course.send(claims("Ann", r1, mw25_dbm)).claim().claimed());
    const auto reply = course.send(claims("Ben", r1, mw25_dbm));
    EXPECT_FALSE(reply.claim().claimed());
    ASSERT_EQ(reply.claim().harms_size(), 1);
    EXPECT_EQ(reply.claim().harms(0).pilot(), "Ann");
    EXPECT_EQ(reply.claim().refusal().kind(), v1::Refusal::conflict);
    EXPECT_EQ(holder(course.state().sheet(), "Ben")->claim, nullptr);
}

// Two stations alike on one channel, side by side: C/I is about 0 dB, and analogue video needs more
// [common practice, no published source]. So the refusal holds both ways round.
TEST(Decide, SharingAChannelHarmsWhoeverHasIt) {
    for (const auto& [first, second] : {std::pair("Ann", "Ben"), std::pair("Ben", "Ann")}) {
        auto course = two_pilots();
        course.send(claims(first, r1, mw25_dbm));
        EXPECT_FALSE(course.send(claims(second, r1, mw25_dbm)).claim().claimed());
    }
}

TEST(Decide, AlternativesAreWhatTheySay) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    const auto refused = course.send(claims("Ben", r1, mw25_dbm)).claim();
    ASSERT_EQ(refused.alternatives_size(), 3);
    for (const auto& offered : refused.alternatives()) {
        auto again = two_pilots();
        again.send(claims("Ann", r1, mw25_dbm));
        const auto taken =
            again.send(claims("Ben", offered.channel(), offered.power_dbm())).claim();
        EXPECT_TRUE(taken.claimed()) << offered.channel().name();
        EXPECT_NEAR(taken.own().margin_ref_db(), offered.margin_ref_db(), 0.001);
        // What was promised is what a check of the whole day gives.
        const auto check = day::check(again.state().sheet(), v1::Basis::held, 0);
        EXPECT_NEAR(check.pilots(1).margin_ref_db(), offered.margin_ref_db(), 0.001);
        EXPECT_NEAR(check.pilots(0).margin_worst_db(), offered.least_other_db(), 0.001);
    }
}

TEST(Decide, TheBestChannelIsAsGoodAsAnyThatCanBeClaimed) {
    auto course = two_pilots();
    course.send(claims("Ann", r5, mw25_dbm));
    v1::Command best;
    best.mutable_claim()->set_transmitter("Ben");
    best.mutable_claim()->set_power_dbm(mw25_dbm);
    best.mutable_claim()->set_only_try(true);
    const auto chosen = course.send(best).claim();
    const auto least = [](const v1::DaySheet& sheet) {
        const auto check = day::check(sheet, v1::Basis::held, 0);
        return std::min(check.pilots(0).margin_worst_db(), check.pilots(1).margin_worst_db());
    };
    const auto with = [&](const v1::Channel& c) {
        auto sheet = course.state().sheet();
        auto& claim = claim_of(sheet, holder(sheet, "Ben")->id);
        *claim.mutable_channel() = c;
        claim.set_power_dbm(mw25_dbm);
        claim.set_stage(v1::Claim::held);
        return least(sheet);
    };
    const double found = with(chosen.channel());
    for (const auto& row : course.state().sheet().rows())
        for (const auto& c : row.channels())
            if (c.mhz() > 5000) {
                EXPECT_LE(with(c), found + 0.001) << c.name();
            }
}

// Goggles that take no more than -20 dBm, and an aircraft round the head of who wears them: too
// strong already with the lowest step, and more power only makes it worse.
TEST(Decide, NobodyIsMadeLouderWhoIsTooClose) {
    auto text = unclaimed(
        PilotText{.name = "Ann", .area = "indoors", .more_video = "power_mw = [200, 800]"});
    text = changed(text, "\"fm-video\"", "\"ofdm-20\"");
    text = changed(text, "\"fm-video-5g8\"", "\"ofdm-20-5g8\"");
    Course course(field_text() +
                  "[[field.area]]\nname = \"indoors\"\ncentre_m = [0, 0]\nradius_m = 1\n"
                  "height_m = [1, 2]\n" +
                  text);
    auto claim = claims("Ann", r1, mw800_dbm);
    const auto loud = course.send(claim).claim();
    course.send(releases("Ann"));
    claim.mutable_claim()->clear_power_dbm();
    const auto least = course.send(claim).claim();
    EXPECT_EQ(least.own().verdict(), v1::Verdict::too_close);
    EXPECT_LT(loud.own().margin_ref_db(), least.own().margin_ref_db());
    EXPECT_NEAR(least.power_dbm(), mw200_dbm, 0.001);
}

TEST(Decide, NobodyIsPermittedOnAirWithoutAClaim) {
    auto course = two_pilots();
    const auto reply = course.send(asks_on("Ann"));
    EXPECT_TRUE(reply.has_refusal());
    EXPECT_EQ(course.stage("Ann"), v1::Claim::unknown);
}

TEST(Decide, AYesToSwitchingOnIsGoodForAMinute) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    const auto reply = course.send(asks_on("Ann"));
    ASSERT_EQ(reply.switched().answer(), v1::SwitchReply::switch_on);
    EXPECT_EQ(reply.switched().valid_until_ms(), course.now_ms() + 60'000);
    EXPECT_NE(reply.switched().look().find("R1 (5658 MHz)"), std::string::npos);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::on_air);
}

/// Ben sits on Ann's channel by the marshal's leave, while she is on the ground.
Course ben_over_ann() {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    auto allowed = claims("Ben", r1, mw25_dbm);
    allowed.mutable_claim()->set_allowed_because("Ann has landed");
    course.send(allowed);
    return course;
}

TEST(Decide, OneWhoWouldHarmSomebodyInTheAirWaits) {
    auto course = ben_over_ann();
    ASSERT_EQ(course.send(asks_on("Ann")).switched().answer(), v1::SwitchReply::switch_on);
    const auto reply = course.send(asks_on("Ben")).switched();
    EXPECT_EQ(reply.answer(), v1::SwitchReply::wait);
    ASSERT_EQ(reply.wait_for_size(), 1);
    EXPECT_EQ(reply.wait_for(0), "Ann");
    EXPECT_TRUE(reply.has_refusal());
    EXPECT_EQ(course.stage("Ben"), v1::Claim::held);
}

TEST(Decide, OneWhoHarmsOnlyThoseOnTheGroundIsToldOfThem) {
    auto course = ben_over_ann();
    const auto reply = course.send(asks_on("Ben")).switched();
    EXPECT_EQ(reply.answer(), v1::SwitchReply::switch_on);
    ASSERT_EQ(reply.harms_held_size(), 1);
    EXPECT_EQ(reply.harms_held(0).pilot(), "Ann");
}

TEST(Decide, WhatTheMarshalAllowsSaysWhyAndWarnsWhoPays) {
    auto course = ben_over_ann();
    EXPECT_EQ(holder(course.state().sheet(), "Ben")->claim->allowed_because(), "Ann has landed");
    ASSERT_EQ(course.state().unacknowledged_size(), 1)
        << "she is told when the channel is given away";
    EXPECT_EQ(course.state().unacknowledged(0).kind(), v1::Warning::allowed);
    course.send(asks_on("Ann"));
    auto on = asks_on("Ben");
    on.mutable_on()->set_allowed_because("she agrees");
    const auto reply = course.send(on);
    ASSERT_EQ(reply.warnings_size(), 1);
    EXPECT_EQ(reply.warnings(0).kind(), v1::Warning::allowed);
    EXPECT_EQ(reply.warnings(0).pilot(), holder(course.state().sheet(), "Ann")->id);
    ASSERT_EQ(reply.call_out_size(), 1);
    EXPECT_TRUE(
        reply.call_out(0).starts_with("Ann: your picture gets worse, Ben is on R1 (5658 MHz)"))
        << reply.call_out(0);
    EXPECT_EQ(course.state().unacknowledged_size(), 2) << "and again when it is used";
    course.send(says_off("Ben"));
    EXPECT_TRUE(course.state().unacknowledged().empty()) << "nobody is called for what is off";
}

TEST(Decide, AFieldThatChangesKeepsClaimsThatHarmNobody) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    course.send(claims("Ben", r2, mw25_dbm));
    const auto stands = [&](double east_m, double north_m) {
        PutParts put;
        for (auto place : course.state().sheet().field().places()) {
            if (place.name() != "line-2") continue;
            place.set_east_m(east_m);
            place.set_north_m(north_m);
            *put.parts.add_places() = place;
        }
        course.send(put);
    };
    ASSERT_NE(holder(course.state().sheet(), "Ben")->claim, nullptr);
    // Two kilometres from the circuit Ben is too far whatever the others do: no harm, no claim
    // lost.
    stands(0, -2000);
    EXPECT_NE(holder(course.state().sheet(), "Ben")->claim, nullptr);
    EXPECT_NE(holder(course.state().sheet(), "Ann")->claim, nullptr);
}

TEST(Decide, OnlyTheMarshalAllows) {
    auto course = two_pilots();
    const auto ben = course.join("Ben");
    course.send(claims("Ann", r1, mw25_dbm));
    auto allowed = claims("Ben", r1, mw25_dbm);
    allowed.mutable_claim()->set_allowed_because("I say so");
    EXPECT_EQ(course.send(allowed, ben).refusal().kind(), v1::Refusal::not_permitted);
}

TEST(Decide, APilotActsOnlyForThemself) {
    auto course = two_pilots();
    const auto ben = course.join("Ben");
    for (const auto& command :
         {claims("Ann", r1, mw25_dbm), asks_on("Ann"), says_off("Ann"), releases("Ann")})
        EXPECT_EQ(course.send(command, ben).refusal().kind(), v1::Refusal::not_permitted);
    EXPECT_TRUE(course.send(claims("Ben", r1, mw25_dbm), ben).claim().claimed());
}

TEST(Decide, AnOnlookerChangesNothing) {
    auto course = two_pilots();
    const auto eve = course.join("Eve", v1::Role::onlooker);
    v1::Command seen;
    *seen.mutable_see()->mutable_channel() = r5;
    seen.mutable_see()->set_emission("fm-video");
    const auto before = course.state().version();
    for (const auto& command : {claims("Ann", r1, mw25_dbm), asks_on("Ann"), says_off("Ann"), seen})
        EXPECT_EQ(course.send(command, eve).refusal().kind(), v1::Refusal::not_permitted);
    EXPECT_EQ(course.state().version(), before);
}

TEST(Decide, WhatIsOnTheAirIsNotReleasedNorMoved) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    course.send(asks_on("Ann"));
    EXPECT_EQ(course.send(releases("Ann")).refusal().kind(), v1::Refusal::conflict);
    EXPECT_EQ(course.send(claims("Ann", r5, mw25_dbm)).refusal().kind(), v1::Refusal::conflict);
    v1::Command remove;
    remove.mutable_remove()->set_name("Ann");
    EXPECT_EQ(course.send(remove).refusal().kind(), v1::Refusal::conflict);
    course.send(says_off("Ann"));
    EXPECT_EQ(course.stage("Ann"), v1::Claim::off_air);
    EXPECT_TRUE(course.send(releases("Ann")).has_done());
}

TEST(Decide, AFactIsNeverRefused) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    course.send(asks_on("Ann"));
    auto already = asks_on("Ben");
    already.mutable_on()->set_already(true);
    *already.mutable_on()->mutable_channel() = r1;
    const auto reply = course.send(already);
    EXPECT_EQ(reply.switched().answer(), v1::SwitchReply::noted);
    EXPECT_EQ(course.stage("Ben"), v1::Claim::on_air);
    EXPECT_TRUE(holder(course.state().sheet(), "Ben")->claim->unasked());
    EXPECT_EQ(reply.warnings_size(), 1) << "Ann must be told";
}

TEST(Decide, ASightingCountsAtOnce) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    course.send(asks_on("Ann"));
    v1::Command seen;
    *seen.mutable_see()->mutable_channel() = r1;
    seen.mutable_see()->set_emission("fm-video");
    const auto reply = course.send(seen);
    EXPECT_EQ(reply.warnings_size(), 1);
    const auto check = day::check(course.state().sheet(), v1::Basis::on_air, 1);
    EXPECT_LT(check.pilots(0).margin_ref_db(), 0);
    EXPECT_EQ(check.receivers(0).contributions(0).from(0),
              "sighting " + std::to_string(reply.done().id()));

    v1::Command gone;
    gone.mutable_unsee()->set_sighting(reply.done().id());
    course.send(gone);
    EXPECT_GE(day::check(course.state().sheet(), v1::Basis::on_air, 1).pilots(0).margin_ref_db(),
              0);
}

TEST(Decide, ACraftThatIsDownBlocksItsChannelUntilItIsSilent) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    course.send(asks_on("Ann"));
    auto down = says_off("Ann");
    down.mutable_off()->set_down(true);
    course.send(down);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::down);
    EXPECT_TRUE(course.send(says_off("Ann")).has_refusal());
    EXPECT_TRUE(course.send(asks_on("Ann")).has_refusal());
    EXPECT_FALSE(course.send(claims("Ben", r1, mw25_dbm)).claim().claimed());
    auto silent = says_off("Ann");
    silent.mutable_off()->set_silent(true);
    course.send(silent);
    EXPECT_EQ(course.stage("Ann"), v1::Claim::off_air);
}

TEST(Decide, OtherFlightGroupsDoNotCount) {
    auto course = two_pilots();
    auto first = claims("Ann", r1, mw25_dbm);
    first.mutable_claim()->set_group(1);
    course.send(first);
    auto second = claims("Ben", r1, mw25_dbm);
    second.mutable_claim()->set_group(2);
    EXPECT_TRUE(course.send(second).claim().claimed());
    // In the air they do, whatever the group.
    course.send(asks_on("Ann"));
    EXPECT_EQ(course.send(asks_on("Ben")).switched().answer(), v1::SwitchReply::wait);
}

TEST(Decide, TroubleForOneselfAsksForAYes) {
    auto course = two_pilots();
    v1::Command seen;
    *seen.mutable_see()->mutable_channel() = r1;
    seen.mutable_see()->set_emission("fm-video");
    course.send(seen);
    auto claim = claims("Ben", r1, mw25_dbm);
    EXPECT_FALSE(course.send(claim).claim().claimed());
    claim.mutable_claim()->set_yes_anyway(true);
    EXPECT_TRUE(course.send(claim).claim().claimed());
}

// Shaky is trouble as a clash is.
TEST(Decide, AShakyPictureAsksForAYesToo) {
    auto course = two_pilots();
    v1::Command seen;
    *seen.mutable_see()->mutable_channel() = r1;
    seen.mutable_see()->set_emission("fm-video");
    bool was_shaky = false;
    for (double power_dbm = -20; power_dbm <= 20; power_dbm += 0.5) {
        auto now = course;
        seen.mutable_see()->set_power_dbm(power_dbm);
        now.send(seen);
        const auto reply = now.send(claims("Ben", r1, mw25_dbm)).claim();
        if (reply.own().verdict() != v1::Verdict::shaky) continue;
        was_shaky = true;
        EXPECT_FALSE(reply.claimed()) << power_dbm;
    }
    EXPECT_TRUE(was_shaky);
}

/// Dee's relay on the tripod, Ann beside it on the next channel.
Course with_relay(const std::string& relay_mw) {
    return Course(field_text() +
                  text_of(PilotText{.name = "Ann", .channel = "R8", .stage = "on_air = true"}) +
                  text_of(PilotText{
                      .name = "Dee", .place = "chair", .channel = "R1", .stage = "on_air = true"}) +
                  text_of(RelayText{.name = "tripod relay",
                                    .owner = "Dee",
                                    .channel = "R7",
                                    .power_mw = relay_mw,
                                    .more = "",
                                    .tables = ""}));
}

TEST(Decide, ARelayThatCarriesAFlightAsksBeforeItGoesOff) {
    auto course = with_relay("25");
    auto already = asks_on("tripod relay");
    already.mutable_on()->set_already(true);
    course.send(already);
    ASSERT_EQ(course.stage("tripod relay"), v1::Claim::on_air);
    EXPECT_TRUE(course.send(says_off("tripod relay")).has_refusal());
    auto yes = says_off("tripod relay");
    yes.mutable_off()->set_yes_anyway(true);
    EXPECT_EQ(course.send(yes).switched().answer(), v1::SwitchReply::switched_off);
}

TEST(Decide, ARelayThatCarriesWhoIsDownAsksBeforeItGoesOff) {
    auto course = with_relay("25");
    auto already = asks_on("tripod relay");
    already.mutable_on()->set_already(true);
    course.send(already);
    auto lost = says_off("Dee");
    lost.mutable_off()->set_down(true);
    const auto reply = course.send(lost).switched();
    EXPECT_EQ(reply.stage(), v1::Claim::down);
    const auto refused = course.send(says_off("tripod relay")).refusal();
    EXPECT_NE(refused.why().find("is down"), std::string::npos) << refused.why();
    auto yes = says_off("tripod relay");
    yes.mutable_off()->set_yes_anyway(true);
    EXPECT_TRUE(course.send(yes).has_switched());
}

TEST(Decide, AFactOnAnotherChannelSaysWhatItTookThePlaceOf) {
    auto course = with_relay("25");
    auto already = asks_on("Ann");
    already.mutable_on()->set_already(true);
    *already.mutable_on()->mutable_channel() = testing::channel("R2");
    const auto reply = course.send(already).switched();
    EXPECT_EQ(reply.held().name(), "R8");
    already.mutable_on()->mutable_channel()->CopyFrom(testing::channel("R2"));
    EXPECT_FALSE(course.send(already).switched().has_held());
}

/// Two who are free on all of R and hold nothing, on a day with a rule set (5725 to 5875 MHz).
Course within_rules(const std::string& channels) {
    return Course(
        testing::changed(field_text(), "[field]", "rules = \"cept-25mw\"\n[field]") +
        testing::unclaimed(PilotText{
            .name = "Ann", .more_video = "power_mw = 10\nchannels = [" + channels + "]\n"}));
}

TEST(Decide, TheBestChannelIsNeverOutsideTheRuleSetWithoutAYes) {
    v1::Command best;
    best.mutable_claim()->set_transmitter("Ann");
    auto free = within_rules("\"R1\", \"R8\", \"R4\"");
    EXPECT_EQ(free.send(best).claim().channel().name(), "R4");  // 5769 MHz
    auto course = within_rules("\"R1\", \"R8\"");               // 5658 and 5917 MHz
    const auto reply = course.send(best);
    EXPECT_NE(reply.claim().refusal().why().find("outside the day's rule set"), std::string::npos)
        << reply.ShortDebugString();
    best.mutable_claim()->set_yes_anyway(true);
    EXPECT_TRUE(course.send(best).claim().claimed());
    // What is named is one's own business: it is remarked on.
    auto named = within_rules("\"R1\", \"R8\"");
    const auto claimed = named.send(testing::claim("Ann", "R1", 10)).claim();
    EXPECT_TRUE(claimed.claimed());
    EXPECT_TRUE(claimed.remarks(0).outside());
}

TEST(Decide, ARelayThatLeavesEnoughCallsNobody) {
    for (const auto* relay_mw : {"25", "100", "400", "2000"}) {
        auto course = with_relay(relay_mw);
        course.send([] {
            auto off = says_off("tripod relay");
            off.mutable_off()->set_yes_anyway(true);
            return off;
        }());
        auto already = asks_on("tripod relay");
        already.mutable_on()->set_already(true);
        const auto reply = course.send(already);
        for (const auto& w : reply.warnings())
            EXPECT_TRUE(w.after() > w.before() || w.margin_after_db() < 3) << w.ShortDebugString();
    }
}

TEST(Decide, ARelayThatComesOnWarnsWhomItCosts) {
    auto course = with_relay("2000");
    course.send([] {
        auto off = says_off("tripod relay");
        off.mutable_off()->set_yes_anyway(true);
        return off;
    }());
    auto already = asks_on("tripod relay");
    already.mutable_on()->set_already(true);
    const auto reply = course.send(already);
    ASSERT_GE(reply.warnings_size(), 1);
    EXPECT_EQ(reply.warnings(0).kind(), v1::Warning::relay_on);
    EXPECT_EQ(reply.warnings(0).pilot(), holder(course.state().sheet(), "Ann")->id);
    EXPECT_LE(reply.warnings(0).margin_after_db(), reply.warnings(0).margin_before_db() - 1);
}

TEST(Decide, AWarningThatWasToldIsNotCalledOutAgain) {
    auto course = with_relay("2000");
    auto off = says_off("tripod relay");
    off.mutable_off()->set_yes_anyway(true);
    course.send(off);
    auto already = asks_on("tripod relay");
    already.mutable_on()->set_already(true);
    course.send(already);
    ASSERT_FALSE(course.state().unacknowledged().empty());
    while (!course.state().unacknowledged().empty()) {
        v1::Command told;
        told.mutable_acknowledge_warning()->set_warning(course.state().unacknowledged(0).version());
        course.send(told);
    }
    EXPECT_TRUE(board(course.state()).call_out().empty());
}

TEST(Decide, ARelayThatIsRemovedLeavesItsOwnerWithoutAPicture) {
    auto course = with_relay("25");
    auto off = says_off("tripod relay");
    off.mutable_off()->set_yes_anyway(true);
    course.send(off);
    v1::Command remove;
    remove.mutable_remove()->set_name("tripod relay");
    EXPECT_TRUE(course.send(remove).has_done());
    EXPECT_EQ(day::check(course.state().sheet(), v1::Basis::held, 0).pilots(1).verdict(),
              v1::Verdict::no_picture);
}

TEST(Decide, SwitchingOnWhatIsOnChangesNothing) {
    auto course = two_pilots();
    course.send(claims("Ann", r1, mw25_dbm));
    course.send(asks_on("Ann"));
    const auto before = course.state().version();
    EXPECT_TRUE(course.send(asks_on("Ann")).has_done());
    EXPECT_EQ(course.state().version(), before);
}

}  // namespace
}  // namespace fieldpeg::day
