#include "server/day/free_channels.h"

#include "server/day/choices.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

/// What is offered to one who may not switch on. A second method: whoever takes what is offered
/// asks for it and then for a yes, on the same day. People and places are invented; that two on one
/// channel both lose their picture is common practice, no published source.
namespace fieldpeg::day {
namespace {

using testing::chance;
using testing::changed;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::field_text;
using testing::for_all;
using testing::on;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::text_of;
using testing::unclaimed;
using testing::whole;

const std::string channels = "channels = [\"R1-R8\", \"F1-F8\", \"E1-E8\"]\n";
const std::string steps = "power_mw = [5, 25, 200, 600]\n" + channels;

v1::FreeReply free_of(const v1::DayState& state, const std::string& who,
                      std::optional<std::uint32_t> group = {}) {
    v1::FreeQuery query;
    query.set_transmitter(who);
    if (group) query.set_group(*group);
    Memory memory;
    return free_channels(state, query, memory).value();
}

bool is_offered(const v1::FreeReply& reply, const std::string& name) {
    return std::ranges::any_of(reply.free(),
                               [&](const auto& one) { return one.channel().name() == name; });
}

std::string flier(const std::string& name, const std::string& place, const std::string& on_channel,
                  const std::string& stage = "", const std::string& power_mw = "25") {
    return text_of(PilotText{.name = name,
                             .place = place,
                             .channel = on_channel,
                             .power_mw = power_mw,
                             .stage = stage,
                             .more_video = steps});
}

/// Whether somebody gets both, a claim and a yes; of themself without being asked back.
bool gets(Course course, const std::string& who, const v1::Channel& on_channel,
          std::optional<double> power_dbm) {
    auto asked = claims(who, on_channel, 0);
    asked.mutable_claim()->clear_power_dbm();
    if (power_dbm) asked.mutable_claim()->set_power_dbm(*power_dbm);
    if (!course.send(asked).claim().claimed()) return false;
    return course.send(on(who)).switched().answer() == v1::SwitchReply::switch_on;
}

TEST(FreeChannels, AreNotThoseOfWhoIsInTheAirCalledOrToldToSwitchOn) {
    Course course(field_text() + flier("Ann", "line-1", "R3") +
                  flier("Ben", "line-2", "R1", "on_air = true") + flier("Cyd", "line-3", "R7"));
    EXPECT_FALSE(is_offered(free_of(course.state(), "Ann"), "R1")) << "Ben flies there";
    EXPECT_FALSE(is_offered(free_of(course.state(), "Ann"), "R7")) << "Cyd holds it";
    EXPECT_TRUE(is_offered(free_of(course.state(), "Ann", 2), "R7") ||
                free_of(course.state(), "Ann", 2).free_size() == free_channels_max);
    auto told = on("Cyd");
    told.mutable_on()->set_in_steps(true);
    ASSERT_EQ(course.send(told).switched().answer(), v1::SwitchReply::switch_on);
    for (const std::uint32_t group : {0U, 2U})
        EXPECT_FALSE(is_offered(free_of(course.state(), "Ann", group), "R7"))
            << "Cyd was told to switch on";
}

TEST(FreeChannels, AreNotThoseOfWhoIsCalled) {
    Course course(field_text() + flier("Ann", "line-1", "R3") +
                  flier("Ben", "line-2", "R7", "on_air = true\ngroup = 1") +
                  flier("Cyd", "line-3", "R7", "group = 2"));
    auto waits = on("Cyd");
    waits.mutable_on()->set_when_free(true);
    ASSERT_EQ(course.send(waits).switched().answer(), v1::SwitchReply::in_line);
    course.send(testing::says_off("Ben"));
    ASSERT_NE(course.state().line(0).called_ms(), 0);
    EXPECT_FALSE(is_offered(free_of(course.state(), "Ann", 3), "R7"));
}

TEST(FreeChannels, SayHowWhatIsHeldStandsAndAtWhichPowerItWouldDo) {
    Course course(field_text() + flier("Ann", "line-1", "R3", "", "600") +
                  flier("Ben", "line-2", "F2", "on_air = true"));
    auto reply = free_of(course.state(), "Ann");
    EXPECT_EQ(reply.held_now().channel().name(), "R3");
    EXPECT_NEAR(reply.held_now().power_dbm(), 27.782, 0.001);
    ASSERT_NE(course.send(on("Ann")).switched().answer(), v1::SwitchReply::switch_on)
        << "600 mW beside Ben's 25";
    ASSERT_TRUE(reply.has_held_lower());
    EXPECT_EQ(reply.held_lower().channel().name(), "R3");
    EXPECT_LT(reply.held_lower().power_dbm(), reply.held_now().power_dbm());
    EXPECT_FALSE(is_offered(reply, "R3")) << "what is held is no other";

    // Ben flies on it himself: no power will do.
    Course same(field_text() + flier("Ann", "line-1", "R3", "", "600") +
                flier("Ben", "line-2", "R3", "on_air = true"));
    reply = free_of(same.state(), "Ann");
    EXPECT_TRUE(reply.has_held_now());
    EXPECT_FALSE(reply.has_held_lower());
}

TEST(FreeChannels, OfOneWhoHoldsNothingSayNothingOfIt) {
    Course course(field_text() +
                  unclaimed(PilotText{.name = "Ann", .place = "line-1", .more_video = steps}) +
                  flier("Ben", "line-2", "R3", "on_air = true"));
    const auto reply = free_of(course.state(), "Ann");
    EXPECT_FALSE(reply.has_held_now());
    EXPECT_FALSE(reply.has_held_lower());
    EXPECT_EQ(reply.free_size(), free_channels_max);
    for (const auto& one : reply.free()) EXPECT_TRUE(one.clean()) << "there is no rule set";
}

TEST(FreeChannels, AreWithinTheClubsLimitAndSoIsALowerStep) {
    const auto limited =
        changed(field_text(), "date = 2026-06-12", "date = 2026-06-12\npower_limit_mw = 25");
    Course course(limited + flier("Ann", "line-1", "R3", "", "200") +
                  flier("Ben", "line-2", "R7", "on_air = true"));
    const auto reply = free_of(course.state(), "Ann");
    ASSERT_FALSE(reply.free().empty());
    for (const auto& one : reply.free()) EXPECT_LE(one.power_dbm(), 13.98);
    ASSERT_TRUE(reply.has_held_lower()) << "200 mW gets no yes";
    EXPECT_NEAR(reply.held_lower().power_dbm(), 13.979, 0.001);
}

TEST(FreeChannels, OfARelayAreForItToo) {
    Course course(
        field_text() + flier("Ann", "line-1", "R8", "on_air = true") +
        unclaimed(PilotText{.name = "Dee", .place = "chair"}) +
        changed(text_of(RelayText{.name = "mast", .owner = "Dee", .channel = "R8", .more = steps}),
                "on_air = true", ""));
    const auto reply = free_of(course.state(), "mast");
    EXPECT_EQ(reply.transmitter(), "mast");
    EXPECT_FALSE(reply.free().empty());
    EXPECT_FALSE(is_offered(reply, "R8"));
}

TEST(FreeChannels, OfNobodyAreRefused) {
    Course course(field_text() + flier("Ann", "line-1", "R3"));
    v1::FreeQuery query;
    query.set_transmitter("Zoe");
    Memory memory;
    EXPECT_FALSE(free_channels(course.state(), query, memory));
}

Course random_day(std::mt19937_64& rng) {
    const char* const places[] = {"line-1", "line-2", "line-3", "line-4", "tripod", "pits"};
    const char* const names[] = {"Ann", "Ben", "Cyd", "Dora", "Eve", "Fay"};
    const auto many = whole(rng, 2, 6);
    std::string text = field_text();
    for (int i = 0; i < many; ++i) {
        std::string stage = one_of<std::string>(rng, {"", "on_air = true", "on_bench = true"});
        if (i == 0) stage = "";
        if (chance(rng, 50)) stage += "\ngroup = " + std::to_string(whole(rng, 1, 2));
        text += flier(
            names[i], places[i],
            one_of<std::string>(rng, {"R", "F", "E"}) + std::to_string(whole(rng, 1, 8)), stage,
            i == 0 && chance(rng, 60) ? "600"
                                      : one_of<std::string>(rng, {"5", "25", "200", "600"}));
    }
    return Course(text);
}

// Asking for it is the other way to find out.
TEST(FreeChannelsProperty, WhatIsOfferedCanBeHadAndWhatCanBeHadIsOffered) {
    for_all(8, [](std::mt19937_64& rng) {
        const auto course = random_day(rng);
        const auto reply = free_of(course.state(), "Ann");
        for (const auto& one : reply.free())
            EXPECT_TRUE(gets(course, "Ann", one.channel(), one.power_dbm()))
                << one.channel().name() << " at " << one.power_dbm();
        EXPECT_FALSE(is_offered(reply, reply.held_now().channel().name()));
        // Those without a remark first, then by the worst margin that anybody is left with.
        const auto merit = [](const v1::Alternative& one) {
            return std::pair(one.clean(),
                             std::min(one.margin_worst_db(),
                                      one.has_least_other_db() ? one.least_other_db() : 1000));
        };
        for (int i = 1; i < reply.free_size(); ++i)
            EXPECT_GE(merit(reply.free(i - 1)), merit(reply.free(i)));
        if (reply.free_size() == free_channels_max) return;
        const auto ann = *holder(course.state().sheet(), "Ann");
        for (const auto& other : channels_of(ann, course.state().sheet())) {
            if (other.mhz() == ann.claim->channel().mhz()) continue;
            EXPECT_EQ(gets(course, "Ann", other, std::nullopt), is_offered(reply, other.name()))
                << other.name();
        }
    });
}

/// Ann is loud, and somebody is near her channel.
Course loud_day(std::mt19937_64& rng) {
    return Course(field_text() + flier("Ann", "line-1", "R3", "", "600") +
                  flier("Ben", one_of<std::string>(rng, {"line-2", "line-4", "pits"}),
                        one_of<std::string>(rng, {"F2", "E1", "F1", "R4", "R3"}), "on_air = true",
                        one_of<std::string>(rng, {"5", "25", "200"})) +
                  flier("Cyd", "line-3", "R7",
                        one_of<std::string>(rng, {"on_air = true", "", "on_bench = true"})));
}

TEST(FreeChannelsProperty, TheLowerStepIsTheHighestThatGetsAYes) {
    int found = 0, with_a_choice = 0;
    for_all(30, [&](std::mt19937_64& rng) {
        const auto course = loud_day(rng);
        const auto reply = free_of(course.state(), "Ann");
        const auto ann = *holder(course.state().sheet(), "Ann");
        const auto says_yes = [&](double power_dbm) {
            auto sheet = course.state().sheet();
            claim_of(sheet, ann.id).set_power_dbm(power_dbm);
            return Course(sheet).send(on("Ann")).switched().answer() == v1::SwitchReply::switch_on;
        };
        const bool is_yes = says_yes(ann.claim->power_dbm());
        std::optional<double> best;
        for (const double step : powers_of(*ann.gear))
            if (step < ann.claim->power_dbm() - 0.1 && says_yes(step)) {
                with_a_choice += best && !is_yes ? 1 : 0;
                best = step;
            }
        EXPECT_EQ(reply.has_held_lower(), !is_yes && best.has_value());
        if (!reply.has_held_lower()) return;
        ++found;
        EXPECT_NEAR(reply.held_lower().power_dbm(), *best, 0.001);
    });
    EXPECT_GT(found, 1) << "the days are too easy";
    EXPECT_GT(with_a_choice, 0) << "the days are too hard";
}

}  // namespace
}  // namespace fieldpeg::day
