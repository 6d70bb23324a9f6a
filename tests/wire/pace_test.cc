#include "server/wire/pace.h"

#include <gtest/gtest.h>

namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;

const Pace::Time at_the_start{1h};
constexpr Rate rate{40, 10, 100};

TEST(Pace, SoManyAreTakenAtOnce) {
    Pace pace(rate);
    for (int i = 0; i < 40; ++i) EXPECT_EQ(pace.taken(at_the_start, 1), Pace::Wait::zero());
    EXPECT_GT(pace.taken(at_the_start, 1), Pace::Wait::zero());
}

// A token bucket lets through its size and its rate times the time, whatever the order
// [arithmetic].
TEST(Pace, ThenSoManyASecond) {
    Pace pace(rate);
    auto now = at_the_start;
    int taken = 0;
    while (now < at_the_start + 10s) {
        now += pace.taken(now, 1);
        ++taken;
    }
    EXPECT_NEAR(taken, 40 + 10 * 10, 1.5);
}

TEST(Pace, WhatWeighsMoreIsTakenAsManyTimesLess) {
    Pace pace(rate);
    auto now = at_the_start;
    int taken = 0;
    while (now < at_the_start + 10s) {
        now += pace.taken(now, 4);
        ++taken;
    }
    EXPECT_NEAR(taken, (40 + 10 * 10) / 4.0, 1.5);
}

TEST(Pace, WhoeverWaitsMayBeQuickAgain) {
    Pace pace(rate);
    for (int i = 0; i < 60; ++i) pace.taken(at_the_start, 1);
    EXPECT_FALSE(pace.is_rested(at_the_start));
    EXPECT_TRUE(pace.is_rested(at_the_start + 10min));
    for (int i = 0; i < 40; ++i) EXPECT_EQ(pace.taken(at_the_start + 10min, 1), Pace::Wait::zero());
}

// Who stands behind a thousand waits no longer than what is owed at most takes: 100 at 10 a second.
TEST(Pace, NobodyWaitsLongerThanWhatIsOwedAtMost) {
    Pace pace(rate);
    for (int i = 0; i < 1000; ++i) EXPECT_LE(pace.taken(at_the_start, 1), 10s);
    EXPECT_EQ(pace.taken(at_the_start, 1), 10s);
}

TEST(Pace, WhatIsNotTakenDoesNotCount) {
    Pace pace({2, 1});
    EXPECT_TRUE(pace.takes(at_the_start, 1));
    EXPECT_TRUE(pace.takes(at_the_start, 1));
    for (int i = 0; i < 100; ++i) EXPECT_FALSE(pace.takes(at_the_start, 1));
    EXPECT_FALSE(pace.takes(at_the_start + 999ms, 1));
    EXPECT_TRUE(pace.takes(at_the_start + 1s, 1));
}

TEST(Pace, AClockThatStandsStillGivesNothing) {
    Pace pace({1, 1000});
    EXPECT_TRUE(pace.takes(at_the_start, 1));
    EXPECT_FALSE(pace.takes(at_the_start, 1));
    EXPECT_FALSE(pace.takes(at_the_start - 1h, 1)) << "nor one that goes back";
}

}  // namespace
}  // namespace fieldpeg::wire
