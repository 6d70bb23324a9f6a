#include "server/wire/elsewhere.h"

#include "server/wire/authority.h"
#include "server/wire/conversation.h"
#include "server/wire/frame_stream.h"

#include <fmt/format.h>

#include <chrono>
#include <utility>

namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;

constexpr auto handshake_limit = 5s;

asio::awaitable<void> heard(asio::ssl::stream<asio::ip::tcp::socket>& stream) {
    const auto [error] = co_await stream.async_handshake(asio::ssl::stream_base::server, quietly);
    if (error) co_return;
    FrameChannel channel(client_frame_max);
    co_await receive(stream, channel);  // what they want; unread it could end what they read
}

asio::awaitable<void> told(asio::ssl::stream<asio::ip::tcp::socket>& stream, std::string holder) {
    v1::ServerFrame m;
    *m.mutable_goodbye() =
        refusal(v1::Refusal::unavailable, "", "this server waits to take the day over",
                holder.empty() ? "ask again in a second" : "ask the one that has it: " + holder);
    if (!holder.empty()) m.add_elsewhere(std::move(holder));
    FrameChannel channel(client_frame_max);
    channel.send(frame(m));
    co_await flush(stream, channel);
}

asio::awaitable<void> attend(asio::ip::tcp::socket socket, asio::ssl::context& tls,
                             std::function<std::string()> holder) {
    asio::ssl::stream<asio::ip::tcp::socket> stream(std::move(socket), tls);
    const bool in_time = co_await within(handshake_limit, heard(stream));
    if (!in_time) co_return;
    auto where = holder();
    co_await within(handshake_limit, told(stream, std::move(where)));
}

}  // namespace

std::string elsewhere_text(const Reach& reach) {
    const auto wire = authority(reach.host, reach.port);
    return reach.board_port == 0 ? wire : fmt::format("{}/{}", wire, reach.board_port);
}

Attend tell_elsewhere(asio::ssl::context& tls, std::function<std::string()> holder) {
    return [&tls, holder = std::move(holder)](asio::ip::tcp::socket socket) {
        return attend(std::move(socket), tls, holder);
    };
}

}  // namespace fieldpeg::wire
