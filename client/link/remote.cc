#include "client/link/remote.h"

#include "server/log/hash.h"
#include "server/service/secret.h"
#include "server/wire/authority.h"
#include "server/wire/discovery.h"
#include "server/wire/frame.h"
#include "server/wire/identity.h"
#include "server/wire/within.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/write.hpp>

#include <algorithm>
#include <exception>
#include <functional>
#include <optional>
#include <utility>

namespace fieldpeg::link {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using wire::quietly;
using wire::within;
using namespace asio::experimental::awaitable_operators;
using namespace std::chrono_literals;
using Clock = std::chrono::steady_clock;

constexpr auto ping_every = 15s;
constexpr auto silent_max = 40s;  ///< a server that answers no ping for this long is lost
constexpr auto back_off_first = 100ms;
constexpr auto back_off_most = 2000ms;

v1::Refusal no_answer(std::string where, std::string why) {
    v1::Refusal m;
    m.set_kind(v1::Refusal::no_answer);
    m.set_where(std::move(where));
    m.set_why(std::move(why));
    m.set_next("do not switch on unless the marshal says so");
    return m;
}

}  // namespace

/// The connection and what goes over it, one thing after the other.
class Remote::Line {
public:
    Line(v1::Membership membership, std::optional<v1::JoinRequest> join, Patience patience)
        : membership_(std::move(membership)),
          join_(std::move(join)),
          patience_(patience),
          tls_(wire::client_context()) {}

    v1::Membership& membership() { return membership_; }

    /// One request and its response; none: `why_not` says why.
    std::optional<v1::Response> exchange(const v1::Request& request) {
        std::optional<v1::Response> response;
        perform(exchanged(request, response));
        return response;
    }

    /// The same where word of its progress comes before the response. Not tried twice.
    std::optional<v1::Response> exchange_long(const v1::Request& request,
                                              const Progress& progress) {
        std::optional<v1::Response> response;
        perform(long_exchanged(request, progress, response));
        return response;
    }

    v1::Refusal watched(const Watcher& watcher) {
        perform(watching(watcher));
        return why_not_;
    }

    bool connected_once() {
        perform(connected());
        return is_up_;
    }

    const v1::Refusal& why_not() const { return why_not_; }
    std::int64_t ahead_ms() const { return ahead_ms_; }
    bool is_final() const { return final_; }

private:
    using Stream = asio::ssl::stream<tcp::socket>;

    /// Runs a coroutine to its end.
    void perform(asio::awaitable<void> work) {
        std::exception_ptr failure;
        asio::co_spawn(io_, std::move(work), [&failure](std::exception_ptr e) { failure = e; });
        io_.restart();
        io_.run();
        if (failure) std::rethrow_exception(failure);
    }

    asio::awaitable<void> exchanged(const v1::Request& request,
                                    std::optional<v1::Response>& response) {
        const auto give_up = Clock::now() + patience_.all;
        auto back_off = Clock::duration(back_off_first);
        while (true) {
            if (!is_up_) co_await connected();
            if (is_up_) {
                const bool in_time = co_await within(patience_.answer, asked(request, response));
                if (response) co_return;
                if (!in_time) why_not_ = no_answer(address(), "the server does not answer");
                drop();
            }
            if (final_ || Clock::now() + back_off >= give_up) co_return;
            co_await wire::pause(back_off);
            back_off = std::min<Clock::duration>(2 * back_off, back_off_most);
        }
    }

    asio::awaitable<void> asked(const v1::Request& request, std::optional<v1::Response>& response) {
        v1::ClientFrame m;
        *m.mutable_request() = request;
        co_await write(wire::frame(m));
        while (is_up_) {
            co_await read();
            if (!is_up_) co_return;
            if (!frame_.has_response() || frame_.response().id() != request.id()) continue;
            response = std::move(*frame_.mutable_response());
            co_return;
        }
    }

