#pragma once

#include "server/service/desk.h"
#include "server/wire/gate.h"
#include "server/wire/outbox.h"
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

/// One client's connection, from its handshake to its end. What a session needs of the world is
/// all in here; it must outlive the session.
struct House {
    service::Desk& desk;
    asio::ssl::context& tls;
    Gate& gate;
    SessionLimits limits;
    /// All watchers get the same bytes of a change: encoded once.
    std::weak_ptr<const v1::Change> last_change = {};
    Frame last_frame = {};
};

class Session {
public:
    Session(asio::ip::tcp::socket socket, House& house);
    ~Session();

    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;

    asio::awaitable<void> run();

private:
    asio::awaitable<void> attend();
    asio::awaitable<void> handshake();
    asio::awaitable<bool> let_in();
    asio::awaitable<std::optional<std::uint32_t>> person_of(v1::Hello hello);
    asio::awaitable<void> read_requests();
    asio::awaitable<void> answer(v1::Request request);
    asio::awaitable<void> write_frames();
    asio::awaitable<void> write(Frame frame);
    asio::awaitable<void> read(std::size_t most);
    asio::awaitable<bool> read_frame(std::chrono::milliseconds limit, std::size_t most,
                                     v1::ClientFrame& into);

    void refuse(v1::Refusal why);
    void welcome(const v1::Person& person);
    bool is_welcome();
    void owe(const v1::ServerFrame& frame);
    void watch(bool on);
    void begin(const v1::Query& query, std::uint64_t id);

    asio::ssl::stream<asio::ip::tcp::socket> stream_;
    asio::ip::address from_;
    House& house_;
    Outbox outbox_;
    asio::steady_timer owing_;
    std::string body_;  ///< of the frame read last; empty: none came
    bool write_failed_ = false;
    bool shaken_ = false;
    std::optional<std::uint32_t> person_;
    std::string key_hash_;  ///< by which they were let in
    std::optional<std::uint64_t> watching_;
    std::shared_ptr<service::Errand> errand_;  ///< one at a time
    std::uint64_t errand_id_ = 0;              ///< of the request
    std::optional<v1::Refusal> goodbye_;
};

}  // namespace fieldpeg::wire
