#include "tests/support/control.h"
#include "server/day/check.h"
#include "server/day/decide.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

/// An aircraft that cannot be steered comes before every picture (docs/model.md, section 14).
/// Analogue video on 2.4 GHz and control on 2.4 GHz do not go together, nor do 1.2 GHz video at
/// high power and 2.4 GHz [common practice, no published source].
namespace fieldpeg::day {
namespace {

using testing::asks_on;
using testing::changed;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::emitter_text;
using testing::far_rim_text;
using testing::field_text;
using testing::PilotText;
using testing::releases;
using testing::sheet_of;
using testing::steered;
using testing::text_of;
using testing::unclaimed;

constexpr double mw25_dbm = 13.979400086720376;
constexpr double mw800_dbm = 29.030899869919434;
const auto on_2g4 = channel("2440", 2440);
const auto on_r8 = channel("R8", 5917);

const v1::PilotResult& pilot(const v1::CheckReply& reply, std::string_view name) {
    return *std::ranges::find(reply.pilots(), name, &v1::PilotResult::pilot);
}

v1::PilotResult result(std::string_view text, std::string_view name) {
    return pilot(check(sheet_of(text), v1::Basis::held, 100), name);
}

bool has(const std::string& text, std::string_view phrase) {
    return text.find(phrase) != std::string::npos;
}

/// With goggles for 2.4 GHz.
std::string on_the_lower_band(const std::string& pilot) {
    return changed(pilot, "fm-video-5g8", "fm-video-2g4");
}

std::string ann(const std::string& channel_name = "R1") {
    auto text = text_of(PilotText{.name = "Ann", .channel = channel_name});
    if (channel_name.starts_with("2")) text = on_the_lower_band(text);
    return text + std::string(steered);
}

// --- what takes it

TEST(Control, IsLeftAloneByVideoOnAnotherBand) {
    const auto r = result(field_text() + ann(), "Ann");
    EXPECT_EQ(r.verdict(), v1::Verdict::steady);
    EXPECT_EQ(r.picture_verdict(), v1::Verdict::steady);
    ASSERT_TRUE(r.has_control());
    EXPECT_EQ(r.control().word(), v1::Control::ok);
    EXPECT_EQ(r.control().lost_share(), 0);
    EXPECT_EQ(r.control().lost_to(), "");
    EXPECT_EQ(r.control().reason(), "");
}

TEST(Control, IsTakenByVideoOnItsOwnBandAboard) {
    const auto r = result(field_text() + ann("2440"), "Ann");
    EXPECT_EQ(r.verdict(), v1::Verdict::control_at_risk);
    EXPECT_NE(r.picture_verdict(), v1::Verdict::control_at_risk);
    EXPECT_EQ(r.control().word(), v1::Control::at_risk);
    EXPECT_EQ(r.control().lost_share(), 1);  // every channel: docs/model.md, section 14
    EXPECT_EQ(r.control().lost_to(), "Ann");
    EXPECT_EQ(r.control().by(), v1::Control::direct);
    EXPECT_EQ(r.reason(), r.control().reason());
    EXPECT_TRUE(has(r.reason(), "control of the aircraft loses")) << r.reason();
    EXPECT_TRUE(has(r.reason(), "most to its own video on 2440")) << r.reason();
    EXPECT_TRUE(has(r.reason(), "would help: another band")) << r.reason();
}

TEST(Control, IsTakenByAnAccessPointNearTheFlight) {
    const auto access = [](const std::string& more) {
        return result(field_text() + far_rim_text() +
                          emitter_text("canteen", "rim", "wifi = 6\nduty = 1\n" + more) + ann(),
                      "Ann");
    };
    const auto loud = access("power_mw = 1000");
    EXPECT_EQ(loud.verdict(), v1::Verdict::control_at_risk);
    EXPECT_EQ(loud.picture_verdict(), v1::Verdict::steady);
    EXPECT_EQ(loud.control().lost_to(), "canteen");
    EXPECT_EQ(loud.control().by(), v1::Control::direct);
    EXPECT_TRUE(has(loud.reason(), "most to canteen on 2437")) << loud.reason();
    EXPECT_TRUE(has(loud.reason(), "would help: another channel, or off while flying"))
        << loud.reason();
    ASSERT_TRUE(loud.control().has_cured_by_db());
    const auto dbm = [](double value) { return "power_dbm = " + std::to_string(value); };
    const double cured = 30 - loud.control().cured_by_db();
    EXPECT_EQ(access(dbm(cured)).verdict(), v1::Verdict::steady);
    EXPECT_EQ(access(dbm(cured + 1)).verdict(), v1::Verdict::control_at_risk);
}

TEST(Control, IsLeftAloneByAnAccessPointOnTheOtherBand) {
    const auto r = result(field_text() + far_rim_text() +
                              emitter_text("canteen", "rim", "wifi = 36\npower_mw = 1000") + ann(),
                          "Ann");
    EXPECT_EQ(r.control().word(), v1::Control::ok);
}

/// Ben flies where Ann's aircraft is farthest, with ten watts on 1.2 GHz.
std::string ben_on_1g2(const std::string& channel_name, const std::string& more = "") {
    return changed(text_of(PilotText{.name = "Ben",
                                     .place = "line-2",
                                     .channel = channel_name,
                                     .power_mw = "10000",
                                     .area = "corner",
                                     .more_video = more}),
                   "fm-video-5g8", "fm-video-1g3");
}

// 2 x 1205 to 2 x 1240 MHz: twice 1.2 GHz is 2.4 GHz.
TEST(Control, IsTakenByTheSecondHarmonicOfAnother) {
    const auto with = [](const std::string& channel_name, const std::string& more) {
        return result(field_text() + far_rim_text() + ann() + ben_on_1g2(channel_name, more),
                      "Ann");
    };
    for (const auto* mhz : {"1210", "1220", "1230"}) {
        const auto r = with(mhz, "");
        EXPECT_EQ(r.verdict(), v1::Verdict::control_at_risk) << mhz;
        EXPECT_EQ(r.control().lost_to(), "Ben");
        EXPECT_EQ(r.control().by(), v1::Control::harmonic);
        EXPECT_TRUE(has(r.reason(), "and its harmonics")) << r.reason();
        ASSERT_TRUE(r.control().has_cured_by_db());
        const auto filter = std::to_string(static_cast<int>(r.control().cured_by_db()));
        EXPECT_TRUE(has(r.reason(), "a filter of " + filter + " dB in its lead")) << r.reason();
        EXPECT_TRUE(has(r.reason(), "a channel whose harmonic misses control")) << r.reason();
        EXPECT_EQ(with(mhz, "harmonic_filter_db = " + filter).control().word(), v1::Control::ok);
    }
    EXPECT_EQ(with("1320", "").control().word(), v1::Control::ok);  // 2640 MHz
}

// 100 mW between dipoles, 60 km out and 150 m up: below the noise by the plane-earth loss alone
// [P.525-5 and textbooks: 40 log d - 20 log h1 h2 = 143 dB], and that is nobody else's doing.
TEST(Control, IsTooFarByItself) {
    auto text = field_text() +
                "[[field.area]]\nname = \"far\"\ncentre_m = [0, 60000]\n"
                "radius_m = 500\nheight_m = [60, 150]\n";
    const auto r = result(
        text + text_of(PilotText{.name = "Ann", .area = "far"}) + std::string(steered), "Ann");
    EXPECT_EQ(r.control().word(), v1::Control::too_far);
    EXPECT_NE(r.verdict(), v1::Verdict::control_at_risk);  // others have no part in it
    EXPECT_EQ(r.verdict(), r.picture_verdict());
    EXPECT_FALSE(r.control().reason().empty());
}

TEST(Control, IsNotSpokenOfWhereNothingIsKnown) {
    EXPECT_FALSE(result(field_text() + text_of(PilotText{.name = "Ann"}), "Ann").has_control());
    EXPECT_FALSE(
        result(field_text() + text_of(PilotText{.name = "Ann"}) + "[pilot.handset]\n", "Ann")
            .has_control());
    const auto idle = unclaimed(PilotText{.name = "Ann"}) + std::string(steered);
    EXPECT_FALSE(result(field_text() + idle, "Ann").has_control());  // it does not fly
}

// --- what is decided

/// Ann flies on 5.8 GHz; Ben has 2.4 GHz video for where her aircraft is farthest, and holds
/// nothing.
Course ann_flies_ben_asks() {
    return Course(field_text() + far_rim_text() + ann() +
                  on_the_lower_band(
                      unclaimed(PilotText{.name = "Ben", .place = "line-2", .area = "corner"})));
}

TEST(ControlDecision, RefusesAClaimThatTakesItFromSomebody) {
    auto course = ann_flies_ben_asks();
    const auto reply = course.send(claims("Ben", on_2g4, mw800_dbm)).claim();
    EXPECT_FALSE(reply.claimed());
    ASSERT_EQ(reply.harms_size(), 1);
    EXPECT_EQ(reply.harms(0).pilot(), "Ann");
    EXPECT_EQ(reply.harms(0).before(), v1::Verdict::steady);
    EXPECT_EQ(reply.harms(0).after(), v1::Verdict::control_at_risk);
    EXPECT_TRUE(reply.harms(0).on_air());
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::conflict);
    EXPECT_TRUE(has(reply.refusal().why(), "would harm Ann: control of the aircraft loses"))
        << reply.refusal().why();
    EXPECT_TRUE(has(reply.refusal().why(), "most to Ben on 2440")) << reply.refusal().why();
}

TEST(ControlDecision, OffersOnlyWhatTakesItFromNobody) {
    auto course = ann_flies_ben_asks();
    const auto refused = course.send(claims("Ben", on_2g4, mw800_dbm)).claim();
    for (const auto& offered : refused.alternatives()) {
        auto again = ann_flies_ben_asks();
        again.send(claims("Ben", offered.channel(), offered.power_dbm()));
        const auto after = check(again.state().sheet(), v1::Basis::held, 0);
        EXPECT_EQ(pilot(after, "Ann").control().word(), v1::Control::ok)
            << offered.channel().name();
    }
}

TEST(ControlDecision, LetsTheMarshalAllowItAndTellsWhoPays) {
    auto course = ann_flies_ben_asks();
    auto claim = claims("Ben", on_2g4, mw800_dbm);
    claim.mutable_claim()->set_allowed_because("a demonstration, Ann lands");
    const auto reply = course.send(claim);
    EXPECT_TRUE(reply.claim().claimed());
    ASSERT_EQ(reply.claim().harms_size(), 1);
    EXPECT_EQ(reply.claim().harms(0).after(), v1::Verdict::control_at_risk);
}

/// The same with Ben holding 2.4 GHz, whoever said yes.
Course ann_flies_ben_holds(const std::string& ann_stage = "on_air = true") {
    return Course(field_text() + far_rim_text() +
                  text_of(PilotText{.name = "Ann", .stage = ann_stage}) + std::string(steered) +
                  on_the_lower_band(text_of(PilotText{.name = "Ben",
                                                      .place = "line-2",
                                                      .channel = "2440",
                                                      .power_mw = "800",
                                                      .stage = "",
                                                      .area = "corner"})));
}

TEST(ControlDecision, SaysWaitForWhoWouldLoseIt) {
    auto course = ann_flies_ben_holds();
    const auto reply = course.send(asks_on("Ben")).switched();
    EXPECT_EQ(reply.answer(), v1::SwitchReply::wait);
    ASSERT_EQ(reply.wait_for_size(), 1);
    EXPECT_EQ(reply.wait_for(0), "Ann");
    EXPECT_EQ(reply.harms(0).after(), v1::Verdict::control_at_risk);
    EXPECT_TRUE(has(reply.refusal().why(), "do not switch on: Ann: control of the aircraft loses"))
        << reply.refusal().why();
    EXPECT_EQ(course.stage("Ben"), v1::Claim::held);
}

TEST(ControlDecision, LetsSomebodyOnWhileNobodyElseFlies) {
    auto course = ann_flies_ben_holds("");
    auto asked = asks_on("Ben");
    asked.mutable_on()->set_yes_anyway(true);  // for his own picture, beside handsets
    const auto reply = course.send(asked).switched();
    EXPECT_EQ(reply.answer(), v1::SwitchReply::switch_on) << reply.refusal().why();
    ASSERT_EQ(reply.harms_held_size(), 1);  // later, when Ann flies as well
    EXPECT_EQ(reply.harms_held(0).after(), v1::Verdict::control_at_risk);
}

TEST(ControlDecision, GivesOutNothingThatTakesItFromSomebody) {
    auto course = ann_flies_ben_asks();
    v1::Command command;
    auto& share = *command.mutable_assign()->add_all();
    share.set_transmitter("Ben");
    *share.mutable_channel() = on_2g4;
    share.set_power_dbm(mw800_dbm);
    const auto refused = course.send(command).assigned();
    EXPECT_FALSE(refused.assigned());
    ASSERT_EQ(refused.harms_size(), 1);
    EXPECT_EQ(refused.harms(0).pilot(), "Ann");
    EXPECT_TRUE(has(refused.refusal().why(), "it would harm Ann: control of the aircraft loses"))
        << refused.refusal().why();
    command.mutable_assign()->set_yes_anyway(true);  // that is for one's own trouble
    EXPECT_FALSE(course.send(command).assigned().assigned());
    command.mutable_assign()->set_allowed_because("Ann lands");
    EXPECT_TRUE(course.send(command).assigned().assigned());
}

TEST(ControlDecision, GivesOutNothingToSomebodyWhoLosesTheirOwn) {
    Course course(field_text() + on_the_lower_band(unclaimed(PilotText{.name = "Ann"})) +
                  std::string(steered));
    v1::Command command;
    auto& share = *command.mutable_assign()->add_all();
    share.set_transmitter("Ann");
    *share.mutable_channel() = on_2g4;
    share.set_power_dbm(mw25_dbm);
    const auto refused = course.send(command).assigned();
    EXPECT_FALSE(refused.assigned());
    ASSERT_EQ(refused.in_trouble_size(), 1);
    EXPECT_EQ(refused.in_trouble(0).verdict(), v1::Verdict::control_at_risk);
    EXPECT_TRUE(has(refused.refusal().why(), "control of the aircraft loses"))
        << refused.refusal().why();
    command.mutable_assign()->set_yes_anyway(true);
    EXPECT_TRUE(course.send(command).assigned().assigned());
}

TEST(ControlDecision, WarnsWhoIsInTheAir) {
    auto course = ann_flies_ben_holds();
    auto command = asks_on("Ben");
    command.mutable_on()->set_already(true);
    const auto reply = course.send(command);
    ASSERT_EQ(course.state().unacknowledged_size(), 1);
    const auto& warning = course.state().unacknowledged(0);
    EXPECT_EQ(warning.after(), v1::Verdict::control_at_risk);
    EXPECT_EQ(warning.pilot(), holder(course.state().sheet(), "Ann")->id);
    EXPECT_EQ(warning.cause(), holder(course.state().sheet(), "Ben")->id);
    ASSERT_FALSE(reply.call_out().empty());
    EXPECT_TRUE(has(reply.call_out(0), "Ann: land, you may lose control of your aircraft"))
        << reply.call_out(0);
    EXPECT_TRUE(has(reply.call_out(0), "Ben")) << reply.call_out(0);
}

TEST(ControlDecision, WarnsOfSomethingUnknownOnTheAir) {
    Course course(field_text() + far_rim_text() + ann());
    NoteSighting seen;
    auto& asked = seen.asked;
    *asked.mutable_channel() = on_2g4;
    asked.set_emission("fm-video");
    asked.set_power_dbm(30);
    asked.set_place("rim");
    for (const auto& e : course.state().sheet().emissions())
        if (e.name() == "fm-video") *seen.gear.add_emissions() = e;
    course.send(Command(seen));
    ASSERT_EQ(course.state().unacknowledged_size(), 1);
    EXPECT_EQ(course.state().unacknowledged(0).after(), v1::Verdict::control_at_risk);
    EXPECT_TRUE(course.state().unacknowledged(0).cause_is_sighting());
}

TEST(ControlDecision, AsksForAYesToLoseOnesOwn) {
    Course course(field_text() + on_the_lower_band(unclaimed(PilotText{.name = "Ann"})) +
                  std::string(steered));
    auto claim = claims("Ann", on_2g4, mw25_dbm);
    const auto refused = course.send(claim).claim();
    EXPECT_FALSE(refused.claimed());
    EXPECT_TRUE(refused.harms().empty());
    EXPECT_EQ(refused.own().verdict(), v1::Verdict::control_at_risk);
    EXPECT_TRUE(has(refused.refusal().why(), "your own control of the aircraft loses"))
        << refused.refusal().why();
    claim.mutable_claim()->set_yes_anyway(true);
    EXPECT_TRUE(course.send(claim).claim().claimed());
    const auto asked = course.send(asks_on("Ann")).switched();
    EXPECT_EQ(asked.answer(), v1::SwitchReply::ask_marshal);
    EXPECT_TRUE(has(asked.refusal().why(), "your own control of the aircraft loses"))
        << asked.refusal().why();
    auto yes = asks_on("Ann");
    yes.mutable_on()->set_yes_anyway(true);
    EXPECT_EQ(course.send(yes).switched().answer(), v1::SwitchReply::switch_on);
    EXPECT_TRUE(course.state().unacknowledged().empty());  // they did it
}

TEST(ControlDecision, AsksForNoYesOnAnotherBand) {
    Course course(field_text() + unclaimed(PilotText{.name = "Ann"}) + std::string(steered));
    EXPECT_TRUE(course.send(claims("Ann", on_r8, mw25_dbm)).claim().claimed());
    EXPECT_EQ(course.send(asks_on("Ann")).switched().answer(), v1::SwitchReply::switch_on);
}

// It was at risk before, by somebody else: whoever comes on another band has no part in it.
TEST(ControlDecision, BlamesNobodyForWhatWasAtRiskBefore) {
    Course course(field_text() + ann("2440") +
                  unclaimed(PilotText{.name = "Ben", .place = "line-2"}));
    const auto reply = course.send(claims("Ben", on_r8, mw25_dbm)).claim();
    EXPECT_TRUE(reply.claimed()) << reply.refusal().why();
    EXPECT_TRUE(reply.harms().empty());
}

}  // namespace
}  // namespace fieldpeg::day
