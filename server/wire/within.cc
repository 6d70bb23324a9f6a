#include "server/wire/within.h"

#include <boost/asio/error.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/multiple_exceptions.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>

#include <exception>
#include <utility>

namespace fieldpeg::wire {

using namespace asio::experimental::awaitable_operators;

asio::awaitable<bool> within(std::chrono::steady_clock::duration limit,
                             asio::awaitable<void> operation) {
    asio::steady_timer timer(co_await asio::this_coro::executor, limit);
    const auto first = co_await (std::move(operation) || timer.async_wait(quietly));
    co_return first.index() == 0;
}

asio::awaitable<void> pause(std::chrono::steady_clock::duration time) {
    asio::steady_timer timer(co_await asio::this_coro::executor, time);
    co_await timer.async_wait(quietly);
}

// NOLINTNEXTLINE(misc-no-recursion): one deep
bool was_cancelled(const std::exception_ptr& failure) {
    try {
        std::rethrow_exception(failure);
    } catch (const asio::multiple_exceptions& both) {
        return was_cancelled(both.first_exception());
    } catch (const boost::system::system_error& error) {
        return error.code() == asio::error::operation_aborted;
    } catch (...) {
        return false;
    }
}

}  // namespace fieldpeg::wire
