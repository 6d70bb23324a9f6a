#include "server/wire/session.h"

#include "server/day/state.h"
#include "server/wire/frame_stream.h"
#include "server/wire/version.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/this_coro.hpp>

#include <exception>
#include <utility>

namespace fieldpeg::wire {
namespace {

/// A socket that has none has no life either.
asio::ip::address address_of(asio::ip::tcp::socket::lowest_layer_type& socket) {
    boost::system::error_code ignored;
    return socket.remote_endpoint(ignored).address();
}

}  // namespace

Session::Session(asio::ip::tcp::socket socket, Endpoint& endpoint)
    : stream_(std::move(socket), endpoint.tls),
      from_(address_of(stream_.lowest_layer())),
      endpoint_(endpoint),
      conversation_(stream_.get_executor(), endpoint.desk, endpoint.form, endpoint.gate, from_,
                    endpoint.limits.changes_queued),
      rest_(stream_.get_executor()) {
    boost::system::error_code ignored;
    stream_.lowest_layer().set_option(asio::ip::tcp::no_delay(true), ignored);
}

asio::awaitable<void> Session::run() {
    try {
        co_await attend();
    } catch (const std::exception& failure) {
        if (!was_cancelled(std::current_exception())) conversation_.fail(failure);
    }
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    if (!shaken_ || write_failed_) co_return;
    auto last = conversation_.goodbye();
    co_await within(endpoint_.limits.goodbye, write(std::move(last)));
}

asio::awaitable<void> Session::attend() {
    place_ = endpoint_.places.take(from_, [this] { hang_up(); });
    if (!place_) {
        spdlog::warn("a connection was not taken: all places are taken");
        co_return;
    }
    co_await rest_.take(endpoint_.gate.arrived(from_, std::chrono::steady_clock::now()));
    if (!stream_.lowest_layer().is_open()) co_return;
    const bool in_time = co_await within(endpoint_.limits.handshake, handshake());
    if (!in_time || !shaken_) co_return;
    const bool let = co_await let_in();
    if (let) co_await first_to_end(read_requests(), write_frames());
}

asio::awaitable<void> Session::handshake() {
    const auto [error] = co_await stream_.async_handshake(asio::ssl::stream_base::server, quietly);
    shaken_ = !error;
}

/// Somebody else needs the place.
void Session::hang_up() {
    boost::system::error_code ignored;
    stream_.lowest_layer().close(ignored);
    rest_.end();
    conversation_.leave(others_need_the_place());
}

/// The first frame says who it is. True: they may go on.
asio::awaitable<bool> Session::let_in() {
    v1::ClientFrame first;
    const bool came = co_await read_frame(endpoint_.limits.handshake, first);
    if (!came) co_return false;
    if (!first.has_hello()) {
        conversation_.refuse(
            refusal(v1::Refusal::malformed, "", "the first frame must say who it is", ""));
        co_return false;
    }
    if (first.hello().protocol() != protocol_version) {
        conversation_.refuse(
            refusal(v1::Refusal::malformed, "protocol",
                    fmt::format("this server ({}) speaks version {}, the client version {}",
                                server_program(), protocol_version, first.hello().protocol()),
                    "use the client that came with the server"));
        co_return false;
    }
    std::string key_hash;
    const bool knocks = first.hello().has_join() && first.hello().join().secret().empty();
    if (first.hello().has_join() &&
        !may_join(first.hello().join().secret(), endpoint_.desk.keeper(), endpoint_.gate, from_)) {
        conversation_.refuse(too_many_join());
        co_return false;
    }
    bool was_wrong = false;
    const auto person = co_await person_of(std::move(*first.mutable_hello()), key_hash, was_wrong);
    if (!person) {
        if (knocks || !was_wrong) co_return false;  // there was nothing to guess
        co_await rest_.take(endpoint_.gate.failed(from_, std::chrono::steady_clock::now()));
        co_return false;
    }
    const auto* who = day::person(endpoint_.desk.keeper().state(), *person);
    if (!who) co_return false;
    place_->belongs_to(who->id());
    conversation_.let_in(*who, std::move(key_hash));
    conversation_.welcome();
    co_return true;
}

asio::awaitable<std::optional<std::uint32_t>> Session::person_of(v1::Hello hello,
                                                                 std::string& key_hash,
                                                                 bool& was_wrong) {
    if (hello.has_join()) {
        service::Entrance entrance;
        entrance.secret = std::move(*hello.mutable_join()->mutable_secret());
        entrance.name = std::move(*hello.mutable_join()->mutable_name());
        key_hash = hello.join().key_hash();
        entrance.key_hash = key_hash;
        const auto reply = co_await endpoint_.desk.enter(std::move(entrance));
        if (reply.has_done()) co_return reply.done().id();
        if (reply.has_refusal()) conversation_.refuse(reply.refusal());  // else the server stops
        was_wrong = reply.has_refusal() && reply.refusal().kind() != v1::Refusal::unavailable;
        co_return std::nullopt;
    }
    was_wrong = true;
    key_hash = service::Keeper::hash_of(hello.key());
    if (const auto* who = endpoint_.desk.keeper().person_with(key_hash)) co_return who->id();
    conversation_.refuse(refusal(v1::Refusal::not_permitted, "key",
                                 "is not known here, or was withdrawn",
                                 "join again: fieldpeg join"));
    co_return std::nullopt;
}

asio::awaitable<void> Session::read(v1::ClientFrame& into, bool& came) {
    while (true) {
        const auto next = channel_.next(into);
        if (!next) {
            conversation_.refuse(refusal(v1::Refusal::malformed, next.error().where,
                                         next.error().why, next.error().next));
            co_return;
        }
        came = *next;
        if (came) co_return;
        const auto error = co_await receive(stream_, channel_);
        if (error) co_return;
    }
}

/// False: none came in time, or none that makes sense.
asio::awaitable<bool> Session::read_frame(std::chrono::milliseconds limit, v1::ClientFrame& into) {
    bool came = false;
    const bool in_time = co_await within(limit, read(into, came));
    if (!in_time)
        conversation_.refuse(refusal(v1::Refusal::unavailable, "", "nothing was heard for too long",
                                     "connect again"));
    co_return in_time&& came;
}

asio::awaitable<void> Session::read_requests() {
    channel_.allow(client_frame_max);
    bool goes_on = true;
    while (goes_on) {
        v1::ClientFrame m;
        const bool came = co_await read_frame(endpoint_.limits.idle, m);
        if (!came) co_return;
        goes_on = co_await conversation_.take(std::move(m));
    }
}

asio::awaitable<void> Session::write_frames() {
    while (!write_failed_) {
        auto next = co_await conversation_.next();
        if (!next) co_return;
        const bool in_time = co_await within(endpoint_.limits.write, write(std::move(next)));
        if (!in_time) write_failed_ = true;
    }
}

asio::awaitable<void> Session::write(Frame bytes) {
    channel_.send(std::move(bytes));
    const auto error = co_await flush(stream_, channel_);
    if (error) write_failed_ = true;
}

}  // namespace fieldpeg::wire
