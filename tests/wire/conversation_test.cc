#include "server/wire/conversation.h"

#include "tests/support/kept_day.h"
#include "tests/support/rates.h"

#include <gtest/gtest.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include <algorithm>
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

/// What is said with one client, without a connection: bytes come and go when the test says so.
namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;
using testing::KeptDay;

v1::ClientFrame board() {
    v1::ClientFrame m;
    m.mutable_request()->mutable_query()->mutable_board();
    return m;
}

/// The whole library: long.
v1::ClientFrame gear() {
    v1::ClientFrame m;
    m.mutable_request()->mutable_query()->mutable_gear();
    return m;
}

v1::ClientFrame ping() {
    v1::ClientFrame m;
    m.set_ping(true);
    return m;
}

class Talk : public ::testing::Test {
protected:
    explicit Talk(const std::string& day = testing::club_day()) : day_(day) {
        day_.enter(day_.ticket(v1::Role::onlooker), "Olly", 'o');
        conversation_.let_in(*day_.keeper().person_of(KeptDay::key_of('o')),
                             service::Keeper::hash_of(KeptDay::key_of('o')));
    }

    /// Asks again and again, as fast as it is taken.
    asio::awaitable<void> flood(v1::ClientFrame m, int most) {
        for (int i = 0; i < most; ++i) {
            auto one = m;
            if (one.has_request()) one.mutable_request()->set_id(static_cast<std::uint64_t>(i));
            const bool goes_on = co_await conversation_.take(std::move(one));
            if (!goes_on) co_return;
            ++taken_;
        }
    }

    asio::awaitable<void> read_one() {
        auto frame = co_await conversation_.next();
        if (frame) read_.push_back(std::move(frame));
    }

    void begin_flood(const v1::ClientFrame& m, int most) {
        asio::co_spawn(io_, flood(m, most), asio::detached);
        io_.restart();
        io_.poll();
    }

    /// Takes one frame; the one before has arrived then.
    void read() {
        asio::co_spawn(io_, read_one(), asio::detached);
        io_.restart();
        io_.poll();
    }

    v1::ServerFrame said(std::size_t i) const {
        v1::ServerFrame m;
        EXPECT_TRUE(m.ParseFromString(read_[i]->substr(length_bytes)));
        return m;
    }

    KeptDay day_;
    asio::io_context io_;
    service::Desk desk_{io_.get_executor(), day_.keeper(), [this] { return day_.now_ms(); }};
    Form form_{[this](const v1::ServerFrame& m) {
        ++written_;
        if (m.response().has_answer()) ++answered_;
        return frame(m);
    }};
    int written_ = 0;
    int answered_ = 0;
    Gate gate_{testing::unhurried};
    Conversation conversation_{io_.get_executor(), desk_, form_, gate_, {}, 4};
    int taken_ = 0;
    std::vector<Frame> read_;
};

TEST_F(Talk, TakesNoMoreThanItMayOwe) {
    begin_flood(board(), 10'000);
    EXPECT_EQ(taken_, static_cast<int>(answers_owed_max));
    EXPECT_EQ(written_, static_cast<int>(answers_owed_max)) << "the next is not even answered";
}

TEST_F(Talk, OwesNoMoreBytesThanItMayAndOneAnswer) {
    begin_flood(gear(), 10'000);
    std::size_t owed = 0;
    std::size_t longest = 0;
    const auto taken = taken_;
    for (int i = 0; i < taken; ++i) {
        read();
        owed += read_.back()->size();
        longest = std::max(longest, read_.back()->size());
    }
    EXPECT_GT(longest, 10'000U) << "else the number of answers is the bound";
    EXPECT_LT(owed, answer_bytes_owed_max + longest + longest);
}

TEST_F(Talk, GoesOnInOrderAsItsAnswersAreRead) {
    constexpr int all = 100;
    begin_flood(board(), all);
    for (int i = 0; i < all; ++i) {
        EXPECT_LE(taken_, i + static_cast<int>(answers_owed_max));
        read();
        ASSERT_EQ(read_.size(), static_cast<std::size_t>(i) + 1);
        EXPECT_EQ(said(static_cast<std::size_t>(i)).response().id(), static_cast<std::uint64_t>(i));
    }
    EXPECT_EQ(taken_, all);
}

TEST_F(Talk, LimitsPingsToo) {
    begin_flood(ping(), 1'000);
    EXPECT_EQ(taken_, static_cast<int>(answers_owed_max));
}

// Its key is withdrawn while it waits for room: what it asked then is not answered any more.
TEST_F(Talk, EndsWithWhoIsWelcomeNoLonger) {
    begin_flood(board(), 100);
    const auto written = written_;
    day_.take(testing::withdraw_key("Olly"));
    read();
    read();
    EXPECT_EQ(taken_, static_cast<int>(answers_owed_max));
    EXPECT_EQ(written_, written);
}

class LongTalk : public Talk {
protected:
    LongTalk() : Talk(testing::crowded_day()) {}

    template <class Holds>
    void run_until(Holds holds) {
        const auto most = std::chrono::steady_clock::now() + 60s;
        while (!holds() && std::chrono::steady_clock::now() < most) {
            io_.restart();
            io_.run_one_for(100ms);
        }
        ASSERT_TRUE(holds());
    }
};

// A plan's progress is told every quarter of a second, for minutes.
TEST_F(LongTalk, OwesTheLastWordOfAProgressAlone) {
    v1::ClientFrame m;
    m.mutable_request()->mutable_query()->mutable_plan()->mutable_planned()->set_seconds(120);
    begin_flood(m, 1);
    run_until([&] { return written_ >= 4; });
    read();
    ASSERT_EQ(read_.size(), 1U);
    EXPECT_TRUE(said(0).response().has_progress());
    v1::ClientFrame enough;
    enough.set_enough(0);
    begin_flood(enough, 1);
    run_until([&] { return answered_ > 0; });
    read();
    ASSERT_EQ(read_.size(), 2U);
    EXPECT_TRUE(said(1).response().has_answer()) << "the words before it are not told any more";
}

}  // namespace
}  // namespace fieldpeg::wire
