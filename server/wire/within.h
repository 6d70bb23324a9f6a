#pragma once

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <chrono>
#include <exception>

namespace fieldpeg::wire {

namespace asio = boost::asio;

/// Errors as values: what is awaited gives a tuple that begins with an error code.
inline constexpr auto quietly = asio::as_tuple(asio::use_awaitable);

/// Awaits an operation, but no longer than a limit: then it is cancelled. True: it ended by itself.
/// What it throws is thrown on, at once.
asio::awaitable<bool> within(std::chrono::steady_clock::duration limit,
                             asio::awaitable<void> operation);

/// Awaits two together. The first to end ends the other, whether it ends by itself or by an
/// exception, which is thrown on: an operand of || that throws would have the other waited for.
asio::awaitable<void> first_to_end(asio::awaitable<void> one, asio::awaitable<void> other);

asio::awaitable<void> pause(std::chrono::steady_clock::duration time);

/// Whether a coroutine ended because it was cancelled: cancelled between two things that it awaits,
/// it gets an exception from the second.
bool was_cancelled(const std::exception_ptr& failure);

}  // namespace fieldpeg::wire
