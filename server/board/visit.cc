#include "server/board/visit.h"

#include "server/board/byte_stream.h"
#include "server/board/live.h"
#include "server/service/secret.h"
#include "server/wire/rest.h"
#include "server/wire/ticket.h"
#include "server/wire/within.h"

#include <spdlog/spdlog.h>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/write.hpp>
#include <boost/beast/websocket/rfc6455.hpp>

#include <exception>
#include <optional>
#include <utility>

namespace fieldpeg::board {
namespace {

namespace beast = boost::beast;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using wire::quietly;
using wire::refusal;
using wire::within;

Response response(http::status status, std::string_view type, std::string body) {
    Response r(status, 11);
    r.set(http::field::content_type, type);
    r.body() = std::move(body);
    return r;
}

Response refused(http::status status, const v1::Refusal& why) {
    return response(status, "application/json", v1::json_text(why, terse));
}

http::status status_of(const beast::error_code& error) {
    if (error == http::error::header_limit) return http::status::request_header_fields_too_large;
    if (error == http::error::body_limit) return http::status::payload_too_large;
    return http::status::bad_request;
}

class Visit {
public:
    Visit(tcp::socket socket, Endpoint& endpoint)
        : stream_(std::move(socket)), endpoint_(endpoint), rest_(stream_.get_executor()) {
        boost::system::error_code ignored;  // a socket that has no address has no life either
        visitor_.from = stream_.next_layer().remote_endpoint(ignored).address();
        stream_.next_layer().set_option(tcp::no_delay(true), ignored);
    }
    Visit(const Visit&) = delete;
    Visit& operator=(const Visit&) = delete;

    asio::awaitable<void> attend() {
        visitor_.place = endpoint_.places.take(visitor_.from, [this] { hang_up(); });
        if (!visitor_.place) {
            spdlog::warn("a visit was not taken: all places are taken");
            co_return;
        }
        co_await rest_.take(endpoint_.gate.arrived(visitor_.from, now()));
        if (!stream_.next_layer().is_open()) co_return;
        const bool in_time = co_await within(endpoint_.limits.handshake, detect());
        if (!in_time || error_) co_return;
        if (starts_tls_) {
            stream_.begin_tls(endpoint_.tls);
            const bool shaken = co_await within(endpoint_.limits.handshake, shake());
            if (!shaken || error_) co_return;
        }
        co_await serve();
    }

private:
    /// TLS begins with a record of this kind [RFC8446, 5.1], which no HTTP does.
    static constexpr char tls_handshake = 22;
    /// Of a page, beside a question of the day.
    static constexpr double page_weight = 0.25;

    static wire::Gate::Time now() { return std::chrono::steady_clock::now(); }

    /// Somebody else needs the place.
    void hang_up() {
        boost::system::error_code ignored;
        stream_.next_layer().close(ignored);
        rest_.end();
        if (visitor_.leave) visitor_.leave();
    }

    asio::awaitable<void> detect() {
        auto& socket = stream_.next_layer();
        const auto [error] = co_await socket.async_wait(tcp::socket::wait_read, quietly);
        error_ = error;
        if (error_) co_return;
        char first = 0;
        socket.receive(asio::buffer(&first, 1), tcp::socket::message_peek, error_);
        starts_tls_ = first == tls_handshake;
    }

    asio::awaitable<void> shake() {
        const auto [error] =
            co_await stream_.tls()->async_handshake(asio::ssl::stream_base::server, quietly);
        error_ = error;
    }

    /// One request after the other, until one becomes a live connection or wants no other.
    asio::awaitable<void> serve() {
        bool goes_on = true;
        while (goes_on) {
            http::request_parser<http::string_body> parser;
            parser.header_limit(static_cast<std::uint32_t>(endpoint_.limits.header_bytes));
            parser.body_limit(endpoint_.limits.body_bytes);
            const bool in_time = co_await within(endpoint_.limits.idle, read(parser));
            if (!in_time || error_ == http::error::end_of_stream) co_return;
            if (error_ && error_.category() != http::make_error_code(http::error{}).category())
                co_return;
            auto request = parser.release();
            if (!error_ && websocket::is_upgrade(request)) {
                co_await go_live(std::move(request));
                co_return;
            }
            goes_on = !error_ && request.keep_alive();
            Response reply;
            if (error_)
                reply = refused(status_of(error_),
                                refusal(v1::Refusal::malformed, "request", error_.message(), ""));
            else
                reply = co_await answer(request, stream_.is_private());
            protect(reply, request, endpoint_.site, stream_.is_private());
            reply.keep_alive(goes_on);
            reply.prepare_payload();
            if (reply.result() == http::status::not_modified)
                reply.erase(http::field::content_length);  // not 0 [RFC9110, 8.6]
            if (request.method() == http::verb::head) reply.body().clear();
            const bool written = co_await within(endpoint_.limits.write, write(reply));
            if (!written || error_) co_return;
            co_await rest_.take(endpoint_.gate.asked(visitor_.from, now(), page_weight));
        }
    }

    asio::awaitable<void> read(http::request_parser<http::string_body>& parser) {
        const auto [error, size] = co_await http::async_read(stream_, buffer_, parser, quietly);
        error_ = error;
    }

