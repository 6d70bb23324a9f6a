#pragma once

#include "server/wire/within.h"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/steady_timer.hpp>

#include <chrono>

namespace fieldpeg::wire {

/// Pauses of one who serves a connection, cut short when that ends.
class Rest {
public:
    explicit Rest(const asio::any_io_executor& executor) : timer_(executor) {}

    asio::awaitable<void> take(std::chrono::steady_clock::duration time) {
        if (time == std::chrono::steady_clock::duration::zero()) co_return;
        timer_.expires_after(time);
        co_await timer_.async_wait(quietly);
    }
    void end() { timer_.cancel(); }

private:
    asio::steady_timer timer_;
};

}  // namespace fieldpeg::wire
