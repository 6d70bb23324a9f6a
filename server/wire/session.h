#pragma once

#include "server/service/desk.h"
#include "server/wire/conversation.h"
#include "server/wire/frame_channel.h"
#include "server/wire/gate.h"
#include "server/wire/places.h"
#include "server/wire/rest.h"
#include "server/wire/within.h"

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/steady_timer.hpp>

#include <chrono>
#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::wire {

struct SessionLimits {
    std::chrono::milliseconds handshake{5000};  ///< TLS and the first frame, each
    std::chrono::milliseconds idle{60'000};     ///< without a frame from the client
    std::chrono::milliseconds write{10'000};    ///< of one frame
    std::chrono::milliseconds goodbye{500};
    std::size_t changes_queued = 16;
};

/// What a session needs of the world; it must outlive the session.
struct Endpoint {
    service::Desk& desk;
    asio::ssl::context& tls;
    Gate& gate;
    SessionLimits limits;
    Form form = Form([](const v1::ServerFrame& m) { return frame(m); });
    Places places{Places::Limits()};
};

/// One client's connection, from its handshake to its end.
class Session {
public:
    Session(asio::ip::tcp::socket socket, Endpoint& endpoint);

    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;

    asio::awaitable<void> run();

private:
    asio::awaitable<void> attend();
    asio::awaitable<void> handshake();
    asio::awaitable<bool> let_in();
    void hang_up();
    asio::awaitable<std::optional<std::uint32_t>> person_of(v1::Hello hello, std::string& key_hash,
                                                            bool& was_wrong);
    asio::awaitable<void> read_requests();
    asio::awaitable<void> write_frames();
    asio::awaitable<void> write(Frame frame);
    asio::awaitable<void> read(v1::ClientFrame& into, bool& came);
    asio::awaitable<bool> read_frame(std::chrono::milliseconds limit, v1::ClientFrame& into);

    asio::ssl::stream<asio::ip::tcp::socket> stream_;
    asio::ip::address from_;
    Endpoint& endpoint_;
    Conversation conversation_;
    FrameChannel channel_{hello_frame_max};
    Rest rest_;
    std::unique_ptr<Places::Place> place_;
    bool write_failed_ = false;
    bool shaken_ = false;
};

}  // namespace fieldpeg::wire
