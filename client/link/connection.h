#pragma once

#include "client/link/retry.h"
#include "server/wire/frame_channel.h"

#include "fieldpeg/v1/membership.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::link {

namespace asio = boost::asio;

/// Why there is no answer where the other end takes a call, or may have, and says nothing in time.
inline constexpr const char* nothing_comes_back =
    "nothing comes back from there: the server is stopped or overloaded, or its machine sleeps or "
    "is out of reach";

/// To the server that was joined, over TLS: opened, greeted, read and written. The server is known
/// by its fingerprint alone. Where it is not up, `why_not` says why. One coroutine reads, one
/// writes.
class Connection {
public:
    /// With a wish to join, or else with the key of the membership.
    Connection(asio::io_context& io, v1::Membership membership, std::optional<v1::JoinRequest> join,
               Patience patience);

    Connection(const Connection&) = delete;
    Connection& operator=(const Connection&) = delete;

    /// One attempt at the known address, one at each where else the day may be answered, then one
    /// where the server was found. Requires that nobody
    /// reads or writes.
    asio::awaitable<void> open();
    bool is_up() const { return is_up_; }

    /// The next frame, while it is up: it is given up when it is lost, or the server says goodbye.
    asio::awaitable<void> read(v1::ServerFrame& into);
    asio::awaitable<void> write(v1::ClientFrame m);

    /// Requires that nobody reads or writes.
    void drop();

    /// There is no answer; no more than that is done.
    void fail(const std::string& why);
    /// What came is no answer, and asking again would bring no other.
    void not_understood();
    const v1::Refusal& why_not() const { return why_not_; }
    /// Trying again would not help.
    bool is_for_good() const { return is_for_good_; }

    const v1::Membership& membership() const { return membership_; }
    std::int64_t ahead_ms() const { return ahead_ms_; }

private:
    using Stream = asio::ssl::stream<asio::ip::tcp::socket>;

    asio::awaitable<void> attempt();
    asio::awaitable<void> shake_hands(Stream& stream, bool& shaken);
    asio::awaitable<void> greet(bool& welcomed);
    asio::awaitable<void> look_elsewhere();
    void take_elsewhere(const v1::ServerFrame& m);
    void remember(const std::string& address);
    void take(const v1::ServerFrame& m);
    void other_protocol(std::uint32_t theirs);
    /// It is lost. It stays until those who read and write it have noticed.
    void lose(const std::string& why);
    void hang_up();

    asio::io_context& io_;
    v1::Membership membership_;
    std::optional<v1::JoinRequest> join_;
    Patience patience_;
    asio::ssl::context tls_;
    std::unique_ptr<Stream> stream_;
    wire::FrameChannel channel_{wire::server_frame_max};
    bool is_up_ = false;
    bool is_told_to_wait_ = false;  ///< by one who knows where the day is answered, or was
    bool is_silent_ = false;        ///< nothing came back when it was last tried
    v1::Refusal why_not_;
    std::string server_;         ///< the program that it says it is
    std::int64_t ahead_ms_ = 0;  ///< the server's clock, of this machine's
    bool is_for_good_ = false;
};

}  // namespace fieldpeg::link
