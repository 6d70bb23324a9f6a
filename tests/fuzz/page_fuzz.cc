// Whatever a browser, or what is no browser, says to the page's server before anybody knows it:
// HTTP, WebSocket, JSON. A whole visit, over a pair of sockets instead of the network; nothing is
// waited for. The first byte says where the bytes begin: at the request, behind the upgrade to a
// WebSocket, or within one of its messages.

#include "server/board/visit.h"
#include "server/wire/identity.h"
#include "tests/support/kept_day.h"
#include "tests/support/rates.h"

#include <spdlog/details/null_mutex.h>
#include <spdlog/sinks/base_sink.h>
#include <spdlog/spdlog.h>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

#include <sys/socket.h>
#include <unistd.h>
#include <array>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <string>
#include <string_view>

namespace fieldpeg {
namespace {

namespace asio = boost::asio;

constexpr std::string_view upgrade =
    "GET /live HTTP/1.1\r\nHost: 127.0.0.1:7324\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
    "Origin: http://127.0.0.1:7324\r\nSec-WebSocket-Version: 13\r\n"
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n";

/// A visit that fails is told to the server's log and nobody else: here it is what is looked for.
class NoErrors : public spdlog::sinks::base_sink<spdlog::details::null_mutex> {
protected:
    void sink_it_(const spdlog::details::log_msg& said) override {
        if (said.level >= spdlog::level::err) std::abort();
    }
    void flush_() override {}
};

/// A day and what the page's server needs of it.
struct World {
    testing::KeptDay day;
    asio::io_context io;
    testing::TemporaryFolder folder;
    wire::Identity identity = wire::identity_at(folder.at("identity.pem")).value();
    asio::ssl::context tls = wire::server_context(identity);
    service::Desk desk{io.get_executor(), day.keeper(), [] { return 1'800'000'100'000; }};
    wire::Gate gate{testing::unhurried};
    board::Endpoint endpoint{
        desk,
        tls,
        gate,
        {{"pegs.example.org"}, "A day", identity.fingerprint, "http://pegs.example.org:7324/hello"},
        {},
        board::json_form()};
};

/// A message in one frame, masked with zeros [RFC6455, 5.2].
std::string framed(std::string_view message) {
    std::string bytes = "\x81";
    if (message.size() < 126) {
        bytes += static_cast<char>(0x80 | message.size());
    } else {
        bytes += static_cast<char>(0x80 | 126);
        bytes += static_cast<char>(message.size() >> 8);
        bytes += static_cast<char>(message.size() & 0xff);
    }
    return bytes.append(4, '\0').append(message);
}

std::string bytes_of(std::string_view input) {
    if (input.starts_with('w')) return std::string(upgrade).append(input.substr(1));
    if (input.starts_with('m')) return std::string(upgrade).append(framed(input.substr(1)));
    return std::string(input.substr(std::min<std::size_t>(1, input.size())));
}

/// What has come is dropped; false: the other end is closed.
bool drain(int end) {
    static std::array<char, 65'536> dropped{};
    while (true) {
        const auto size = ::recv(end, dropped.data(), dropped.size(), MSG_DONTWAIT);
        if (size == 0) return false;
        if (size < 0) return true;
    }
}

/// Until nothing happens any more but by time.
void settle(asio::io_context& io, int end) {
    io.restart();
    while (io.poll() > 0) drain(end);
}

void visit(World& world, const std::string& bytes) {
    int ends[2];
    if (::socketpair(AF_UNIX, SOCK_STREAM, 0, ends) != 0) std::abort();
    asio::ip::tcp::socket socket(world.io);
    socket.assign(asio::ip::tcp::v4(), ends[0]);
    asio::cancellation_signal stop;
    bool is_over = false;
    asio::co_spawn(world.io, board::visit(std::move(socket), world.endpoint),
                   asio::bind_cancellation_slot(stop.slot(), [&](std::exception_ptr failure) {
                       is_over = true;
                       if (failure) std::abort();
                   }));
    if (::send(ends[1], bytes.data(), bytes.size(), MSG_NOSIGNAL) < 0) std::abort();
    settle(world.io, ends[1]);
    ::shutdown(ends[1], SHUT_WR);
    settle(world.io, ends[1]);
    if (!is_over) stop.emit(asio::cancellation_type::terminal);
    settle(world.io, ends[1]);
    ::close(ends[1]);
    settle(world.io, -1);
    if (!is_over) std::abort();  // nobody is visited for ever
    if (world.endpoint.places.size() != 0) std::abort();
}

}  // namespace
}  // namespace fieldpeg

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    static auto& world = *[] {
        spdlog::set_default_logger(
            std::make_shared<spdlog::logger>("", std::make_shared<fieldpeg::NoErrors>()));
        return new fieldpeg::World();
    }();
    const auto bytes = fieldpeg::bytes_of({reinterpret_cast<const char*>(data), size});
    fieldpeg::visit(world, bytes);
    return 0;
}
