#include "server/board/pace.h"

#include <gtest/gtest.h>

namespace fieldpeg::board {
namespace {

using namespace std::chrono_literals;

const Pace::Time start{1h};

TEST(Pace, SoManyAreTakenAtOnce) {
    Pace pace;
    for (int i = 0; i < static_cast<int>(Pace::at_once); ++i)
        EXPECT_EQ(pace.taken(start), Pace::Wait::zero());
    EXPECT_GT(pace.taken(start), Pace::Wait::zero());
}

// A token bucket lets through its size and its rate times the time, whatever the order
// [arithmetic].
TEST(Pace, ThenSoManyASecond) {
    Pace pace;
    auto now = start;
    int taken = 0;
    while (now < start + 10s) {
        now += pace.taken(now);
        ++taken;
    }
    EXPECT_NEAR(taken, Pace::at_once + 10 * Pace::per_second, 1.5);
}

TEST(Pace, WhoeverWaitsMayBeQuickAgain) {
    Pace pace;
    for (int i = 0; i < 60; ++i) pace.taken(start);
    for (int i = 0; i < static_cast<int>(Pace::at_once); ++i)
        EXPECT_EQ(pace.taken(start + 10min), Pace::Wait::zero());
}

}  // namespace
}  // namespace fieldpeg::board
