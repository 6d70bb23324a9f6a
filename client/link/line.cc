#include "client/link/line.h"

#include "client/link/understood.h"
#include "server/wire/within.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>

#include <algorithm>
#include <chrono>
#include <exception>
#include <utility>

namespace fieldpeg::link {
namespace {

using wire::quietly;
using wire::within;
using Clock = std::chrono::steady_clock;

/// Whether it is what a request of this number waits for.
bool answers(const v1::Request& request, const v1::Response& response) {
    if (response.id() != request.id()) return false;
    if (request.has_command())
        return response.has_reply() && is_understood(request.command(), response.reply());
    return response.has_answer() && is_understood(request.query(), response.answer());
}

}  // namespace

Line::Aside::Aside(asio::io_context& io) : silence(Clock::now()), due(io) {}

std::optional<v1::Response> Line::exchange(const v1::Request& request) {
    std::optional<v1::Response> response;
    perform(exchanged(request, response));
    return response;
}

std::optional<v1::Response> Line::exchange_long(const v1::Request& request,
                                                const Link::Progress& progress) {
    std::optional<v1::Response> response;
    perform(exchanged_long(request, progress, response));
    return response;
}

void Line::watch(const Link::Watcher& watcher) {
    perform(watched(watcher));
}

bool Line::connect() {
    perform(connection_.open());
    return connection_.is_up();
}

/// Runs a coroutine to its end.
void Line::perform(asio::awaitable<void> work) {
    std::exception_ptr failure;
    asio::co_spawn(io_, std::move(work), [&failure](std::exception_ptr e) { failure = e; });
    io_.restart();
    io_.run();
    if (failure) std::rethrow_exception(failure);
}

asio::awaitable<void> Line::exchanged(const v1::Request& request,
                                      std::optional<v1::Response>& response) {
    auto retry = Retry::of_a_request(patience_, Clock::now());
    while (true) {
        if (!connection_.is_up()) co_await connection_.open();
        auto what = Unanswered::unsent;
        if (connection_.is_up()) {
            what = Unanswered::sent;
            const bool is_only_one = connection_.membership().elsewhere().empty();
            const auto limit =
                is_only_one ? patience_.answer : std::min(patience_.answer, patience_.elsewhere);
            const bool in_time = co_await within(limit, asked(request, response));
            if (response) co_return;
            if (!in_time) connection_.fail(nothing_comes_back);
            connection_.drop();
        }
        if (connection_.is_for_good()) what = Unanswered::for_good;
        const auto wait = retry.after(what, Clock::now());
        if (retry.was_sent_too_often() && connection_.why_not().kind() == v1::Refusal::no_answer)
            connection_.fail(
                "the connection was lost twice while the server was asked this: it is not asked "
                "again");
        if (!wait) co_return;
        co_await wire::pause(*wait);
    }
}

asio::awaitable<void> Line::send(const v1::Request& request) {
    v1::ClientFrame m;
    *m.mutable_request() = request;
    co_await connection_.write(std::move(m));
}

asio::awaitable<void> Line::asked(const v1::Request& request,
                                  std::optional<v1::Response>& response) {
    co_await send(request);
    v1::ServerFrame m;
    while (connection_.is_up() && !response) {
        co_await connection_.read(m);
        if (!connection_.is_up() || !m.has_response()) continue;
        if (!answers(request, m.response())) co_return connection_.not_understood();
        response = std::move(*m.mutable_response());
    }
}

asio::awaitable<void> Line::exchanged_long(const v1::Request& request,
                                           const Link::Progress& progress,
                                           std::optional<v1::Response>& response) {
    co_await connection_.open();
    if (!connection_.is_up()) co_return;
    co_await send(request);
    Aside aside(io_);
    co_await wire::first_to_end(awaited(request, progress, aside, response), keep_up(aside));
    if (!response) connection_.drop();
}

asio::awaitable<void> Line::awaited(const v1::Request& request, const Link::Progress& progress,
                                    Aside& aside, std::optional<v1::Response>& response) {
    bool is_enough = false;
    v1::ServerFrame m;
    while (connection_.is_up() && !response) {
        co_await connection_.read(m);
        if (!connection_.is_up()) co_return;
        aside.silence.heard(Clock::now());
        if (!m.has_response()) continue;
        if (!m.response().has_progress()) {
            if (!answers(request, m.response())) co_return connection_.not_understood();
            response = std::move(*m.mutable_response());
        } else if (!is_enough && !progress(m.response().progress())) {
            is_enough = true;
            aside.enough = request.id();
            aside.due.cancel();
        }
    }
}

asio::awaitable<void> Line::watched(const Link::Watcher& watcher) {
    auto retry = Retry::of_watching();
    Watched so_far;
    while (true) {
        co_await connection_.open();
        auto what = Unanswered::unsent;
        if (connection_.is_up()) {
            what = Unanswered::sent;
            retry.succeeded();
            Aside aside(io_);
            ++so_far.in_vain;
            co_await wire::first_to_end(changes(watcher, aside, so_far), keep_up(aside));
            connection_.drop();
        }
        if (so_far.enough) co_return;
        const bool is_given_up = !watcher.is_patient && so_far.in_vain == sends_max;
        if (is_given_up || connection_.is_for_good()) what = Unanswered::for_good;
        const auto wait = retry.after(what, Clock::now());
        if (!wait) co_return;
        watcher.lost(connection_.why_not());
        co_await wire::pause(*wait);
    }
}

asio::awaitable<void> Line::changes(const Link::Watcher& watcher, Aside& aside, Watched& so_far) {
    v1::Request request;
    request.set_watch(true);
    co_await send(request);
    std::optional<v1::Change> change;
    const bool in_time = co_await within(patience_.answer, next_change(aside, change));
    if (!in_time) connection_.fail("the server does not answer");
    while (change && !so_far.enough) {
        so_far.in_vain = 0;
        so_far.enough = !watcher.change(*change);
        change.reset();
        if (!so_far.enough) co_await next_change(aside, change);
    }
}

/// None: the connection is lost.
asio::awaitable<void> Line::next_change(Aside& aside, std::optional<v1::Change>& change) {
    v1::ServerFrame m;
    while (connection_.is_up() && !change) {
        co_await connection_.read(m);
        if (!connection_.is_up()) co_return;
        aside.silence.heard(Clock::now());
        const bool is_fit = m.has_change()     ? is_understood(m.change())
                            : m.has_response() ? m.response().has_watching()
                                               : true;
        if (!is_fit) co_return connection_.not_understood();
        if (m.has_change()) change = std::move(*m.mutable_change());
    }
}

/// Until nothing was heard for too long.
asio::awaitable<void> Line::keep_up(Aside& aside) {
    while (connection_.is_up()) {
        const auto due = aside.silence.due(Clock::now());
        if (due == Silence::Due::giving_up) {
            connection_.fail("nothing is heard from the server");
            co_return;
        }
        if (due == Silence::Due::nothing && !aside.enough) {
            aside.due.expires_at(aside.silence.next());
            co_await aside.due.async_wait(quietly);
            const auto state = co_await asio::this_coro::cancellation_state;
            if (state.cancelled() != asio::cancellation_type::none) co_return;
            continue;
        }
        v1::ClientFrame m;
        if (aside.enough)
            m.set_enough(*std::exchange(aside.enough, std::nullopt));
        else
            m.set_ping(true);
        aside.silence.asked(Clock::now());
        co_await connection_.write(std::move(m));
    }
}

}  // namespace fieldpeg::link