    asio::awaitable<void> write(Response& reply) {
        const auto [error, size] = co_await http::async_write(stream_, reply, quietly);
        error_ = error;
    }

    asio::awaitable<Response> answer(const Request& request, bool with_tls) {
        if (!is_own_name(host_of(request), endpoint_.site))
            co_return refused(http::status::misdirected_request,
                              refusal(v1::Refusal::malformed, "host", "is no name of this server",
                                      "use its address, or start fieldpegd with --host NAME"));
        const auto path = path_of(request);
        const bool acts = path == "/enter" || path == "/leave";
        if (acts) {
            auto reply = co_await act(request, path == "/enter", with_tls);
            co_return reply;
        }
        const auto* page = endpoint_.pages.at(path);
        if (!page)
            co_return response(http::status::not_found, "text/plain", "there is no such page\n");
        if (request.method() != http::verb::get && request.method() != http::verb::head)
            co_return response(http::status::method_not_allowed, "text/plain",
                               "pages can only be read\n");
        co_return given(*page, request);
    }

    /// In with a ticket, or out.
    asio::awaitable<Response> act(const Request& request, bool enters, bool with_tls) {
        if (request.method() != http::verb::post)
            co_return response(http::status::method_not_allowed, "text/plain", "use POST\n");
        if (!with_tls)
            co_return refused(http::status::forbidden,
                              refusal(v1::Refusal::not_permitted, "",
                                      "a ticket is not taken over an open connection",
                                      "open the page with https://"));
        if (!is_own_page(request, true, true))
            co_return refused(
                http::status::forbidden,
                refusal(v1::Refusal::not_permitted, "origin", "another page may not act here", ""));
        if (enters) {
            auto reply = co_await enter(request);
            co_return reply;
        }
        auto gone = response(http::status::ok, "application/json", "{}");
        gone.set(http::field::set_cookie, cookie(""));
        co_return gone;
    }

    /// With a ticket, or with none and then to wait for the marshal's nod.
    asio::awaitable<Response> enter(const Request& request) {
        v1::PageEntrance asked;
        if (!v1::read_json(request.body(), asked))
            co_return refused(http::status::bad_request,
                              refusal(v1::Refusal::malformed, "body", "is no wish to join", ""));
        const bool knocks = asked.secret().empty();
        const auto key = service::random_bytes(service::key_bytes);
        service::Entrance entrance;
        if (const auto secret = wire::from_base32(asked.secret())) entrance.secret = *secret;
        if (entrance.secret.empty())
            entrance.secret = asked.secret();  // no ticket is not a bad one
        if (!wire::may_join(entrance.secret, endpoint_.desk.keeper(), endpoint_.gate,
                            visitor_.from))
            co_return refused(http::status::too_many_requests, wire::too_many_join());
        entrance.name = asked.name();
        entrance.key_hash = service::Keeper::hash_of(key);
        const auto key_hash = entrance.key_hash;
        const auto reply = co_await endpoint_.desk.enter(std::move(entrance));
        const auto* who = endpoint_.desk.keeper().person_with(key_hash);
        if (!reply.has_done() || !who) {
            const bool was_wrong = reply.refusal().kind() != v1::Refusal::unavailable;
            if (!knocks && was_wrong)
                co_await rest_.take(endpoint_.gate.failed(visitor_.from, now()));
            co_return refused(http::status::forbidden, reply.refusal());
        }
        auto welcome = response(http::status::ok, "application/json", v1::json_text(*who, terse));
        welcome.set(http::field::set_cookie, cookie(key));
        co_return welcome;
    }

    asio::awaitable<void> go_live(Request request) {
        const bool with_tls = stream_.is_private();
        const bool is_ours = is_own_name(host_of(request), endpoint_.site) &&
                             is_own_page(request, with_tls, with_tls) &&
                             path_of(request) == "/live";
        if (is_ours) {
            co_await live(stream_, std::move(request), endpoint_, visitor_);
            co_return;
        }
        auto reply = refused(
            http::status::forbidden,
            refusal(v1::Refusal::not_permitted, "origin", "another page may not listen here", ""));
        protect(reply, request, endpoint_.site, with_tls);
        reply.keep_alive(false);
        reply.prepare_payload();
        co_await within(endpoint_.limits.write, write(reply));
    }

    static std::string_view host_of(const Request& request) {
        const auto host = request[http::field::host];
        return {host.data(), host.size()};
    }

    ByteStream stream_;
    Endpoint& endpoint_;
    wire::Rest rest_;
    Visitor visitor_;
    beast::flat_buffer buffer_;
    beast::error_code error_;  ///< of what was awaited last
    bool starts_tls_ = false;
};

}  // namespace

asio::awaitable<void> visit(tcp::socket socket, Endpoint& endpoint) {
    Visit one(std::move(socket), endpoint);
    try {
        co_await one.attend();
    } catch (const std::exception& failure) {
        if (wire::was_cancelled(std::current_exception())) co_return;
        spdlog::error("a visit to the page failed: {}", failure.what());  // the day goes on
    }
}

}  // namespace fieldpeg::board