    asio::awaitable<void> long_exchanged(const v1::Request& request, const Progress& progress,
                                         std::optional<v1::Response>& response) {
        co_await connected();
        if (!is_up_) co_return;
        v1::ClientFrame m;
        *m.mutable_request() = request;
        co_await write(wire::frame(m));
        asio::steady_timer next_word(io_);
        bool is_enough = false;
        const std::function<bool(const v1::Response&)> answered = [&](const v1::Response& r) {
            if (!r.has_progress()) return true;
            if (is_enough || progress(r.progress())) return false;
            is_enough = true;
            next_word.cancel();
            return false;
        };
        co_await (long_awaited(request.id(), answered, response) ||
                  words(request.id(), is_enough, next_word));
    }

    asio::awaitable<void> long_awaited(std::uint64_t id,
                                       const std::function<bool(const v1::Response&)>& answered,
                                       std::optional<v1::Response>& response) {
        while (is_up_) {
            const bool in_time = co_await within(silent_max, read());
            if (!in_time) why_not_ = no_answer(address(), "nothing is heard from the server");
            if (!in_time || !is_up_) co_return;
            if (!frame_.has_response() || frame_.response().id() != id) continue;
            if (!answered(frame_.response())) continue;
            response = std::move(*frame_.mutable_response());
            co_return;
        }
    }

    /// Pings, and once that it is enough: one writer.
    asio::awaitable<void> words(std::uint64_t id, const bool& is_enough,
                                asio::steady_timer& next_word) {
        bool said = false;
        while (is_up_) {
            next_word.expires_after(ping_every);
            if (!is_enough || said) co_await next_word.async_wait(quietly);
            const auto state = co_await asio::this_coro::cancellation_state;
            if (state.cancelled() != asio::cancellation_type::none) co_return;
            v1::ClientFrame m;
            if (is_enough && !said)
                m.set_enough(id);
            else
                m.set_ping(true);
            said = is_enough;
            const auto word = wire::frame(m);
            co_await write(word);
        }
    }

    /// One attempt at the known address, then one where the server was found.
    asio::awaitable<void> connected() {
        co_await attempt();
        if (is_up_ || final_) co_return;
        const auto found = co_await wire::find_server(
            static_cast<std::uint16_t>(membership_.port()), membership_.fingerprint(), 500ms);
        if (!found || (found->host == membership_.host() && found->port == membership_.port()))
            co_return;
        spdlog::info("the server is at {} now", found->host);
        membership_.set_host(found->host);
        membership_.set_port(found->port);
        co_await attempt();
    }

    asio::awaitable<void> attempt() {
        drop();
        std::unique_ptr<Stream> opening = std::make_unique<Stream>(io_, tls_);
        bool shaken = false;
        why_not_ = no_answer(address(), "the server does not answer");
        const bool in_time = co_await within(patience_.connect, opened(*opening, shaken));
        if (!in_time || !shaken) co_return;
        if (wire::peer_fingerprint(opening->native_handle()) != membership_.fingerprint()) {
            why_not_ = no_answer(address(),
                                 "another server is at this address than the one that was joined: "
                                 "its fingerprint differs");
            why_not_.set_next(
                "ask the marshal for a ticket of today's server; somebody may be listening in");
            final_ = true;
            co_return;
        }
        stream_ = std::move(opening);
        is_up_ = true;
        co_await within(patience_.answer, greeted());
        if (!welcomed_) drop();
    }

