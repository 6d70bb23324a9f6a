#pragma once

#include "server/board/door.h"
#include "server/board/pages.h"
#include "server/service/desk.h"
#include "server/wire/conversation.h"
#include "server/wire/gate.h"
#include "server/wire/places.h"

#include "fieldpeg/v1/json.h"

#include <boost/asio/awaitable.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>

#include <chrono>
#include <cstddef>

namespace fieldpeg::board {

namespace asio = boost::asio;

/// What is zero is left out: the air is shared.
inline constexpr v1::JsonLayout terse{.on_lines = false, .with_zeros = false};
/// JSON, one message a frame.
wire::Form json_form();
/// The same, with gzip where it is long: once for all phones, and without memory for each, which
/// the compression of WebSocket itself would take.
wire::Form small_json_form();

struct VisitLimits {
    std::chrono::milliseconds handshake{5000};  ///< TLS, and each request once it has begun
    std::chrono::milliseconds idle{5000};       ///< between requests
    std::chrono::milliseconds silence{60'000};  ///< of a live connection: pings go unanswered
    std::chrono::milliseconds write{10'000};    ///< of one response, or one change
    std::chrono::milliseconds goodbye{500};
    std::size_t header_bytes = 8192;
    std::size_t body_bytes = 2048;  ///< of what joins
    std::size_t message_bytes = 65'536;
    std::size_t changes_queued = 8;
};

/// All that visits need of the world; it must outlive them.
struct Endpoint {
    service::Desk& desk;
    asio::ssl::context& tls;
    wire::Gate& gate;  ///< the same as the wire's: who guesses there is known here
    Site site;
    VisitLimits limits = {};
    wire::Form form;  ///< JSON
    Pages pages{site};
    wire::Form small_form = small_json_form();
    wire::Places places{wire::Places::Limits()};
};

/// One browser's connection, from its first byte to its end. Over TLS or without: which of the two
/// its first byte tells. Pages are given, tickets taken in return for a cookie, and a WebSocket
/// carries a Conversation; without TLS and a cookie it only looks.
asio::awaitable<void> visit(asio::ip::tcp::socket socket, Endpoint& endpoint);

}  // namespace fieldpeg::board
