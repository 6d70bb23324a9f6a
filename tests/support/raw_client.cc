#include "tests/support/raw_client.h"

#include "server/log/hash.h"
#include "server/wire/frame.h"
#include "server/wire/session.h"

#include <openssl/ssl.h>
#include <boost/asio/buffer.hpp>
#include <boost/asio/write.hpp>

#include <linux/sockios.h>
#include <sys/ioctl.h>
#include <thread>
#include <utility>

namespace fieldpeg::testing {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;

asio::ssl::context context(const RawSettings& settings) {
    asio::ssl::context tls(asio::ssl::context::tls_client);
    if (settings.only_tls_1_2) SSL_CTX_set_max_proto_version(tls.native_handle(), TLS1_2_VERSION);
    return tls;
}

}  // namespace

RawClient::RawClient(std::uint16_t port, const RawSettings& settings)
    : tls_(context(settings)), stream_(io_, tls_) {
    auto& socket = stream_.next_layer();
    socket.open(tcp::v4());
    if (settings.receive_buffer > 0)
        socket.set_option(asio::socket_base::receive_buffer_size(settings.receive_buffer));
    socket.bind({asio::ip::make_address(settings.from), 0});
    socket.connect({asio::ip::address_v4::loopback(), port});
    boost::system::error_code error;
    stream_.handshake(asio::ssl::stream_base::client, error);
    secure_ = !error;
}

void RawClient::send(std::string_view bytes) {
    boost::system::error_code ended;  // then reading tells
    asio::write(stream_, asio::buffer(bytes), ended);
}

void RawClient::send(const v1::ClientFrame& frame) {
    send(*wire::frame(frame));
}

void RawClient::wait_until_arrived() {
    for (int on_its_way = 1; on_its_way > 0; std::this_thread::yield())
        if (::ioctl(stream_.next_layer().native_handle(), SIOCOUTQ, &on_its_way) != 0) return;
}

std::optional<v1::ServerFrame> RawClient::read() {
    v1::ServerFrame frame;
    while (true) {
        const auto next = channel_.next(frame);
        if (!next) return std::nullopt;
        if (*next) break;
        const auto room = channel_.room();
        boost::system::error_code ended;
        channel_.arrived(stream_.read_some(asio::buffer(room.data(), room.size()), ended));
        if (ended) return std::nullopt;
    }
    if (frame.has_goodbye()) goodbye_ = frame.goodbye();
    return frame;
}

std::optional<v1::Refusal> RawClient::goodbye() {
    while (read()) {
    }
    return goodbye_;
}

void RawClient::close() {
    stream_.next_layer().close();
}

std::optional<v1::Welcome> RawClient::welcomed() {
    const auto frame = read();
    if (!frame || !frame->has_welcome()) return std::nullopt;
    return frame->welcome();
}

std::optional<v1::Welcome> RawClient::hello(const std::string& key) {
    send(hello_with(key));
    return welcomed();
}

std::optional<v1::Welcome> RawClient::join(const wire::Ticket& ticket, const std::string& name,
                                           const std::string& key) {
    send(wish_to_join(ticket, name, key));
    return welcomed();
}

void RawClient::ask(const v1::Command& command, const std::string& idempotency_key,
                    std::uint64_t id) {
    v1::ClientFrame frame;
    auto& request = *frame.mutable_request();
    request.set_id(id);
    request.set_idempotency_key(idempotency_key);
    *request.mutable_command() = command;
    send(frame);
}

std::optional<v1::Reply> RawClient::send(const v1::Command& command,
                                         const std::string& idempotency_key) {
    ask(command, idempotency_key);
    while (auto frame = read())
        if (frame->response().has_reply()) return frame->response().reply();
    return std::nullopt;
}

void RawClient::watch() {
    v1::ClientFrame frame;
    frame.mutable_request()->set_watch(true);
    send(frame);
}

v1::ClientFrame hello_with(const std::string& key) {
    v1::ClientFrame frame;
    frame.mutable_hello()->set_protocol(wire::protocol_version);
    frame.mutable_hello()->set_key(key);
    return frame;
}

v1::ClientFrame wish_to_join(const wire::Ticket& ticket, const std::string& name,
                             const std::string& key) {
    v1::ClientFrame frame;
    auto& hello = *frame.mutable_hello();
    hello.set_protocol(wire::protocol_version);
    hello.mutable_join()->set_secret(ticket.secret);
    hello.mutable_join()->set_name(name);
    hello.mutable_join()->set_key_hash(log::sha256(key));
    return frame;
}

}  // namespace fieldpeg::testing
