#include "server/wire/listener.h"

#include "server/wire/authority.h"
#include "server/wire/task_group.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/this_coro.hpp>

#include <csignal>
#include <cstdlib>
#include <exception>
#include <utility>

namespace fieldpeg::wire {
namespace {

using namespace asio::experimental::awaitable_operators;
using namespace std::chrono_literals;

asio::awaitable<void> session(asio::ip::tcp::socket socket, Endpoint& endpoint) {
    Session one(std::move(socket), endpoint);
    co_await one.run();
}

/// Of a session that did not end by itself: its own mistake, and its own end.
void tell_of(const std::exception_ptr& failure) {
    try {
        std::rethrow_exception(failure);
    } catch (const std::exception& mistake) {
        spdlog::error("a connection failed: {}", mistake.what());
    }
}

asio::awaitable<void> accept_clients(asio::ip::tcp::acceptor& acceptor, TaskGroup& sessions,
                                     const Attend& attend, std::size_t connections_max) {
    while (true) {
        auto [error, socket] = co_await acceptor.async_accept(quietly);
        if (error == asio::error::operation_aborted) co_return;
        if (error) {  // out of descriptors, most likely: let some sessions end first
            spdlog::warn("a connection was not taken: {}", error.message());
            co_await pause(100ms);
            continue;
        }
        if (sessions.size() >= connections_max) {
            spdlog::warn("a connection was not taken: {} are open", sessions.size());
            continue;  // closes it
        }
        try {
            sessions.spawn(attend(std::move(socket)));
        } catch (const std::exception& mistake) {  // no memory for one more
            spdlog::error("a connection was not taken: {}", mistake.what());
        }
    }
}

}  // namespace

Result<asio::ip::tcp::acceptor> listening(asio::io_context& io, const char* flag,
                                          const asio::ip::tcp::endpoint& at) {
    using asio::ip::tcp;
    boost::system::error_code error;
    tcp::acceptor acceptor(io);
    acceptor.open(at.protocol(), error);
    if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
    if (!error) acceptor.bind(at, error);
    if (!error) acceptor.listen(tcp::acceptor::max_listen_connections, error);
    if (!error) return acceptor;
    return Refusal{
        Refusal::Kind::unavailable, flag,
        fmt::format("{} cannot be listened on: {}", authority(at.address().to_string(), at.port()),
                    error.message()),
        fmt::format("is another server running? {} takes another address or port", flag)};
}

asio::awaitable<void> serve(asio::ip::tcp::acceptor acceptor, Attend attend, ListenLimits limits) {
    const auto executor = co_await asio::this_coro::executor;
    asio::signal_set stop(executor, SIGTERM, SIGINT);
    TaskGroup sessions(executor, tell_of);
    co_await (accept_clients(acceptor, sessions, attend, limits.connections) ||
              stop.async_wait(quietly));
    // Whoever ended it, all are told and waited for.
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    spdlog::info("stopping: {} connections are told", sessions.size());
    acceptor.close();
    sessions.cancel();
    const bool all_ended = co_await within(limits.grace, sessions.join());
    if (!all_ended) {  // our own mistake; what was acknowledged is in the log
        spdlog::critical("{} sessions outstayed the grace", sessions.size());
        std::_Exit(70);
    }
}

Attend sessions(Endpoint& endpoint) {
    return
        [&endpoint](asio::ip::tcp::socket socket) { return session(std::move(socket), endpoint); };
}

}  // namespace fieldpeg::wire
