#pragma once

#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <boost/beast/websocket/stream.hpp>

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::testing {

namespace http = boost::beast::http;
using PageRequest = http::request<http::string_body>;
using PageResponse = http::response<http::string_body>;

/// What a browser does, and what none would: one connection to the page's server, over TLS or not.
class Browser {
public:
    enum class Scheme { http, https };

    Browser(std::uint16_t port, Scheme scheme, const std::string& from = "127.0.0.1",
            int receive_buffer = 0);

    /// As a page of the server's own would ask it.
    PageRequest request(http::verb method, const std::string& target) const;
    /// None: the connection ended without one.
    std::optional<PageResponse> ask(const PageRequest& request);
    std::optional<PageResponse> get(const std::string& target);
    std::optional<PageResponse> post(const std::string& target, const std::string& body);
    /// Anything at all.
    void send(std::string_view bytes);
    std::optional<PageResponse> read();
    /// All bytes up to the first `end` and with it; fewer: the connection ended.
    std::string read_raw(const std::string& end);
    /// Whether the server has ended the connection; waits for it.
    bool is_ended();

    /// Becomes a live connection, with a cookie if there is one. False: refused.
    bool listen(const std::string& origin, const std::string& cookie = "");
    void say(const std::string& text);
    void say(const v1::ClientFrame& frame);
    /// What is said next; none: it has ended.
    std::optional<v1::ServerFrame> hear();
    std::optional<std::string> hear_text();
    /// As it comes: with gzip, if it is long and that was asked for.
    std::optional<std::string> hear_bytes();
    /// The same, changes and welcomes passed over.
    std::optional<v1::Response> response();
    std::optional<v1::Answer> asked(const v1::Query& query);
    std::optional<v1::Reply> told(const v1::Command& command);

    std::string origin() const;

    bool takes_small = false;  ///< long messages with gzip, as the page asks for them

private:
    using Plain = boost::asio::ip::tcp::socket;
    using Private = boost::asio::ssl::stream<Plain&>;

    boost::asio::io_context io_;
    boost::asio::ssl::context tls_;
    Plain socket_;
    std::unique_ptr<Private> private_;
    std::unique_ptr<boost::beast::websocket::stream<Plain&>> live_;
    std::unique_ptr<boost::beast::websocket::stream<Private&>> private_live_;
    boost::beast::flat_buffer buffer_, heard_;
    std::string host_;
};

}  // namespace fieldpeg::testing
