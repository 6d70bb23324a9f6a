#include "server/day/board.h"
#include "server/day/line.h"
#include "tests/day/course.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

/// Whatever people ask, in whatever order and however long they take: what radiates counts, and
/// nobody waits for ever. How pilots take turns on one channel is common practice, no published
/// source.
namespace fieldpeg::day {
namespace {

using testing::chance;
using testing::Course;
using testing::field_text;
using testing::for_all;
using testing::on;
using testing::PilotText;
using testing::says_off;
using testing::text_of;
using testing::whole;

constexpr int trials = 6;
constexpr int steps_a_trial = 40;
const std::vector<std::string> names{"Ann", "Ben", "Cyd", "Dora", "Eve"};
const Actor marshal{0, v1::Role::marshal};

/// All side by side on one channel, in groups or in none.
Course random_day(std::mt19937_64& rng, bool in_groups) {
    std::string text = field_text();
    const char* const places[] = {"line-1", "line-2", "line-3", "line-4", "pits"};
    for (std::size_t i = 0; i < names.size(); ++i) {
        const auto group = in_groups ? whole(rng, 0, 2) : 0;
        text += text_of(
            PilotText{.name = names[i],
                      .place = places[i],
                      .channel = "R3",
                      .stage = group == 0 ? "" : "group = " + std::to_string(group)});
    }
    return Course(text);
}

v1::Command random_command(std::mt19937_64& rng, bool may_call) {
    const auto& who = names[static_cast<std::size_t>(whole(rng, 0, 4))];
    v1::Command c;
    switch (whole(rng, 0, may_call ? 9 : 6)) {
        case 0:
        case 1:
            c = on(who);
            c.mutable_on()->set_when_free(true);
            return c;
        case 2:
            c = on(who);
            c.mutable_on()->set_in_steps(chance(rng, 50));
            return c;
        case 3:
            c = on(who);
            c.mutable_on()->set_confirm(true);
            return c;
        case 4:
            c = says_off(who);
            c.mutable_off()->set_not_after_all(chance(rng, 30));
            c.mutable_off()->set_undoable(chance(rng, 30));
            return c;
        case 5:
        case 6:
            return says_off(who);
        case 7:
            c = on(who);
            c.mutable_on()->set_already(true);
            return c;
        case 8:
            c = says_off(who);
            c.mutable_off()->set_down(true);
            return c;
        default:
            c.mutable_call_group()->set_group(static_cast<std::uint32_t>(whole(rng, 0, 2)));
            return c;
    }
}

bool is_yes(Course course, const std::string& who) {
    return course.send(on(who), marshal).switched().answer() == v1::SwitchReply::switch_on;
}

// Whatever its group, its stage and whoever's turn it is: beside it nobody is let on its channel.
TEST(TurnsProperty, WhatRadiatesKeepsItsChannelFromEverybodyElse) {
    for_all(trials, [](std::mt19937_64& rng) {
        auto course = random_day(rng, true);
        for (int i = 0; i < steps_a_trial; ++i) {
            course.send(random_command(rng, true), marshal);
            if (chance(rng, 30)) course.pass(whole(rng, 0, 90'000));
            const auto there = board(course.state());
            for (const auto& row : there.rows()) {
                if (!radiates(row.stage())) continue;
                for (const auto& other : names) {
                    auto asks = on(other);
                    asks.mutable_on()->set_out_of_turn(true);
                    Course same = course;
                    if (other == row.transmitter()) continue;
                    EXPECT_NE(same.send(asks, marshal).switched().answer(),
                                  v1::SwitchReply::switch_on)
                            << other << " beside " << row.transmitter();
                }
            }
        }
    });
}

TEST(TurnsProperty, WhoeverInTheLineCouldGoIsCalled) {
    for_all(trials, [](std::mt19937_64& rng) {
        auto course = random_day(rng, false);
        for (int i = 0; i < steps_a_trial; ++i) {
            course.send(random_command(rng, false), marshal);
            if (chance(rng, 30)) course.pass(whole(rng, 0, 90'000));
            const auto& state = course.state();
            const bool may_be_taken_back = course.now_ms() + 1000 < state.calls_after_ms();
            for (const auto& one : state.line())
                if (one.called_ms() == 0 && !may_be_taken_back) {
                    EXPECT_FALSE(is_yes(course, holder(state.sheet(), one.subject())->name));
                }
        }
    });
}

// One waits; others come and go before it, as fast as they can be, whenever a tap may still be taken
// back.
TEST(TurnsProperty, NobodyWhoCouldFlyIsPassedOverMoreThanThreeTimes) {
    std::uint32_t most = 0;
    for_all(trials, [&](std::mt19937_64& rng) {
        auto course = random_day(rng, false);
        course.send(on("Eve"), marshal);
        auto waits = on("Ann");
        waits.mutable_on()->set_when_free(true);
        course.send(waits, marshal);
        std::string flies = "Eve";
        for (int i = 0; i < steps_a_trial && place_in_line(course.state(), 1) != 0; ++i) {
            auto off = says_off(flies);
            off.mutable_off()->set_undoable(chance(rng, 80));
            course.send(off, marshal);
            flies = names[static_cast<std::size_t>(whole(rng, 1, 4))];
            course.send(on(flies), marshal);
            if (chance(rng, 20)) course.send(on("Ann"), marshal);
            for (const auto& one : course.state().line()) most = std::max(most, one.passed_over());
        }
    });
    EXPECT_EQ(most, passed_over_max);
}

}  // namespace
}  // namespace fieldpeg::day
