#pragma once

#include "server/board/byte_stream.h"
#include "server/board/visit.h"

#include <boost/asio/awaitable.hpp>

namespace fieldpeg::board {

/// Turns a connection that has asked for it into a WebSocket, and carries one conversation over it,
/// to its end. Requires that the request may be granted. The key in its cookie counts over TLS
/// only.
asio::awaitable<void> live(ByteStream& stream, Request request, Endpoint& endpoint);

}  // namespace fieldpeg::board
