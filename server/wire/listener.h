#pragma once

#include "server/wire/session.h"

#include <boost/asio/ip/tcp.hpp>

#include <chrono>
#include <cstddef>

namespace fieldpeg::wire {

inline constexpr std::uint16_t port_default = 7323;

struct ListenLimits {
    std::size_t connections = 1000;
    std::chrono::milliseconds grace{3000};  ///< for sessions to say goodbye
};

/// Attends to clients until SIGTERM or SIGINT, then says goodbye to all and returns.
asio::awaitable<void> serve(asio::ip::tcp::acceptor acceptor, House& house, ListenLimits limits);

}  // namespace fieldpeg::wire
