#include "tests/support/server.h"

#include "client/link/remote.h"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>

#include <chrono>
#include <stdexcept>
#include <vector>

namespace fieldpeg::testing {
namespace {

using asio::ip::tcp;

std::int64_t now_ms() {
    using namespace std::chrono;
    return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

template <class T>
T good(Result<T> result) {
    if (!result) throw std::runtime_error(result.error().where + ": " + result.error().why);
    return *std::move(result);
}

std::unique_ptr<service::Keeper> opened(const service::DayFiles& files) {
    std::vector<std::string> differences;
    return good(service::Keeper::open(files, log::DayLog::Access::write, now_ms(), differences));
}

}  // namespace

Server::Server(const std::string& day_file, const ServerSettings& settings)
    : files_(service::files_of(day_file)),
      keeper_(opened(files_)),
      identity_(good(wire::identity_at(files_.identity))),
      tls_(wire::server_context(identity_)),
      desk_(io_.get_executor(), *keeper_, now_ms),
      gate_(settings.rates),
      endpoint_{.desk = desk_,
                .tls = tls_,
                .gate = gate_,
                .limits = settings.session,
                .places = wire::Places(settings.places)},
      settings_(settings) {
    if (settings.write) endpoint_.form = wire::Form(settings.write);
    give_tickets();
    auto listens = listening(settings.port);
    port_ = listens.local_endpoint().port();
    wire::ListenLimits limits;
    limits.connections = settings.connections;
    if (settings.desk_runs)
        asio::co_spawn(io_, desk_.run(), [this](std::exception_ptr e) {
            if (e) failure_ = e;
        });
    asio::co_spawn(io_, wire::serve(std::move(listens), wire::sessions(endpoint_), limits),
                   asio::bind_cancellation_slot(stop_.slot(), [this](std::exception_ptr e) {
                       if (e) failure_ = e;
                       desk_.close();
                   }));
    thread_ = std::thread([this] { run(); });
}

/// A real one would be ended by an exception. Here the others are let go first, so that the test
/// fails and does not wait for ever.
void Server::run() {
    while (true) {
        try {
            io_.run();
            return;
        } catch (...) {
            failure_ = std::current_exception();
        }
    }
}

Server::~Server() {
    if (!thread_.joinable()) return;
    tell_to_stop();
    thread_.join();
}

void Server::tell_to_stop() {
    asio::post(io_, [this] {
        stop_beside_.emit(asio::cancellation_type::terminal);
        stop_.emit(asio::cancellation_type::terminal);
    });
}

void Server::stop() {
    tell_to_stop();
    wait();
}

std::uint16_t Server::serve_beside(wire::Attend attend) {
    return asked([&](service::Desk&) {
        auto listens = listening(0);
        const auto port = listens.local_endpoint().port();
        wire::ListenLimits limits;
        limits.connections = settings_.connections;
        asio::co_spawn(
            io_, wire::serve(std::move(listens), std::move(attend), limits),
            asio::bind_cancellation_slot(stop_beside_.slot(), [this](std::exception_ptr e) {
                if (e) failure_ = e;
            }));
        return port;
    });
}

void Server::wait() {
    thread_.join();
    if (failure_) std::rethrow_exception(failure_);
}

Server::acceptor Server::listening(std::uint16_t port) {
    const tcp::endpoint at(asio::ip::address_v4::loopback(), port);
    acceptor listens(io_);
    listens.open(at.protocol());
    listens.set_option(acceptor::reuse_address(true));
    if (settings_.send_buffer > 0)
        listens.set_option(asio::socket_base::send_buffer_size(settings_.send_buffer));
    listens.bind(at);
    listens.listen();
    return listens;
}

void Server::give_tickets() {
    const auto give = [&](v1::Role::Kind role, const std::string& pilot) {
        service::Ask ask;
        ask.command.mutable_renew_ticket()->set_role(role);
        ask.command.mutable_renew_ticket()->set_pilot(pilot);
        secrets_[{role, pilot}] = keeper_->take(ask, now_ms()).ticket().ticket();
    };
    for (const auto role : {v1::Role::marshal, v1::Role::pilot, v1::Role::onlooker}) give(role, "");
    const auto sheet = keeper_->state().sheet();  // a copy: with each ticket there is a new state
    for (const auto& pilot : sheet.pilots()) give(v1::Role::pilot, pilot.name());
}

wire::Ticket Server::ticket(v1::Role::Kind role, const std::string& pilot) const {
    return {"127.0.0.1", port_, identity_.fingerprint, secrets_.at({role, pilot})};
}

v1::Membership Server::joined(v1::Role::Kind role, const std::string& name) const {
    return good(link::join(ticket(role), name));
}

v1::Membership Server::joined_as_pilot(const std::string& name) const {
    return good(link::join(ticket(v1::Role::pilot, name), name));
}

// Each time round the loop looks at all that has arrived; a frame takes a few.
void Server::settle() {
    for (int i = 0; i < 100; ++i) asked([](service::Desk&) { return true; });
}

}  // namespace fieldpeg::testing
