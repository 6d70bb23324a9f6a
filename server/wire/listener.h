#pragma once

#include "server/refusal/refusal.h"
#include "server/wire/session.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <chrono>
#include <cstddef>
#include <functional>

namespace fieldpeg::wire {

inline constexpr std::uint16_t port_default = 7323;

struct ListenLimits {
    /// More than there are places (Places): some are about to leave theirs.
    std::size_t connections = 1400;
    std::chrono::milliseconds grace{3000};  ///< for sessions to say goodbye
};

/// Listens at an address. `flag` says where it was written.
Result<asio::ip::tcp::acceptor> listening(asio::io_context& io, const char* flag,
                                          const asio::ip::tcp::endpoint& at);

/// Attends to one client, from its first byte to its end.
using Attend = std::function<asio::awaitable<void>(asio::ip::tcp::socket)>;

/// Attends to clients until SIGTERM or SIGINT, then cancels all, so that they are told, and
/// returns.
asio::awaitable<void> serve(asio::ip::tcp::acceptor acceptor, Attend attend, ListenLimits limits);

/// A client of the wire's own protocol.
Attend sessions(Endpoint& endpoint);

}  // namespace fieldpeg::wire
