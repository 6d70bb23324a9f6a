#pragma once

#include "server/board/byte_stream.h"
#include "server/board/visit.h"

#include <boost/asio/awaitable.hpp>

#include <functional>
#include <memory>

namespace fieldpeg::board {

/// Who a connection is from, and its place among all.
struct Visitor {
    asio::ip::address from;
    std::unique_ptr<wire::Places::Place> place = nullptr;
    std::function<void()> leave = nullptr;  ///< while something else than bytes may be waited for
};

/// Turns a connection that has asked for it into a WebSocket, and carries one conversation over it,
/// to its end. Requires that the request may be granted. The key in its cookie counts over TLS
/// only.
asio::awaitable<void> live(ByteStream& stream, Request request, Endpoint& endpoint,
                           Visitor& visitor);

}  // namespace fieldpeg::board
