#include "server/wire/within.h"

#include <gtest/gtest.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>

#include <chrono>
#include <exception>
#include <stdexcept>
#include <string>

namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;
using Clock = std::chrono::steady_clock;

/// What a coroutine ended with, and after how long.
struct Ended {
    std::string failure;  ///< empty: by itself
    Clock::duration after{};
};

Ended run(asio::awaitable<void> work, asio::io_context& io) {
    Ended ended;
    const auto begun = Clock::now();
    asio::co_spawn(io, std::move(work), [&](std::exception_ptr failure) {
        ended.after = Clock::now() - begun;
        try {
            if (failure) std::rethrow_exception(failure);
        } catch (const std::exception& error) {
            ended.failure = error.what();
        }
    });
    io.run();
    return ended;
}

asio::awaitable<void> fails(std::string with) {
    co_await pause(1ms);
    throw std::runtime_error(with);
}

asio::awaitable<void> ends_after(Clock::duration time, bool& was_ended) {
    co_await pause(time);
    const auto state = co_await asio::this_coro::cancellation_state;
    was_ended = state.cancelled() != asio::cancellation_type::none;
}

asio::awaitable<void> within_a_limit(Clock::duration limit, asio::awaitable<void> work,
                                     bool& in_time) {
    in_time = co_await within(limit, std::move(work));
}

TEST(Within, TellsOfAFailureAtOnce) {
    asio::io_context io;
    bool in_time = false;
    const auto ended = run(within_a_limit(1min, fails("mistake"), in_time), io);
    EXPECT_EQ(ended.failure, "mistake");
    EXPECT_LT(ended.after, 10s);
}

TEST(Within, EndsWhatTakesTooLong) {
    asio::io_context io;
    bool was_ended = false;
    bool in_time = true;
    const auto ended = run(within_a_limit(5ms, ends_after(1min, was_ended), in_time), io);
    EXPECT_EQ(ended.failure, "");
    EXPECT_TRUE(was_ended);
    EXPECT_FALSE(in_time);
}

TEST(FirstToEnd, EndsTheOther) {
    asio::io_context io;
    bool was_ended = false;
    bool by_itself = true;
    const auto ended =
        run(first_to_end(ends_after(1min, was_ended), ends_after(1ms, by_itself)), io);
    EXPECT_EQ(ended.failure, "");
    EXPECT_TRUE(was_ended);
    EXPECT_FALSE(by_itself);
    EXPECT_LT(ended.after, 10s);
}

TEST(FirstToEnd, EndsTheOtherWhenItFails) {
    for (const bool first_fails : {true, false}) {
        asio::io_context io;
        bool was_ended = false;
        auto other = ends_after(1min, was_ended);
        const auto ended = run(first_fails ? first_to_end(fails("mistake"), std::move(other))
                                           : first_to_end(std::move(other), fails("mistake")),
                               io);
        EXPECT_EQ(ended.failure, "mistake");
        EXPECT_TRUE(was_ended);
        EXPECT_LT(ended.after, 10s);
    }
}

}  // namespace
}  // namespace fieldpeg::wire
