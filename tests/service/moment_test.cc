#include "server/service/keeper.h"
#include "tests/support/kept_day.h"

#include <gtest/gtest.h>

#include <string>

/// A moment of the past by its time, where the server's clock was set back on the way.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::KeptDay;
using testing::release;

constexpr std::int64_t minute_ms = 60'000;

class MomentsAfterAJump : public ::testing::Test {
protected:
    MomentsAfterAJump() : begun_ms_(day_.now_ms()) {
        at(10, claim("Ann", "R3"));
        first_ = day_.keeper().state().version();
        at(30, release("Ann", "lunch"));
        at(5, claim("Bob", "R7"));  // half an hour back, less what was done since
        second_ = day_.keeper().state().version();
        at(40, release("Bob", "enough"));
    }

    void at(std::int64_t minutes, const v1::Command& command) {
        day_.set_now_ms(begun_ms_ + minutes * minute_ms);
        ASSERT_FALSE(day_.take(command).has_refusal());
    }

    v1::Answer board_at(std::int64_t minutes) {
        v1::Query query = testing::board();
        query.mutable_moment()->set_at_ms(begun_ms_ + minutes * minute_ms);
        return day_.keeper().answer(query, day_.now_ms());
    }

    KeptDay day_;
    std::int64_t begun_ms_;
    std::uint64_t first_ = 0, second_ = 0;
};

TEST_F(MomentsAfterAJump, ThatComeTwiceAskForTheEntry) {
    for (const auto minutes : {12, 20, 29}) {
        const auto refusal = board_at(minutes).refusal();
        EXPECT_NE(refusal.why().find("comes 2 times"), std::string::npos) << refusal.why();
        EXPECT_NE(refusal.next().find('#' + std::to_string(first_) + ' '), std::string::npos)
            << refusal.next();
        EXPECT_NE(refusal.next().find('#' + std::to_string(second_) + ' '), std::string::npos)
            << refusal.next();
    }
}

TEST_F(MomentsAfterAJump, ThatComeOnceAreAnswered) {
    EXPECT_EQ(board_at(2).board().version(), 1U);
    EXPECT_GT(board_at(35).board().version(), first_);
    EXPECT_EQ(board_at(35).board().version(), second_);
    EXPECT_EQ(board_at(50).board().version(), day_.keeper().state().version());
    EXPECT_TRUE(board_at(-1).has_refusal()) << "before the log began";
    v1::Query query = testing::board();
    query.mutable_moment()->set_version(first_);
    EXPECT_EQ(day_.keeper().answer(query, day_.now_ms()).board().version(), first_);
}

// A clock that is a second behind its own last entry is none that was set back.
TEST_F(MomentsAfterAJump, ByASecondAreNone) {
    at(50, claim("Ann", "R3"));
    const auto version = day_.keeper().state().version();
    day_.set_now_ms(begun_ms_ + 50 * minute_ms - 1000);
    EXPECT_FALSE(day_.take(release("Ann", "again")).has_refusal());
    ASSERT_EQ(day_.keeper().state().version(), version + 1);
    EXPECT_EQ(board_at(50).board().version(), version - 1);
}

}  // namespace
}  // namespace fieldpeg::service