    asio::awaitable<void> opened(Stream& stream, bool& shaken) {
        tcp::resolver resolver(io_);
        const auto [unknown, addresses] = co_await resolver.async_resolve(
            membership_.host(), std::to_string(membership_.port()), quietly);
        if (unknown) {
            why_not_ = no_answer(address(), "there is no such host: " + unknown.message());
            co_return;
        }
        const auto [refused, at] =
            co_await asio::async_connect(stream.lowest_layer(), addresses, quietly);
        if (refused) {
            why_not_ = no_answer(address(), "there is no server: " + refused.message());
            co_return;
        }
        boost::system::error_code ignored;  // a convenience
        stream.lowest_layer().set_option(tcp::no_delay(true), ignored);
        const auto [error] =
            co_await stream.async_handshake(asio::ssl::stream_base::client, quietly);
        if (error) why_not_ = no_answer(address(), "no secure connection: " + error.message());
        shaken = !error;
    }

    asio::awaitable<void> greeted() {
        welcomed_ = false;
        v1::ClientFrame m;
        auto& hello = *m.mutable_hello();
        hello.set_protocol(wire::protocol_version);
        if (join_)
            *hello.mutable_join() = *join_;
        else
            hello.set_key(membership_.key());
        co_await write(wire::frame(m));
        co_await read();
        if (!is_up_ || !frame_.has_welcome()) co_return;
        welcomed_ = true;
        const auto& w = frame_.welcome();
        membership_.set_name(w.person().name());
        membership_.set_role(w.person().role());
        membership_.set_day(w.day());
        membership_.set_version(w.version());
        membership_.set_head_hash(w.head_hash());
        membership_.set_awaits_nod(w.person().awaits_nod());
        ahead_ms_ = w.now_ms() - local_ms();
    }

    /// Into frame_. The connection is given up when it is lost or the server says goodbye.
    asio::awaitable<void> read() {
        std::string head(wire::length_bytes, '\0');
        const auto [head_error, head_size] =
            co_await asio::async_read(*stream_, asio::buffer(head), quietly);
        if (head_error) co_return lost(head_error.message());
        const auto size = wire::body_size(head, wire::server_frame_max);
        if (!size) co_return lost("what the server sends makes no sense");
        std::string body(*size, '\0');
        const auto [error, got] = co_await asio::async_read(*stream_, asio::buffer(body), quietly);
        if (error) co_return lost(error.message());
        frame_.Clear();
        if (!frame_.ParseFromString(body)) co_return lost("what the server sends makes no sense");
        if (!frame_.has_goodbye()) co_return;
        why_not_ = frame_.goodbye();
        // A server that is stopping may come back; one that knows us not will not change its mind.
        final_ = why_not_.kind() != v1::Refusal::unavailable;
        hang_up();
    }

    asio::awaitable<void> write(wire::Frame bytes) {
        if (!is_up_) co_return;
        const auto [error, size] =
            co_await asio::async_write(*stream_, asio::buffer(*bytes), quietly);
        if (error) lost(error.message());
    }

    /// Nothing more is to go over the connection. It stays until those who read and write it have
    /// noticed.
    void hang_up() {
        is_up_ = false;
        boost::system::error_code ignored;  // it is lost either way
        stream_->lowest_layer().close(ignored);
    }

    /// Requires that nobody reads or writes it.
    void drop() {
        is_up_ = false;
        stream_.reset();
    }

    void lost(const std::string& why) {
        why_not_ = no_answer(address(), "the connection is lost: " + why);
        hang_up();
    }

    asio::awaitable<void> watching(const Watcher& watcher) {
        auto back_off = Clock::duration(back_off_first);
        bool enough = false;
        while (!enough) {
            co_await connected();
            if (is_up_) {
                back_off = Clock::duration(back_off_first);
                co_await (changes(watcher, enough) || pings());
                drop();
            }
            if (enough || final_) co_return;
            watcher.lost(why_not_);
            co_await wire::pause(back_off);
            back_off = std::min<Clock::duration>(2 * back_off, back_off_most);
        }
    }

    asio::awaitable<void> changes(const Watcher& watcher, bool& enough) {
        v1::ClientFrame m;
        m.mutable_request()->set_watch(true);
        co_await write(wire::frame(m));
        while (is_up_ && !enough) {
            const bool in_time = co_await within(silent_max, read());
            if (!in_time) why_not_ = no_answer(address(), "nothing is heard from the server");
            if (!in_time || !is_up_) co_return;
            if (frame_.has_change()) enough = !watcher.change(frame_.change());
        }
    }

