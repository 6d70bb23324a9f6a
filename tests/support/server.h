#pragma once

#include "server/service/desk.h"
#include "server/wire/identity.h"
#include "server/wire/listener.h"
#include "server/wire/ticket.h"
#include "tests/support/rates.h"

#include "fieldpeg/v1/membership.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/ssl/context.hpp>

#include <cstddef>
#include <cstdint>
#include <exception>
#include <future>
#include <map>
#include <memory>
#include <string>
#include <thread>
#include <utility>

namespace fieldpeg::testing {

namespace asio = boost::asio;

struct ServerSettings {
    wire::SessionLimits session = {};
    std::size_t connections = 1000;
    int send_buffer = 0;     ///< bytes that a connection holds for a slow reader; 0: as is usual
    bool desk_runs = true;   ///< false: nothing that is asked is ever decided
    std::uint16_t port = 0;  ///< 0: any
    /// How what is said is written; empty: as is usual.
    wire::Form::Write write = {};
    wire::Rates rates = unhurried;
    wire::Places::Limits places = {};
};

/// A whole server on loopback, in a thread of its own, with the files of a day.
class Server {
public:
    explicit Server(const std::string& day_file, const ServerSettings& settings = {});
    /// Stops it, if it was not.
    ~Server();

    Server(const Server&) = delete;
    Server& operator=(const Server&) = delete;

    /// Asks it to stop and waits until it has. Throws what ended it, if that was something else.
    void stop();
    /// Waits until it has stopped by itself.
    void wait();

    /// Serves something else beside it, on a port of its own, until the server stops. What that
    /// needs must outlive the server.
    std::uint16_t serve_beside(wire::Attend attend);

    std::uint16_t port() const { return port_; }
    /// To be used in asked() alone.
    service::Keeper& keeper() { return *keeper_; }
    asio::ssl::context& tls() { return tls_; }
    const std::string& fingerprint() const { return identity_.fingerprint; }
    /// For a role, or a pilot's own. Of this run of the server.
    wire::Ticket ticket(v1::Role::Kind role, const std::string& pilot = "") const;
    /// Joins; the membership of somebody who may act. Throws if it was refused.
    v1::Membership joined(v1::Role::Kind role, const std::string& name) const;
    v1::Membership joined_as_pilot(const std::string& name) const;

    /// Calls `ask` with the desk on the server's thread.
    template <class Ask>
    auto asked(Ask ask) {
        const auto task = std::make_shared<std::packaged_task<decltype(ask(desk_))()>>(
            [this, &ask] { return ask(desk_); });
        auto result = task->get_future();
        asio::post(io_, [task] { (*task)(); });
        return result.get();
    }
    /// Returns when the server has taken in all that had arrived before.
    void settle();

private:
    using acceptor = asio::ip::tcp::acceptor;

    acceptor listening(std::uint16_t port);
    void give_tickets();
    void run();
    void tell_to_stop();

    asio::io_context io_{1};
    service::DayFiles files_;
    std::unique_ptr<service::Keeper> keeper_;
    wire::Identity identity_;
    asio::ssl::context tls_;
    service::Desk desk_;
    wire::Gate gate_;
    wire::Endpoint endpoint_;
    std::map<std::pair<v1::Role::Kind, std::string>, std::string> secrets_;
    std::uint16_t port_ = 0;
    asio::cancellation_signal stop_, stop_beside_;
    ServerSettings settings_;
    std::exception_ptr failure_;
    std::thread thread_;
};

}  // namespace fieldpeg::testing
