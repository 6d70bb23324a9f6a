#include "server/board/live.h"

#include "server/board/gzip.h"
#include "server/wire/within.h"

#include <boost/asio/this_coro.hpp>
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/rfc7230.hpp>
#include <boost/beast/websocket/stream.hpp>

#include <cstddef>
#include <exception>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace fieldpeg::board {
namespace {

namespace beast = boost::beast;
namespace websocket = beast::websocket;
using wire::quietly;
using wire::refusal;
using wire::within;

/// As a browser asks for it [RFC6455, 1.9].
constexpr auto small_protocol = "fieldpeg.gzip";
constexpr std::string_view gzip_begins = "\x1f\x8b";  // as no JSON does [RFC1952, 2.3.1]
constexpr std::size_t long_bytes = 1024;              ///< what is shorter is one packet anyway

bool takes_small(const Request& request) {
    return beast::http::token_list(request[http::field::sec_websocket_protocol])
        .exists(small_protocol);
}

class Live {
public:
    Live(ByteStream& stream, Endpoint& endpoint, Visitor& visitor, bool takes_small)
        : endpoint_(endpoint),
          visitor_(visitor),
          socket_(stream),
          takes_small_(takes_small),
          conversation_(stream.get_executor(), endpoint.desk,
                        takes_small ? endpoint.small_form : endpoint.form, endpoint.gate,
                        visitor.from, endpoint.limits.changes_queued) {
        visitor_.leave = [this] { conversation_.leave(wire::others_need_the_place()); };
    }
    ~Live() { visitor_.leave = nullptr; }
    Live(const Live&) = delete;
    Live& operator=(const Live&) = delete;

    asio::awaitable<void> run(const Request& request, bool is_private) {
        websocket::stream_base::timeout times;
        times.handshake_timeout = endpoint_.limits.handshake;
        times.idle_timeout = endpoint_.limits.silence;
        times.keep_alive_pings = true;
        socket_.set_option(times);
        socket_.read_message_max(endpoint_.limits.message_bytes);
        if (takes_small_)
            socket_.set_option(websocket::stream_base::decorator([](auto& response) {
                response.set(beast::http::field::sec_websocket_protocol, small_protocol);
            }));
        const auto [error] = co_await socket_.async_accept(request, quietly);
        if (error) co_return;

        const auto key = is_private ? key_in(request) : std::nullopt;
        if (key) {
            auto key_hash = service::Keeper::hash_of(*key);
            if (const auto* who = endpoint_.desk.keeper().person_with(key_hash)) {
                visitor_.place->belongs_to(who->id());
                conversation_.let_in(*who, std::move(key_hash));
            }
        }
        conversation_.welcome();
        // Whoever is cancelled between two things that it awaits gets an exception from the second.
        try {
            co_await wire::first_to_end(listen(), tell());
        } catch (const std::exception& failure) {
            if (!wire::was_cancelled(std::current_exception())) conversation_.fail(failure);
        }
        co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
        if (error_) co_return;
        auto last = conversation_.goodbye();
        co_await within(endpoint_.limits.goodbye, say(std::move(last)));
        co_await within(endpoint_.limits.goodbye, close());
    }

private:
    asio::awaitable<void> listen() {
        beast::flat_buffer heard;
        bool goes_on = true;
        while (goes_on) {
            const auto [error, size] = co_await socket_.async_read(heard, quietly);
            if (error) {
                if (error == websocket::error::message_too_big)
                    conversation_.refuse(
                        refusal(v1::Refusal::out_of_range, "message", "is too long", ""));
                else
                    error_ = error;
                co_return;
            }
            v1::ClientFrame frame;
            const bool is_frame = v1::read_json(beast::buffers_to_string(heard.data()), frame);
            heard.consume(heard.size());
            if (!is_frame) {
                conversation_.refuse(refusal(v1::Refusal::malformed, "message",
                                             "is no message of this protocol",
                                             "load the page again"));
                co_return;
            }
            goes_on = co_await conversation_.take(std::move(frame));
        }
    }

    asio::awaitable<void> tell() {
        try {
            co_await tell_what_is_owed();
        } catch (const std::exception& mistake) {
            if (wire::was_cancelled(std::current_exception())) throw;
            conversation_.fail(mistake);
        }
        const auto state = co_await asio::this_coro::cancellation_state;
        if (error_ || state.cancelled() != asio::cancellation_type::none) co_return;
        // Now: once listening is given up, nothing can be said any more.
        auto last = conversation_.goodbye();
        co_await within(endpoint_.limits.goodbye, say(std::move(last)));
        error_ = asio::error::shut_down;
    }

    asio::awaitable<void> tell_what_is_owed() {
        while (!error_) {
            auto next = co_await conversation_.next();
            if (!next) co_return;
            const bool in_time = co_await within(endpoint_.limits.write, say(std::move(next)));
            if (!in_time) error_ = asio::error::timed_out;
        }
    }

    asio::awaitable<void> say(wire::Frame bytes) {
        socket_.binary(bytes->starts_with(gzip_begins));
        const auto [error, size] = co_await socket_.async_write(asio::buffer(*bytes), quietly);
        if (error) error_ = error;
    }

    asio::awaitable<void> close() {
        const auto [error] = co_await socket_.async_close(websocket::close_code::normal, quietly);
        error_ = error;
    }

    Endpoint& endpoint_;
    Visitor& visitor_;
    /// Without compression: it would cost memory for each phone, and be done for each.
    websocket::stream<ByteStream&, false> socket_;
    bool takes_small_;
    wire::Conversation conversation_;
    beast::error_code error_;  ///< of what was awaited last
};

}  // namespace

wire::Form json_form() {
    return wire::Form([](const v1::ServerFrame& m) {
        return std::make_shared<const std::string>(v1::json_text(m, terse));
    });
}

wire::Form small_json_form() {
    return wire::Form([](const v1::ServerFrame& m) {
        auto text = v1::json_text(m, terse);
        if (text.size() >= long_bytes) text = gzipped(text, Effort::usual);
        return std::make_shared<const std::string>(std::move(text));
    });
}

asio::awaitable<void> live(ByteStream& stream, Request request, Endpoint& endpoint,
                           Visitor& visitor) {
    Live one(stream, endpoint, visitor, takes_small(request));
    co_await one.run(request, stream.is_private());
}

}  // namespace fieldpeg::board