    asio::awaitable<void> pings() {
        v1::ClientFrame m;
        m.set_ping(true);
        const auto ping = wire::frame(m);
        while (is_up_) {
            co_await wire::pause(ping_every);
            co_await write(ping);
        }
    }

    std::string address() const {
        return wire::authority(membership_.host(), static_cast<std::uint16_t>(membership_.port()));
    }

    v1::Membership membership_;
    std::optional<v1::JoinRequest> join_;
    Patience patience_;
    asio::io_context io_{1};
    asio::ssl::context tls_;
    std::unique_ptr<Stream> stream_;
    bool is_up_ = false;
    v1::ServerFrame frame_;
    v1::Refusal why_not_;
    bool welcomed_ = false;
    std::int64_t ahead_ms_ = 0;  ///< the server's clock, of this machine's
    bool final_ = false;         ///< trying again would not help
};

Remote::Remote(v1::Membership membership, Patience patience)
    : line_(std::make_unique<Line>(std::move(membership), std::nullopt, patience)) {}
Remote::~Remote() = default;

v1::Answer Remote::ask(const v1::Query& query) {
    v1::Request request;
    request.set_id(1);
    *request.mutable_query() = query;
    if (auto response = line_->exchange(request); response && response->has_answer())
        return std::move(*response->mutable_answer());
    v1::Answer answer;
    *answer.mutable_refusal() = line_->why_not();
    return answer;
}

v1::Answer Remote::ask_long(const v1::Query& query, const Progress& progress) {
    v1::Request request;
    request.set_id(1);
    *request.mutable_query() = query;
    if (auto response = line_->exchange_long(request, progress); response && response->has_answer())
        return std::move(*response->mutable_answer());
    v1::Answer answer;
    *answer.mutable_refusal() = line_->why_not();
    return answer;
}

v1::Reply Remote::send(const v1::Command& command) {
    v1::Request request;
    request.set_id(1);
    request.set_idempotency_key(log::hex(service::random_bytes(16)));
    *request.mutable_command() = command;
    if (auto response = line_->exchange(request); response && response->has_reply())
        return std::move(*response->mutable_reply());
    v1::Reply reply;
    *reply.mutable_refusal() = line_->why_not();
    return reply;
}

v1::Refusal Remote::watch(const Watcher& watcher) {
    return line_->watched(watcher);
}

std::int64_t Remote::now_ms() const {
    return local_ms() + line_->ahead_ms();
}

std::string Remote::self() const {
    return line_->membership().name();
}

const v1::Membership& Remote::membership() const {
    return line_->membership();
}

Result<v1::Membership> join(const wire::Ticket& ticket, const std::string& name,
                            Patience patience) {
    v1::Membership m;
    m.set_host(ticket.host);
    m.set_port(ticket.port);
    m.set_fingerprint(ticket.fingerprint);
    m.set_key(service::random_bytes(service::key_bytes));
    m.set_name(name);
    v1::JoinRequest request;
    request.set_secret(ticket.secret);
    request.set_name(name);
    request.set_key_hash(log::sha256(m.key()));
    Remote::Line line(m, request, patience);
    if (line.connected_once()) return line.membership();
    const auto& why = line.why_not();
    using Kind = Refusal::Kind;
    const auto kind = why.kind() == v1::Refusal::no_answer     ? Kind::no_answer
                      : why.kind() == v1::Refusal::unavailable ? Kind::unavailable
                      : why.kind() == v1::Refusal::malformed   ? Kind::malformed
                                                               : Kind::not_permitted;
    return Refusal{kind, why.where(), why.why(), why.next()};
}

}  // namespace fieldpeg::link
