#pragma once

#include "server/wire/frame_channel.h"
#include "server/wire/ticket.h"

#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::testing {

struct RawSettings {
    std::string from = "127.0.0.1";  ///< any of the machine's own addresses
    bool only_tls_1_2 = false;
    int receive_buffer = 0;  ///< bytes it takes without reading them; 0: as is usual
};

/// A client that keeps to nothing: sends any bytes, reads when it likes, leaves without a word.
class RawClient {
public:
    /// Connects to a server on loopback; without TLS if that is refused.
    explicit RawClient(std::uint16_t port, const RawSettings& settings = {});

    bool is_secure() const { return secure_; }

    void send(std::string_view bytes);
    void send(const v1::ClientFrame& frame);
    /// Returns when all that was sent has come to the server's machine.
    void wait_until_arrived();
    /// The next frame; none: the connection has ended.
    std::optional<v1::ServerFrame> read();
    /// Reads to the end. What was said at it; none: nothing was.
    std::optional<v1::Refusal> goodbye();
    /// Closes the connection as a lost one is closed: nothing is said.
    void close();

    /// Says who it is. None: it was not let in.
    std::optional<v1::Welcome> hello(const std::string& key);
    std::optional<v1::Welcome> join(const wire::Ticket& ticket, const std::string& name,
                                    const std::string& key);

    /// Asks and does not wait.
    void ask(const v1::Command& command, const std::string& idempotency_key, std::uint64_t id = 1);
    /// Asks and waits; none: the connection has ended.
    std::optional<v1::Reply> send(const v1::Command& command,
                                  const std::string& idempotency_key = "");
    void watch();

private:
    std::optional<v1::Welcome> welcomed();

    boost::asio::io_context io_;
    boost::asio::ssl::context tls_;
    boost::asio::ssl::stream<boost::asio::ip::tcp::socket> stream_;
    wire::FrameChannel channel_{wire::server_frame_max};
    bool secure_ = false;
    std::optional<v1::Refusal> goodbye_;
};

/// A hello with a key.
v1::ClientFrame hello_with(const std::string& key);
/// A wish to join.
v1::ClientFrame wish_to_join(const wire::Ticket& ticket, const std::string& name,
                             const std::string& key);

}  // namespace fieldpeg::testing
