// What somebody measured of their gear, entered: docs/measure.md. People and places are invented.

#include "server/day/gear.h"
#include "server/day/outlooks.h"
#include "server/spectrum/rejection.h"
#include "tests/day/course.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

namespace fieldpeg::day {
namespace {

using namespace testing;

constexpr double mw25_dbm = 13.979400086720377;

std::string one_pilot() {
    return field_text() + text_of(PilotText{.name = "Ann"});
}

v1::Command weakest(double away_m) {
    v1::Command command;
    auto& m = *command.mutable_measurement();
    m.set_pilot("Ann");
    m.set_note("Ann, tape measure");
    m.mutable_weakest()->set_power_dbm(mw25_dbm);
    m.mutable_weakest()->set_away_m(away_m);
    return command;
}

const v1::ReceiverProfile& profile_of(const v1::DaySheet& sheet, const std::string& pilot) {
    const auto& name = day::pilot(sheet, pilot)->receivers(0).receiver();
    return *std::ranges::find(sheet.receiver_profiles(), name, &v1::ReceiverProfile::name);
}

TEST(Measurement, IsEnteredWithItsDateAsMeasured) {
    Course course(one_pilot());
    const double before = profile_of(course.state().sheet(), "Ann").noise_figure_db();
    const auto reply = course.send(weakest(300));
    ASSERT_FALSE(reply.has_refusal()) << reply.refusal().why();
    const auto& profile = profile_of(course.state().sheet(), "Ann");
    EXPECT_NE(profile.noise_figure_db(), before);
    EXPECT_EQ(profile.name(), "Ann's goggles");
    const auto noted =
        std::ranges::find(profile.provenance(), "noise_figure_db", &v1::Provenance::key);
    ASSERT_NE(noted, profile.provenance().end());
    EXPECT_EQ(noted->kind(), v1::Provenance::measured);
    EXPECT_NE(noted->source().find("Ann, tape measure"), std::string::npos);
}

TEST(Measurement, IsNoGuessAnyMore) {
    Course course(one_pilot());
    course.send(weakest(300));
    const Assessment a(course.state().sheet(), v1::Basis::held);
    const auto guess = guesses(a, 0)[static_cast<std::size_t>(spectrum::Guess::noise_figure)];
    EXPECT_EQ(guess.weak, spectrum::Decibel(0));
    EXPECT_EQ(guess.strong, spectrum::Decibel(0));
}

// Twice as far is 6 dB (free space, ITU-R P.525): the receiver is so much better.
TEST(Measurement, TwiceAsFarIsSixDecibelsLess) {
    Course near(one_pilot()), far(one_pilot());
    near.send(weakest(200));
    far.send(weakest(400));
    EXPECT_NEAR(profile_of(near.state().sheet(), "Ann").noise_figure_db() -
                    profile_of(far.state().sheet(), "Ann").noise_figure_db(),
                20 * std::log10(2), 0.002);
}

TEST(Measurement, OnlyTriedEntersNothing) {
    Course course(one_pilot());
    auto command = weakest(300);
    command.mutable_measurement()->set_only_try(true);
    const auto version = course.state().version();
    const auto reply = course.send(command);
    EXPECT_NE(reply.done().text().find("noise figure"), std::string::npos);
    EXPECT_EQ(course.state().version(), version);
}

TEST(Measurement, ThatCannotBeIsRefused) {
    Course course(one_pilot());
    const auto version = course.state().version();
    EXPECT_TRUE(course.send(weakest(1)).has_refusal());       // deafer than any receiver
    EXPECT_TRUE(course.send(weakest(19'000)).has_refusal());  // better than an ideal one
    auto nobody = weakest(300);
    nobody.mutable_measurement()->set_receiver("periscope");
    EXPECT_TRUE(course.send(nobody).has_refusal());
    EXPECT_EQ(course.state().version(), version);
}

TEST(Measurement, OfAnotherPilotIsTheMarshalsToEnter) {
    Course course(one_pilot());
    Actor other;
    other.id = 999;
    other.role = v1::Role::pilot;
    EXPECT_TRUE(course.send(weakest(300), other).has_refusal());
}

v1::Command power(double label_dbm, double real_dbm) {
    v1::Command command;
    auto& m = *command.mutable_measurement();
    m.set_pilot("Ann");
    m.mutable_power()->set_label_dbm(label_dbm);
    m.mutable_power()->set_real_dbm(real_dbm);
    return command;
}

std::string two_powers() {
    return field_text() +
           text_of(PilotText{.name = "Ann", .stage = "", .more_video = "power_mw = [25, 200]\n"});
}

constexpr double mw200_dbm = 23.010299956639813;

TEST(Measurement, OfAPowerTakesThePlaceOfItsLabel) {
    Course course(two_powers());
    ASSERT_FALSE(course.send(power(mw25_dbm, mw25_dbm - 2)).has_refusal());
    const auto& video = day::pilot(course.state().sheet(), "Ann")->video();
    EXPECT_DOUBLE_EQ(video.power_dbm(0), mw25_dbm - 2);
    EXPECT_TRUE(course.send(power(mw25_dbm, mw25_dbm - 2)).has_refusal());  // no such step any more
}

TEST(Measurement, OfOneStepLeavesTheOthersGuessed) {
    Course course(two_powers());
    const auto is_known = [&](double power_dbm) {
        auto sheet = course.state().sheet();
        sheet.mutable_pilots(0)->mutable_claim()->set_power_dbm(power_dbm);
        const Assessment a(sheet, v1::Basis::held);
        const auto guess = guesses(a, 0)[static_cast<std::size_t>(spectrum::Guess::own_power)];
        return guess.weak == spectrum::Decibel(0);
    };
    ASSERT_FALSE(course.send(power(mw25_dbm, mw25_dbm - 2)).has_refusal());
    EXPECT_TRUE(is_known(mw25_dbm - 2));
    EXPECT_FALSE(is_known(mw200_dbm));
    EXPECT_TRUE(day::pilot(course.state().sheet(), "Ann")->video().measured().empty());
    ASSERT_FALSE(course.send(power(mw200_dbm, mw200_dbm - 1)).has_refusal());
    EXPECT_TRUE(is_known(mw200_dbm - 1));
    EXPECT_EQ(day::pilot(course.state().sheet(), "Ann")->video().measured(0), "power");
}

v1::Command tearing(double offset_mhz, double other_away_m, double away_m = 100) {
    v1::Command command;
    auto& m = *command.mutable_measurement();
    m.set_pilot("Ann");
    auto& t = *m.mutable_tearing();
    t.set_power_dbm(mw25_dbm);
    t.set_away_m(away_m);
    t.set_other_dbm(mw25_dbm);
    t.set_other_away_m(other_away_m);
    t.set_offset_mhz(offset_mhz);
    return command;
}

double shut_out_db(const v1::DaySheet& sheet, double offset_mhz) {
    const auto emission = day::emission(
        *std::ranges::find(sheet.emissions(), std::string("fm-video"), &v1::Emission::name));
    return spectrum::frequency_dependent_rejection(
               emission.density, receiver_profile(profile_of(sheet, "Ann")).selectivity,
               spectrum::from_mhz(offset_mhz))
        .count();
}

// Equal powers: 20 log of the distances, and the 10 dB that a picture needs (docs/measure.md).
TEST(Measurement, OfTheChannelBesideIsWhatTheReceiverShutsOutFromThenOn) {
    for (const auto& [offset_mhz, other_away_m] :
         {std::pair{20.0, 14.0}, {20.0, 97.0}, {20.0, 30.0}, {37.0, 2.5}, {10.0, 200.0}}) {
        Course course(one_pilot());
        for (int again = 0; again < 2; ++again) {  // the same once more changes nothing
            ASSERT_FALSE(course.send(tearing(offset_mhz, other_away_m)).has_refusal());
            EXPECT_NEAR(shut_out_db(course.state().sheet(), offset_mhz),
                        20 * std::log10(100 / other_away_m) + 10, 0.01)
                << offset_mhz << " " << again;
        }
    }
}

// More than what the other transmitter itself spills into the channel nobody can see.
TEST(Measurement, OfTheChannelBesideBeyondWhatATransmitterSpillsIsRefused) {
    Course course(one_pilot());
    const auto version = course.state().version();
    const auto reply = course.send(tearing(20, 0.1));
    ASSERT_TRUE(reply.has_refusal());
    EXPECT_NE(reply.refusal().why().find("spills"), std::string::npos) << reply.refusal().why();
    EXPECT_TRUE(course.send(tearing(20, 5000)).has_refusal());
    EXPECT_EQ(course.state().version(), version);
}

TEST(Measurement, OfTheChannelBesideMovesTheCurveAndNeverTurnsItBack) {
    for (const double other_away_m : {1.0, 2.0, 4.0}) {
        Course course(one_pilot());
        ASSERT_FALSE(course.send(tearing(37, other_away_m, 30)).has_refusal()) << other_away_m;
        const auto& curve = profile_of(course.state().sheet(), "Ann").selectivity();
        for (int i = 1; i < curve.size(); ++i)
            EXPECT_GE(curve[i].level_db(), curve[i - 1].level_db());
    }
}

v1::Command overload(double away_m, double other_away_m) {
    constexpr double mw600_dbm = 27.781512503836435;
    v1::Command command;
    auto& m = *command.mutable_measurement();
    m.set_pilot("Ann");
    auto& o = *m.mutable_overload();
    o.set_power_dbm(mw25_dbm);
    o.set_away_m(away_m);
    o.set_other_dbm(mw600_dbm);
    o.set_other_away_m(other_away_m);
    o.set_offset_mhz(100);
    return command;
}

// The worked example of docs/measure.md, section 6: free space, what leaks through the filter, and
// the model's way from a compression point to what it costs.
TEST(Measurement, OfOverloadLeavesOutWhatLeaksThroughTheFilter) {
    Course course(one_pilot());
    ASSERT_FALSE(course.send(overload(5, 1.45)).has_refusal());
    const auto& profile = profile_of(course.state().sheet(), "Ann");
    EXPECT_NEAR(profile.p1db_dbm(), -29.4, 0.5);
    EXPECT_NEAR(profile.iip3_dbm(), profile.p1db_dbm() + 9.6, 0.002);
}

TEST(Measurement, OfOverloadIsNoneWhereTheNeighbourLeaksThroughAnyway) {
    Course course(one_pilot());
    const auto version = course.state().version();
    EXPECT_NE(course.send(overload(100, 0.5)).refusal().why().find("through the filter"),
              std::string::npos);
    EXPECT_NE(course.send(overload(3000, 100)).refusal().why().find("no margin"),
              std::string::npos);
    EXPECT_EQ(course.state().version(), version);
}

TEST(Measurement, SaysWhatItMakesOfTheReceiverTriedOrNot) {
    for (const bool only_try : {false, true}) {
        Course course(one_pilot());
        auto command = weakest(300);
        command.mutable_measurement()->set_only_try(only_try);
        const auto measured = course.send(command).done().measured();
        EXPECT_EQ(measured.name(), "Ann's goggles");
        if (only_try) continue;
        EXPECT_EQ(measured.DebugString(), profile_of(course.state().sheet(), "Ann").DebugString());
    }
}

}  // namespace
}  // namespace fieldpeg::day
