#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/async_result.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/beast/core/role.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <boost/beast/websocket/teardown.hpp>

#include <cstddef>
#include <optional>
#include <utility>

namespace fieldpeg::board {

namespace asio = boost::asio;

/// A connection over TLS or without, to be decided once it is open. One type for both, so that what
/// reads and writes over it is compiled once.
class ByteStream {
public:
    using Socket = asio::ip::tcp::socket;
    using Private = asio::ssl::stream<Socket&>;
    // NOLINTBEGIN(readability-identifier-naming): as Asio asks for them
    using executor_type = Socket::executor_type;
    using next_layer_type = Socket;
    using lowest_layer_type = Socket::lowest_layer_type;
    // NOLINTEND(readability-identifier-naming)

    explicit ByteStream(Socket socket) : socket_(std::move(socket)) {}

    executor_type get_executor() { return socket_.get_executor(); }
    Socket& next_layer() { return socket_; }
    lowest_layer_type& lowest_layer() { return socket_.lowest_layer(); }

    /// From now on all goes through TLS; the handshake is the caller's.
    Private& begin_tls(asio::ssl::context& tls) { return tls_.emplace(socket_, tls); }
    Private* tls() { return tls_ ? &*tls_ : nullptr; }
    bool is_private() const { return tls_.has_value(); }

    template <class Buffers, class Token>
    auto async_read_some(const Buffers& buffers, Token&& token) {
        return asio::async_initiate<Token, void(boost::system::error_code, std::size_t)>(
            [this](auto handler, const Buffers& into) {
                if (tls_)
                    tls_->async_read_some(into, std::move(handler));
                else
                    socket_.async_read_some(into, std::move(handler));
            },
            token, buffers);
    }

    template <class Buffers, class Token>
    auto async_write_some(const Buffers& buffers, Token&& token) {
        return asio::async_initiate<Token, void(boost::system::error_code, std::size_t)>(
            [this](auto handler, const Buffers& from) {
                if (tls_)
                    tls_->async_write_some(from, std::move(handler));
                else
                    socket_.async_write_some(from, std::move(handler));
            },
            token, buffers);
    }

private:
    Socket socket_;
    std::optional<Private> tls_;
};

/// How a WebSocket ends its stream: found by Beast by its arguments.
template <class Handler>
void async_teardown(boost::beast::role_type role, ByteStream& stream, Handler&& handler) {
    using boost::beast::websocket::async_teardown;
    if (stream.is_private())
        async_teardown(role, *stream.tls(), std::forward<Handler>(handler));
    else
        async_teardown(role, stream.next_layer(), std::forward<Handler>(handler));
}

}  // namespace fieldpeg::board
