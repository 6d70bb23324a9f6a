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

namespace {

/// Ends by itself, whatever the work does.
asio::awaitable<void> caught(asio::awaitable<void> work, std::exception_ptr& failure) {
    try {
        co_await std::move(work);
    } catch (...) {
        failure = std::current_exception();
    }
}

/// Being cancelled is no failure: whoever cancelled knows of it.
void throw_on(const std::exception_ptr& failure) {
    if (failure && !was_cancelled(failure)) std::rethrow_exception(failure);
}

}  // namespace

asio::awaitable<bool> within(std::chrono::steady_clock::duration limit,
                             asio::awaitable<void> operation) {
    asio::steady_timer timer(co_await asio::this_coro::executor, limit);
    std::exception_ptr failure;
    const auto first =
        co_await (caught(std::move(operation), failure) || timer.async_wait(quietly));
    throw_on(failure);
    co_return first.index() == 0 && !failure;
}

asio::awaitable<void> first_to_end(asio::awaitable<void> one, asio::awaitable<void> other) {
    std::exception_ptr failure_of_one;
    std::exception_ptr failure_of_other;
    co_await (caught(std::move(one), failure_of_one) || caught(std::move(other), failure_of_other));
    throw_on(failure_of_one);
    throw_on(failure_of_other);
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
