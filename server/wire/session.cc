#include "server/wire/session.h"

#include "server/day/state.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/buffer.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/multiple_exceptions.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/write.hpp>

#include <exception>
#include <utility>

namespace fieldpeg::wire {
namespace {

using namespace asio::experimental::awaitable_operators;
using namespace std::chrono_literals;

v1::Refusal refusal(v1::Refusal::Kind kind, std::string where, std::string why, std::string next) {
    v1::Refusal m;
    m.set_kind(kind);
    m.set_where(std::move(where));
    m.set_why(std::move(why));
    m.set_next(std::move(next));
    return m;
}

Frame encoded(const std::shared_ptr<const v1::Change>& change, House& house) {
    if (house.last_change.lock() != change || !house.last_frame) {
        v1::ServerFrame m;
        *m.mutable_change() = *change;
        house.last_frame = frame(m);
        house.last_change = change;
    }
    return house.last_frame;
}

/// Whoever is cancelled between two things that it awaits gets an exception from the second.
// NOLINTNEXTLINE(misc-no-recursion): one deep
bool was_cancelled(const std::exception_ptr& failure) {
    try {
        std::rethrow_exception(failure);
    } catch (const asio::multiple_exceptions& both) {
        return was_cancelled(both.first_exception());
    } catch (const boost::system::system_error& error) {
        return error.code() == asio::error::operation_aborted;
    }
}

}  // namespace

Session::Session(asio::ip::tcp::socket socket, House& house)
    : stream_(std::move(socket), house.tls),
      house_(house),
      outbox_(house.limits.changes_queued),
      owing_(stream_.get_executor(), asio::steady_timer::time_point::max()) {
    boost::system::error_code ignored;  // a socket that has no address has no life either
    from_ = stream_.lowest_layer().remote_endpoint(ignored).address();
    stream_.lowest_layer().set_option(asio::ip::tcp::no_delay(true), ignored);
}

Session::~Session() {
    watch(false);
    if (errand_) errand_->forget();
    if (person_) house_.desk.went(*person_);
}

asio::awaitable<void> Session::run() {
    try {
        co_await attend();
    } catch (...) {
        if (!was_cancelled(std::current_exception())) throw;
    }
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    if (!shaken_ || write_failed_) co_return;
    if (!goodbye_) goodbye_ = refusal(v1::Refusal::unavailable, "", "the connection ends", "");
    v1::ServerFrame m;
    *m.mutable_goodbye() = *goodbye_;
    const auto last = frame(m);
    co_await within(house_.limits.goodbye, write(last));
}

asio::awaitable<void> Session::attend() {
    const bool in_time = co_await within(house_.limits.handshake, handshake());
    if (!in_time || !shaken_) co_return;
    const bool let = co_await let_in();
    if (let) co_await (read_requests() || write_frames());
}

asio::awaitable<void> Session::handshake() {
    const auto [error] = co_await stream_.async_handshake(asio::ssl::stream_base::server, quietly);
    shaken_ = !error;
}

/// The first frame says who it is. True: they may go on.
asio::awaitable<bool> Session::let_in() {
    if (!house_.gate.admits(from_, std::chrono::steady_clock::now())) {
        refuse(refusal(v1::Refusal::not_permitted, "",
                       "too many wrong tickets or keys came from this address",
                       fmt::format("wait {} s", Gate::closed_for.count())));
        co_return false;
    }
    v1::ClientFrame first;
    const bool came = co_await read_frame(house_.limits.handshake, hello_frame_max, first);
    if (!came) co_return false;
    if (!first.has_hello()) {
        refuse(refusal(v1::Refusal::malformed, "", "the first frame must say who it is", ""));
        co_return false;
    }
    if (first.hello().protocol() != protocol_version) {
        refuse(refusal(v1::Refusal::malformed, "protocol",
                       fmt::format("this server speaks version {}, the client version {}",
                                   protocol_version, first.hello().protocol()),
                       "use the client that came with the server"));
        co_return false;
    }
    const auto person = co_await person_of(std::move(*first.mutable_hello()));
    if (!person) {
        house_.gate.failed(from_, std::chrono::steady_clock::now());
        co_await pause(200ms);
        co_return false;
    }
    house_.gate.succeeded(from_);
    const auto* who = day::person(house_.desk.keeper().state(), *person);
    if (!who) co_return false;
    person_ = person;
    house_.desk.came(*person);
    spdlog::debug("person {} is connected", *person);
    welcome(*who);
    co_return true;
}

asio::awaitable<std::optional<std::uint32_t>> Session::person_of(v1::Hello hello) {
    if (hello.has_join()) {
        service::Entrance entrance;
        entrance.secret = std::move(*hello.mutable_join()->mutable_secret());
        entrance.name = std::move(*hello.mutable_join()->mutable_name());
        key_hash_ = hello.join().key_hash();
        entrance.key_hash = key_hash_;
        const auto reply = co_await house_.desk.enter(std::move(entrance));
        if (reply.has_done()) co_return reply.done().id();
        if (reply.has_refusal()) refuse(reply.refusal());  // else the server stops
        co_return std::nullopt;
    }
    key_hash_ = service::Keeper::hash_of(hello.key());
    if (const auto* who = house_.desk.keeper().person_with(key_hash_)) co_return who->id();
    refuse(refusal(v1::Refusal::not_permitted, "key", "is not known here, or was withdrawn",
                   "join again: fieldpeg join"));
    co_return std::nullopt;
}

void Session::welcome(const v1::Person& person) {
    v1::ServerFrame m;
    auto& w = *m.mutable_welcome();
    w.set_protocol(protocol_version);
    w.set_day(house_.desk.keeper().state().sheet().name());
    *w.mutable_person() = person;
    w.set_version(house_.desk.keeper().state().version());
    w.set_head_hash(house_.desk.keeper().head_hash());
    w.set_now_ms(house_.desk.now_ms());
    owe(m);
}

/// Whether the key is still good; if not, the goodbye says so.
bool Session::is_welcome() {
    if (house_.desk.keeper().person_with(key_hash_)) return true;
    refuse(refusal(v1::Refusal::not_permitted, "", "your key was withdrawn",
                   "ask the marshal for a ticket"));
    return false;
}

void Session::refuse(v1::Refusal why) {
    spdlog::info("a client is let go: {} {}", why.where(), why.why());
    goodbye_ = std::move(why);
}

void Session::owe(const v1::ServerFrame& m) {
    outbox_.answer(frame(m));
    owing_.cancel();
}

void Session::watch(bool on) {
    if (watching_) house_.desk.unwatch(*watching_);
    watching_.reset();
    if (!on) return;
    watching_ = house_.desk.watch([this](const std::shared_ptr<const v1::Change>& change) {
        outbox_.push(encoded(change, house_));
        owing_.cancel();
    });
    outbox_.owe_snapshot();
    owing_.cancel();
}

/// Into body_; empty if nothing came, or too much.
asio::awaitable<void> Session::read(std::size_t most) {
    body_.clear();
    std::string head(length_bytes, '\0');
    const auto [head_error, head_size] =
        co_await asio::async_read(stream_, asio::buffer(head), quietly);
    if (head_error) co_return;
    const auto size = body_size(head, most);
    if (!size) {
        refuse(refusal(v1::Refusal::malformed, size.error().where, size.error().why,
                       size.error().next));
        co_return;
    }
    std::string body(*size, '\0');
    const auto [error, got] = co_await asio::async_read(stream_, asio::buffer(body), quietly);
    if (!error) body_ = std::move(body);
}

asio::awaitable<bool> Session::read_frame(std::chrono::milliseconds limit, std::size_t most,
                                          v1::ClientFrame& into) {
    const bool in_time = co_await within(limit, read(most));
    if (!in_time)
        refuse(refusal(v1::Refusal::unavailable, "", "nothing was heard for too long",
                       "connect again"));
    if (!in_time || body_.empty()) co_return false;
    if (into.ParseFromString(body_)) co_return true;
    refuse(refusal(v1::Refusal::malformed, "frame", "is no message of this protocol",
                   "connect again"));
    co_return false;
}

asio::awaitable<void> Session::read_requests() {
    while (true) {
        v1::ClientFrame m;
        const bool came = co_await read_frame(house_.limits.idle, client_frame_max, m);
        if (!came || !is_welcome()) co_return;
        if (m.has_ping()) {
            v1::ServerFrame pong;
            pong.set_pong(true);
            owe(pong);
            continue;
        }
        if (m.what_case() == v1::ClientFrame::kEnough) {
            if (errand_ && m.enough() == errand_id_) errand_->enough();
            continue;
        }
        if (!m.has_request()) {
            refuse(refusal(v1::Refusal::malformed, "frame", "asks for nothing that is known here",
                           "client and server may be of different versions"));
            co_return;
        }
        co_await answer(std::move(*m.mutable_request()));
    }
}

asio::awaitable<void> Session::answer(v1::Request request) {
    const auto* who = house_.desk.keeper().person_with(key_hash_);
    v1::ServerFrame m;
    auto& response = *m.mutable_response();
    response.set_id(request.id());
    switch (request.what_case()) {
        case v1::Request::kCommand: {
            service::Ask ask;
            ask.actor.id = who->id();
            ask.actor.role = who->role();
            ask.key_hash = key_hash_;
            ask.command = std::move(*request.mutable_command());
            ask.once = std::move(*request.mutable_once());
            auto reply = co_await house_.desk.submit(std::move(ask));
            *response.mutable_reply() = std::move(reply);
            break;
        }
        case v1::Request::kQuery:
            if (service::takes_long(request.query()) && !errand_) {
                begin(request.query(), request.id());
                co_return;
            }
            if (service::takes_long(request.query())) {
                *response.mutable_answer()->mutable_refusal() = refusal(
                    v1::Refusal::conflict, "", "a question of yours is being answered already",
                    "wait for it, or end it");
                break;
            }
            *response.mutable_answer() = house_.desk.answer(request.query());
            break;
        case v1::Request::kWatch:
            watch(request.watch());
            response.set_watching(request.watch());
            break;
        case v1::Request::WHAT_NOT_SET:
            *response.mutable_answer()->mutable_refusal() =
                refusal(v1::Refusal::malformed, "request", "asks for nothing that is known here",
                        "client and server may be of different versions");
            break;
    }
    owe(m);
}

/// Word of its progress and the answer are owed like any other frame.
void Session::begin(const v1::Query& query, std::uint64_t id) {
    errand_id_ = id;
    errand_ = house_.desk.begin(
        query,
        [this, id](const v1::Progress& so_far) {
            v1::ServerFrame m;
            m.mutable_response()->set_id(id);
            *m.mutable_response()->mutable_progress() = so_far;
            owe(m);
        },
        [this, id](v1::Answer answer) {
            v1::ServerFrame m;
            m.mutable_response()->set_id(id);
            *m.mutable_response()->mutable_answer() = std::move(answer);
            errand_.reset();
            owe(m);
        });
}

asio::awaitable<void> Session::write_frames() {
    while (is_welcome()) {
        auto next = outbox_.pop();
        if (!next && outbox_.needs_snapshot()) {
            v1::ServerFrame m;
            *m.mutable_change() = house_.desk.snapshot();
            outbox_.resume_from(frame(m));
            continue;
        }
        if (!next) {
            co_await owing_.async_wait(quietly);
            const auto state = co_await asio::this_coro::cancellation_state;
            if (state.cancelled() != asio::cancellation_type::none) co_return;
            continue;
        }
        const bool in_time = co_await within(house_.limits.write, write(std::move(*next)));
        if (!in_time) write_failed_ = true;
        if (write_failed_) co_return;
    }
}

asio::awaitable<void> Session::write(Frame bytes) {
    const auto [error, size] = co_await asio::async_write(stream_, asio::buffer(*bytes), quietly);
    if (error) write_failed_ = true;
}

}  // namespace fieldpeg::wire
