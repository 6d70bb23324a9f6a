#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <cstddef>
#include <exception>
#include <functional>
#include <list>
#include <utility>

namespace fieldpeg::wire {

namespace asio = boost::asio;

/// Coroutines that are started one by one, and stopped and waited for together.
class TaskGroup {
public:
    using OnFailure = std::function<void(std::exception_ptr)>;

    TaskGroup(asio::any_io_executor executor, OnFailure on_failure)
        : executor_(std::move(executor)),
          last_left_(executor_, asio::steady_timer::time_point::max()),
          on_failure_(std::move(on_failure)) {}

    TaskGroup(const TaskGroup&) = delete;
    TaskGroup& operator=(const TaskGroup&) = delete;

    void spawn(asio::awaitable<void> task) {
        const auto signal = signals_.emplace(signals_.end());
        auto leave = [this, signal](std::exception_ptr failure) {
            signals_.erase(signal);
            if (failure) on_failure_(failure);
            if (signals_.empty()) last_left_.cancel();
        };
        asio::co_spawn(executor_, std::move(task),
                       asio::bind_cancellation_slot(signal->slot(), std::move(leave)));
    }

    /// Asks every task to stop. Returns at once.
    void cancel() {
        for (auto& signal : signals_) signal.emit(asio::cancellation_type::terminal);
    }

    /// Completes when the last task has ended.
    asio::awaitable<void> join() {
        while (!signals_.empty()) {
            co_await last_left_.async_wait(asio::as_tuple(asio::use_awaitable));
        }
    }

    std::size_t size() const { return signals_.size(); }

private:
    asio::any_io_executor executor_;
    asio::steady_timer last_left_;
    OnFailure on_failure_;
    std::list<asio::cancellation_signal> signals_;
};

}  // namespace fieldpeg::wire
