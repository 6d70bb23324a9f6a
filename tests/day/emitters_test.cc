#include "server/day/check.h"
#include "server/day/outlooks.h"
#include "server/day/scene.h"
#include "tests/day/course.h"
#include "tests/support/control.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

/// What radiates beside video and relays (docs/model.md, section 6).
namespace fieldpeg::day {
namespace {

using testing::asks_on;
using testing::changed;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::emitter_text;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::steered;
using testing::text_of;
using testing::unclaimed;

constexpr double mw25_dbm = 13.979400086720376;
const auto r3 = channel("R3", 5732);
const auto r8 = channel("R8", 5917);

v1::CheckReply checked(std::string_view text) {
    return check(sheet_of(text), v1::Basis::held, 100);
}
const v1::PilotResult& pilot(const v1::CheckReply& reply, std::string_view name) {
    return *std::ranges::find(reply.pilots(), name, &v1::PilotResult::pilot);
}
const v1::ReceiverResult& receiver(const v1::CheckReply& reply, std::string_view owner) {
    return *std::ranges::find(reply.receivers(), owner, &v1::ReceiverResult::owner);
}

/// What somebody is said to get from one transmitter alone, in dBm; none: nothing.
std::optional<double> level_from(const v1::ReceiverResult& r, std::string_view name,
                                 v1::Contribution::Kind kind) {
    for (const auto& c : r.contributions())
        if (c.kind() == kind && c.from_size() == 1 && c.from(0) == name) return c.level_dbm();
    return std::nullopt;
}

// --- harmonics

/// Ann with analogue video on 1.3 GHz.
std::string ann_on_1g3(const std::string& mhz) {
    return changed(text_of(PilotText{.name = "Ann", .channel = mhz}), "fm-video-5g8",
                   "fm-video-1g3");
}

// 3 x 433.5 = 1300.5.
TEST(Emitter, HasAThirdHarmonicWhereThreeTimesItsFrequencyLies) {
    const auto with = [](const std::string& more) {
        return checked(field_text() +
                       emitter_text("repeater", "line-2",
                                    "channel = 433.5\nemission = \"fm-video\"\npower_mw = 1000\n"
                                    "duty = 1\n" +
                                        more) +
                       ann_on_1g3("1300"));
    };
    const auto reply = with("");
    const auto& list = receiver(reply, "Ann").contributions();
    const auto found = std::ranges::find(list, v1::Contribution::harmonic, &v1::Contribution::kind);
    ASSERT_NE(found, list.end());
    ASSERT_EQ(found->from_size(), 1);
    EXPECT_EQ(found->from(0), "repeater");
    EXPECT_EQ(found->from_mhz(0), 433.5);
    EXPECT_EQ(found->product_mhz(), 1300.5);
    const auto filtered = with("harmonic_filter_db = 30\n");
    EXPECT_NEAR(*level_from(receiver(filtered, "Ann"), "repeater", v1::Contribution::harmonic),
                found->level_dbm() - 30, 0.002);
    EXPECT_GT(pilot(filtered, "Ann").margin_ref_db(), pilot(reply, "Ann").margin_ref_db());
}

// Usual are 40 and 50 dB [docs/model.md, section 6: assumed]; whoever has measured theirs says so,
// and what is said of the second is nothing to the third.
TEST(Emitter, HasTheHarmonicsThatAreSaidOfIt) {
    const auto level = [](const std::string& more) {
        const auto reply = checked(field_text() +
                                   emitter_text("repeater", "line-2",
                                                "channel = 433.5\nemission = \"fm-video\"\n"
                                                "power_mw = 1000\nduty = 1\n" +
                                                    more) +
                                   ann_on_1g3("1300"));
        return level_from(receiver(reply, "Ann"), "repeater", v1::Contribution::harmonic).value();
    };
    EXPECT_EQ(level("harmonics_db = [40, 50]\n"), level(""));
    EXPECT_NEAR(level("harmonics_db = [40, 68]\n"), level("") - 18, 0.002);
    EXPECT_EQ(level("harmonics_db = [68, 50]\n"), level(""));
    EXPECT_NEAR(level("harmonics_db = [40, 60]\nharmonic_filter_db = 5\n"), level("") - 15, 0.002);
}

// 3 x 433.5 lies 180 MHz below: beyond 3 x 40 MHz nothing is counted.
TEST(Emitter, HasNoHarmonicFarFromTheChannel) {
    const auto reply = checked(field_text() +
                               emitter_text("repeater", "line-2",
                                            "channel = 390\nemission = \"fm-video\"\n"
                                            "power_mw = 1000\nduty = 1\n") +
                               ann_on_1g3("1300"));
    EXPECT_FALSE(level_from(receiver(reply, "Ann"), "repeater", v1::Contribution::harmonic));
}

// --- who is on the air

TEST(Emitter, IsOnTheAirWhoeverFlies) {
    const auto sheet = sheet_of(field_text() + emitter_text("canteen", "pits", "wifi = 6") +
                                unclaimed(PilotText{.name = "Ann"}) + std::string(steered));
    for (const auto basis : {v1::Basis::held, v1::Basis::on_air}) {
        const auto s = situation(sheet, basis);
        EXPECT_TRUE(s.transmitter("canteen"));
        EXPECT_TRUE(s.transmitter(handset_name("Ann")));
        EXPECT_FALSE(s.transmitter("Ann"));  // holds no channel
        EXPECT_TRUE(s.scene.controls.empty());
    }
}

TEST(Emitter, HopsAndCountsByItsDuty) {
    const auto sheet = sheet_of(
        field_text() + emitter_text("canteen", "pits", "wifi = 6\nduty = 0.03\npower_mw = 50\n") +
        unclaimed(PilotText{.name = "Ann", .place = "line-2"}) +
        "[pilot.handset]\nhop_mhz = [2410, 2470]\nplace = \"tripod\"\n");
    const auto s = situation(sheet, v1::Basis::held);
    const auto& canteen = s.scene.transmitters[*s.transmitter("canteen")];
    EXPECT_EQ(canteen.duty, 0.03);
    EXPECT_FALSE(canteen.hops);
    EXPECT_NEAR(canteen.power.count(), 16.99, 0.01);
    EXPECT_EQ(std::get<spectrum::Point>(canteen.at), (spectrum::Point{0, -30, 1.2}));
    const auto& handset = s.scene.transmitters[*s.transmitter(handset_name("Ann"))];
    ASSERT_TRUE(handset.hops);
    EXPECT_EQ(handset.hops->low, spectrum::from_mhz(2410));
    EXPECT_EQ(handset.frequency, spectrum::from_mhz(2440));
    EXPECT_EQ(handset.duty, 0.5);
    EXPECT_EQ(std::get<spectrum::Point>(handset.at), (spectrum::Point{-10, 0, 2.5}));
}

TEST(Emitter, IsNobodysPictureAndHoldsNoChannel) {
    const auto text = field_text() + emitter_text("canteen", "pits", "wifi = 6") +
                      text_of(PilotText{.name = "Ann"}) + std::string(steered);
    const auto reply = checked(text);
    EXPECT_EQ(reply.pilots_size(), 1);
    EXPECT_EQ(reply.receivers_size(), 1);
}

// --- the ground side of a two-way system

/// Digital video both ways, on `place`, the ground side with `uplink_mw`; none: one way only.
std::string two_way(PilotText pilot, const std::string& uplink_mw) {
    const bool has_claim = !pilot.channel.empty();
    auto text = has_claim ? text_of(pilot) : unclaimed(pilot);
    text = changed(text, "\"fm-video\"", "\"ofdm-20\"");
    text = changed(text, "\"fm-video-5g8\"", "\"ofdm-20-5g8\"");
    if (!uplink_mw.empty()) text += "[pilot.uplink]\npower_mw = " + uplink_mw + "\n";
    return text;
}

TEST(Uplink, IsOnItsPilotsChannelAndSparesThem) {
    for (const auto* on : {"R3", "R8"}) {
        const auto sheet =
            sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R1"}) +
                     two_way({.name = "Uwe", .place = "line-2", .channel = on}, "400"));
        const auto s = situation(sheet, v1::Basis::held);
        const auto t = s.transmitter(uplink_name("Uwe"));
        ASSERT_TRUE(t);
        EXPECT_EQ(*t, s.transmitters.size() - 1);  // uplinks come last
        EXPECT_EQ(s.scene.transmitters[*t].frequency,
                  s.scene.transmitters[*s.transmitter("Uwe")].frequency);
        EXPECT_EQ(s.transmitters[*t].channel.name(), on);
        for (std::size_t v = 0; v < s.receivers.size(); ++v)
            EXPECT_EQ(s.scene.transmitters[*t].spares == s.scene.receivers[v].owner,
                      s.receivers[v].owner == "Uwe");
    }
}

TEST(Uplink, IsOffWhileItsPilotIsOff) {
    const auto sheet =
        sheet_of(field_text() + two_way({.name = "Uwe", .channel = "R3", .stage = ""}, "400"));
    EXPECT_TRUE(situation(sheet, v1::Basis::held).transmitter(uplink_name("Uwe")));
    EXPECT_FALSE(situation(sheet, v1::Basis::on_air).transmitter(uplink_name("Uwe")));
    const auto idle = sheet_of(field_text() + two_way({.name = "Uwe", .channel = ""}, "400"));
    EXPECT_FALSE(situation(idle, v1::Basis::held).transmitter(uplink_name("Uwe")));
}

TEST(Uplink, HarmsANeighbourAndNotItsOwner) {
    const auto with = [](const std::string& uplink_mw) {
        return checked(field_text() + text_of(PilotText{.name = "Ann", .channel = "R1"}) +
                       two_way({.name = "Uwe", .place = "line-2", .channel = "R2"}, uplink_mw));
    };
    const auto quiet = with(""), loud = with("400");
    EXPECT_EQ(pilot(quiet, "Ann").verdict(), v1::Verdict::steady);
    EXPECT_EQ(pilot(loud, "Ann").verdict(), v1::Verdict::clash);
    EXPECT_TRUE(level_from(receiver(loud, "Ann"), uplink_name("Uwe"), v1::Contribution::adjacent));
    EXPECT_EQ(pilot(loud, "Uwe").margin_ref_db(), pilot(quiet, "Uwe").margin_ref_db());
    EXPECT_EQ(pilot(loud, "Uwe").verdict(), pilot(quiet, "Uwe").verdict());
}

/// Ann flies on R1, Uwe holds nothing.
Course ann_flies_uwe_asks() {
    return Course(field_text() + text_of(PilotText{.name = "Ann", .channel = "R1"}) +
                  two_way({.name = "Uwe", .place = "line-2", .channel = ""}, "400"));
}

TEST(Uplink, IsNotGivenAChannelWhereItHarmsANeighbour) {
    auto course = ann_flies_uwe_asks();
    v1::Command command;
    auto& share = *command.mutable_assign()->add_all();
    share.set_transmitter("Uwe");
    *share.mutable_channel() = r3;
    share.set_power_dbm(mw25_dbm);
    const auto refused = course.send(command).assigned();
    EXPECT_FALSE(refused.assigned());
    ASSERT_EQ(refused.harms_size(), 1);
    EXPECT_EQ(refused.harms(0).pilot(), "Ann");
    EXPECT_NE(refused.harms(0).through().find(uplink_name("Uwe")), std::string::npos)
        << refused.harms(0).through();
}

TEST(Uplink, WarnsANeighbourInTheAir) {
    auto course = ann_flies_uwe_asks();
    auto claim = claims("Uwe", r8, mw25_dbm);
    claim.mutable_claim()->set_yes_anyway(true);
    claim.mutable_claim()->set_allowed_because("to see what it does");
    ASSERT_TRUE(course.send(claim).claim().claimed());
    auto on = asks_on("Uwe");
    on.mutable_on()->set_already(true);
    course.send(on);
    ASSERT_EQ(course.state().unacknowledged_size(), 2);  // as it was allowed, and as it came on
    for (const auto& warning : course.state().unacknowledged()) {
        EXPECT_EQ(warning.pilot(), holder(course.state().sheet(), "Ann")->id);
        EXPECT_EQ(warning.after(), v1::Verdict::clash);
    }
}

TEST(Uplink, IsRefusedAClaimThatHarmsANeighbour) {
    auto course = ann_flies_uwe_asks();
    const auto reply = course.send(claims("Uwe", channel("R2", 5695), mw25_dbm)).claim();
    EXPECT_FALSE(reply.claimed());
    ASSERT_EQ(reply.harms_size(), 1);
    EXPECT_EQ(reply.harms(0).pilot(), "Ann");
}

// --- a day without any of this

// Read off the program before there were emitters (commit 1c3adae): not a decimal has changed.
TEST(OldDay, StandsAsItStood) {
    auto dee = text_of(PilotText{
        .name = "Dee", .place = "chair", .channel = "1280", .power_mw = "800", .area = "valley"});
    dee = changed(dee, "circular-omni\"\npolarisation = \"rhcp\"", "vertical-omni-1g3\"");
    const auto reply =
        checked(field_text() + text_of(PilotText{.name = "Ann"}) +
                text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R4"}) + dee +
                text_of(RelayText{.name = "mast",
                                  .owner = "Dee",
                                  .tables = "[[relay.receiver]]\nreceiver = \"fm-video-1g3\"\n"
                                            "antenna = \"wide-panel\"\n"}));
    const auto expect = [&](std::string_view name, double margin_db, double share) {
        const auto& r = pilot(reply, name);
        EXPECT_EQ(r.verdict(), v1::Verdict::steady) << name;
        EXPECT_EQ(r.picture_verdict(), v1::Verdict::steady) << name;
        EXPECT_EQ(r.margin_ref_db(), margin_db) << name;
        EXPECT_EQ(r.margin_worst_db(), margin_db) << name;
        EXPECT_EQ(r.share(), share) << name;
        EXPECT_FALSE(r.has_control()) << name;
        EXPECT_TRUE(r.has_outlook()) << name;
    };
    expect("Ann", 2.144, 0.995);
    expect("Ben", 2.812, 0.997);
    expect("Dee", 14.461, 1);
}

TEST(OldDay, HasNothingOfControlInIt) {
    const auto sheet = sheet_of(testing::whole_day());
    const auto s = situation(sheet, v1::Basis::held);
    EXPECT_TRUE(s.scene.controls.empty());
    EXPECT_TRUE(s.controls.empty());
    for (const auto& of : s.transmitters)
        EXPECT_TRUE(of.source == Source::video || of.source == Source::relay);
    for (const auto& t : s.scene.transmitters) {
        EXPECT_EQ(t.duty, 1);
        EXPECT_FALSE(t.hops);
        EXPECT_FALSE(t.spares);
        EXPECT_EQ(t.harmonic_filter, spectrum::Decibel(0));
    }
}

// --- what an outlook says

TEST(Outlook, IsOfEverybodyWhoSeesSomething) {
    const auto reply =
        checked(field_text() + text_of(PilotText{.name = "Ann", .channel = "R1"}) +
                text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R2"}) +
                unclaimed(PilotText{.name = "Cem", .place = "line-3"}));
    for (const auto* name : {"Ann", "Ben"}) {
        ASSERT_TRUE(pilot(reply, name).has_outlook()) << name;
        const auto& at = pilot(reply, name).outlook();
        EXPECT_LE(at.margin_low_db(), pilot(reply, name).margin_ref_db());
        EXPECT_GE(at.margin_high_db(), pilot(reply, name).margin_ref_db());
        EXPECT_EQ(at.holds(), at.would_settle() == v1::Guess::nothing);
        EXPECT_EQ(at.holds(), at.ask().empty());
        EXPECT_EQ(at.holds(), at.rests_on().empty());
        if (at.holds()) {
            EXPECT_EQ(at.low(), pilot(reply, name).picture_verdict());
        }
    }
    EXPECT_FALSE(pilot(reply, "Cem").has_outlook());
}

/// Ann by herself, as far as 25 mW just reach.
std::string ann_far_out(const std::string& more_video = "") {
    return field_text() +
           "[[field.area]]\nname = \"meadow\"\ncentre_m = [0, 150]\nradius_m = 140\n"
           "height_m = [10, 60]\n" +
           text_of(PilotText{.name = "Ann", .area = "meadow", .more_video = more_video});
}

TEST(Outlook, RestsOnOnesOwnWhereNobodyElseIsOnTheAir) {
    const auto at = pilot(checked(ann_far_out()), "Ann").outlook();
    EXPECT_FALSE(at.holds());
    EXPECT_TRUE(at.would_settle() == v1::Guess::own_power ||
                at.would_settle() == v1::Guess::own_antenna ||
                at.would_settle() == v1::Guess::noise_figure);
    EXPECT_NE(at.ask().find("Ann"), std::string::npos) << at.ask();
}

/// What is left to guess at Ann's goggles.
spectrum::Guesses guesses_with(const std::string& video, const std::string& goggles,
                               const std::string& of_ben = "") {
    const auto sheet =
        sheet_of(field_text() +
                 text_of(PilotText{.name = "Ann", .more_video = video, .more_goggles = goggles}) +
                 text_of(PilotText{
                     .name = "Ben", .place = "line-2", .channel = "R4", .more_video = of_ben}));
    return guesses(Assessment(sheet, v1::Basis::held), 0);
}
/// Which of them are no guess any more.
std::vector<spectrum::Guess> known(const spectrum::Guesses& left) {
    std::vector<spectrum::Guess> all;
    for (std::size_t i = 0; i < left.size(); ++i) {
        if (left[i].weak == spectrum::Decibel(0) && left[i].strong == spectrum::Decibel(0))
            all.push_back(static_cast<spectrum::Guess>(i));
        else
            EXPECT_EQ(left[i].weak, spectrum::assumed_guesses[i].weak) << i;
    }
    return all;
}

// An aerial of a link is known where both of its ends are; those of others where all of them are.
TEST(Guesses, EndWithTheWordsForWhatWasMeasured) {
    using spectrum::Guess;
    const std::string antenna = "measured = ['antenna']\n", power = "measured = ['power']\n";
    using All = std::vector<Guess>;
    EXPECT_EQ(known(guesses_with("", "")), All{});
    EXPECT_EQ(known(guesses_with(power, "")), All{Guess::own_power});
    EXPECT_EQ(known(guesses_with("", "measured = ['noise_figure']\n")), All{Guess::noise_figure});
    EXPECT_EQ(known(guesses_with("", "measured = ['selectivity']\n")), All{Guess::selectivity});
    EXPECT_EQ(known(guesses_with("", "measured = ['intercept']\n")), All{Guess::intercept});
    EXPECT_EQ(known(guesses_with(antenna, "")), All{});
    EXPECT_EQ(known(guesses_with("", antenna)), All{});
    EXPECT_EQ(known(guesses_with(antenna, antenna)), All{Guess::own_antenna});
    EXPECT_EQ(known(guesses_with("", "", power)), All{Guess::others_power});
    EXPECT_EQ(known(guesses_with("", "", antenna)), All{Guess::others_antenna});
    EXPECT_EQ(
        known(guesses_with(power, "measured = ['noise_figure', 'selectivity']\n", power)),
        (All{Guess::own_power, Guess::noise_figure, Guess::selectivity, Guess::others_power}));
}

// Whatever is measured, nothing is left: the margin is what it is.
TEST(Outlook, IsNoRangeWhereEverythingWasMeasured) {
    const std::string device = "measured = ['power', 'antenna']\n";
    const auto sheet = sheet_of(
        field_text() +
        text_of(PilotText{.name = "Ann",
                          .channel = "R1",
                          .more_video = device,
                          .more_goggles = "measured = ['antenna', 'noise_figure', 'selectivity', "
                                          "'intercept']\n"}) +
        text_of(
            PilotText{.name = "Ben", .place = "line-2", .channel = "R2", .more_video = device}));
    const auto reply = check(sheet, v1::Basis::held, 100);
    const auto& ann = pilot(reply, "Ann");
    EXPECT_TRUE(ann.outlook().holds());
    EXPECT_EQ(ann.outlook().margin_low_db(), ann.margin_ref_db());
    EXPECT_EQ(ann.outlook().margin_high_db(), ann.margin_ref_db());
    EXPECT_LT(pilot(reply, "Ben").outlook().margin_low_db(), pilot(reply, "Ben").margin_ref_db());
}

TEST(Outlook, DoesNotRestOnAPowerThatWasMeasured) {
    const auto guessed = pilot(checked(ann_far_out()), "Ann").outlook();
    const auto measured = pilot(checked(ann_far_out("measured = ['power']\n")), "Ann").outlook();
    EXPECT_GT(measured.margin_low_db(), guessed.margin_low_db());
    EXPECT_LT(measured.margin_high_db(), guessed.margin_high_db());
    EXPECT_NE(measured.would_settle(), v1::Guess::own_power);
}

}  // namespace
}  // namespace fieldpeg::day
