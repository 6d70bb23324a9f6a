#pragma once

#include "server/service/desk.h"
#include "server/wire/conversation.h"
#include "server/wire/frame_channel.h"
#include "tests/simulation/network.h"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>

#include <memory>
#include <string>

namespace fieldpeg::simulation {

namespace asio = boost::asio;

/// What carries a conversation here: as wire::Session does, without sockets and without a gate.
class Session {
public:
    Session(const asio::any_io_executor& executor, service::Desk& desk, wire::Form& form,
            wire::Gate& gate, Network& network, std::shared_ptr<Cable> cable);
    ~Session();
    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;

    asio::awaitable<void> run();
    /// Ends it.
    void hang_up();

private:
    asio::awaitable<bool> let_in();
    asio::awaitable<bool> enter(v1::Hello hello, std::string& key_hash);
    asio::awaitable<void> read(v1::ClientFrame& into, bool& came);
    asio::awaitable<void> read_requests();
    asio::awaitable<void> write_frames();
    asio::awaitable<void> write(wire::Frame frame);
    void wake();

    service::Desk& desk_;
    Network& network_;
    std::shared_ptr<Cable> cable_;
    wire::Conversation conversation_;
    wire::FrameChannel channel_{wire::hello_frame_max};
    std::string arrived_;
    bool lost_ = false;
    asio::steady_timer readable_;
    asio::steady_timer writable_;
};

}  // namespace fieldpeg::simulation
