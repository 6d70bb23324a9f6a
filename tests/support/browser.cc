#include "tests/support/browser.h"

#include "tests/support/gunzip.h"

#include <google/protobuf/util/json_util.h>
#include <boost/asio/buffer.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/write.hpp>
#include <boost/beast/websocket/rfc6455.hpp>

#include <stdexcept>
#include <utility>

namespace fieldpeg::testing {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using asio::ip::tcp;

Browser::Browser(std::uint16_t port, Scheme scheme, const std::string& from, int receive_buffer)
    : tls_(asio::ssl::context::tls_client),
      socket_(io_),
      host_("127.0.0.1:" + std::to_string(port)) {
    socket_.open(tcp::v4());
    if (receive_buffer > 0)
        socket_.set_option(asio::socket_base::receive_buffer_size(receive_buffer));
    socket_.bind({asio::ip::make_address(from), 0});
    socket_.connect({asio::ip::address_v4::loopback(), port});
    if (scheme == Scheme::http) return;
    private_ = std::make_unique<Private>(socket_, tls_);
    private_->handshake(asio::ssl::stream_base::client);
}

std::string Browser::origin() const {
    return (private_ ? "https://" : "http://") + host_;
}

PageRequest Browser::request(http::verb method, const std::string& target) const {
    PageRequest r(method, target, 11);
    r.set(http::field::host, host_);
    r.set(http::field::origin, origin());
    return r;
}

std::optional<PageResponse> Browser::ask(const PageRequest& request) {
    beast::error_code error;
    if (private_)
        http::write(*private_, request, error);
    else
        http::write(socket_, request, error);
    return read();
}

std::optional<PageResponse> Browser::read() {
    beast::error_code error;
    PageResponse response;
    if (private_)
        http::read(*private_, buffer_, response, error);
    else
        http::read(socket_, buffer_, response, error);
    if (error) return std::nullopt;
    return response;
}

std::optional<PageResponse> Browser::get(const std::string& target) {
    return ask(request(http::verb::get, target));
}

std::optional<PageResponse> Browser::post(const std::string& target, const std::string& body) {
    auto r = request(http::verb::post, target);
    r.set(http::field::content_type, "application/json");
    r.body() = body;
    r.prepare_payload();
    return ask(r);
}

void Browser::send(std::string_view bytes) {
    beast::error_code ended;  // then reading tells
    if (private_)
        asio::write(*private_, asio::buffer(bytes), ended);
    else
        asio::write(socket_, asio::buffer(bytes), ended);
}

std::string Browser::read_raw(const std::string& end) {
    beast::error_code ended;
    std::string bytes;
    if (private_)
        asio::read_until(*private_, asio::dynamic_buffer(bytes), end, ended);
    else
        asio::read_until(socket_, asio::dynamic_buffer(bytes), end, ended);
    return bytes;
}

bool Browser::is_ended() {
    beast::error_code error;
    char byte = 0;
    if (private_)
        private_->read_some(asio::buffer(&byte, 1), error);
    else
        socket_.read_some(asio::buffer(&byte, 1), error);
    return error.failed();
}

bool Browser::listen(const std::string& origin, const std::string& cookie) {
    const auto decorate = [origin, cookie, small = takes_small](websocket::request_type& r) {
        if (small) r.set(http::field::sec_websocket_protocol, "fieldpeg.gzip");
        if (!origin.empty()) r.set(http::field::origin, origin);
        if (!cookie.empty()) r.set(http::field::cookie, cookie);
    };
    beast::error_code error;
    if (private_) {
        private_live_ = std::make_unique<websocket::stream<Private&>>(*private_);
        private_live_->set_option(websocket::stream_base::decorator(decorate));
        private_live_->handshake(host_, "/live", error);
    } else {
        live_ = std::make_unique<websocket::stream<Plain&>>(socket_);
        live_->set_option(websocket::stream_base::decorator(decorate));
        live_->handshake(host_, "/live", error);
    }
    return !error;
}

void Browser::say(const std::string& text) {
    beast::error_code ended;
    if (private_live_)
        private_live_->write(asio::buffer(text), ended);
    else
        live_->write(asio::buffer(text), ended);
}

void Browser::say(const v1::ClientFrame& frame) {
    std::string text;
    if (!google::protobuf::util::MessageToJsonString(frame, &text).ok())
        throw std::runtime_error("a frame that is no JSON");
    say(text);
}

std::optional<std::string> Browser::hear_bytes() {
    beast::error_code error;
    if (private_live_)
        private_live_->read(heard_, error);
    else
        live_->read(heard_, error);
    if (error) return std::nullopt;
    auto text = beast::buffers_to_string(heard_.data());
    heard_.consume(heard_.size());
    return text;
}

std::optional<std::string> Browser::hear_text() {
    auto bytes = hear_bytes();
    const bool is_binary = private_live_ ? private_live_->got_binary() : live_->got_binary();
    if (bytes && is_binary) return gunzipped(*bytes);
    return bytes;
}

std::optional<v1::ServerFrame> Browser::hear() {
    const auto text = hear_text();
    if (!text) return std::nullopt;
    v1::ServerFrame frame;
    if (!google::protobuf::util::JsonStringToMessage(*text, &frame).ok())
        throw std::runtime_error("the server said what is no frame: " + *text);
    return frame;
}

std::optional<v1::Response> Browser::response() {
    while (auto frame = hear())
        if (frame->has_response()) return std::move(*frame->mutable_response());
    return std::nullopt;
}

std::optional<v1::Answer> Browser::asked(const v1::Query& query) {
    v1::ClientFrame frame;
    frame.mutable_request()->set_id(7);
    *frame.mutable_request()->mutable_query() = query;
    say(frame);
    auto m = response();
    if (!m) return std::nullopt;
    return std::move(*m->mutable_answer());
}

std::optional<v1::Reply> Browser::told(const v1::Command& command) {
    v1::ClientFrame frame;
    frame.mutable_request()->set_id(8);
    *frame.mutable_request()->mutable_command() = command;
    say(frame);
    auto m = response();
    if (!m) return std::nullopt;
    return std::move(*m->mutable_reply());
}

}  // namespace fieldpeg::testing
