#include "server/wire/discovery.h"

#include "server/wire/ticket.h"
#include "server/wire/within.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>

#include <array>
#include <charconv>
#include <utility>

namespace fieldpeg::wire {
namespace {

using asio::ip::udp;

constexpr std::string_view question = "fieldpeg 1 ?";
constexpr std::string_view answer_head = "fieldpeg 1 ";
constexpr std::size_t datagram_max = 256;

asio::awaitable<void> listen_for(udp::socket& socket, const std::string& fingerprint,
                                 std::optional<Found>& found) {
    std::array<char, datagram_max> bytes{};
    udp::endpoint from;
    while (true) {
        const auto [error, size] =
            co_await socket.async_receive_from(asio::buffer(bytes), from, quietly);
        if (error) co_return;
        found = read_notice({bytes.data(), size}, from.address().to_string());
        if (found && found->fingerprint == fingerprint) co_return;
        found.reset();
    }
}

}  // namespace

std::string notice(std::uint16_t port, std::string_view fingerprint) {
    return fmt::format("{}{} {}", answer_head, port, base32(fingerprint));
}

std::optional<Found> read_notice(std::string_view text, const std::string& from) {
    if (!text.starts_with(answer_head)) return std::nullopt;
    text.remove_prefix(answer_head.size());
    Found found{from, 0, ""};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), found.port);
    if (error != std::errc{} || found.port == 0 || end == text.data() + text.size() || *end != ' ')
        return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()) + 1);
    auto fingerprint = from_base32(text);
    if (!fingerprint || fingerprint->size() != fingerprint_bytes) return std::nullopt;
    found.fingerprint = *std::move(fingerprint);
    return found;
}

asio::awaitable<void> be_found(std::uint16_t port, std::string fingerprint) {
    const auto executor = co_await asio::this_coro::executor;
    udp::socket socket(executor);
    boost::system::error_code error;
    socket.open(udp::v4(), error);
    if (!error) socket.bind(udp::endpoint(udp::v4(), port), error);
    if (error) {
        spdlog::warn(
            "the server cannot be found by looking for it (UDP port {}: {}); tickets work all the "
            "same",
            port, error.message());
        asio::steady_timer never(executor, asio::steady_timer::time_point::max());
        co_await never.async_wait(quietly);
        co_return;
    }
    const auto reply = notice(port, fingerprint);
    std::array<char, datagram_max> bytes{};
    udp::endpoint from;
    while (true) {
        const auto [failed, size] =
            co_await socket.async_receive_from(asio::buffer(bytes), from, quietly);
        if (failed == asio::error::operation_aborted) co_return;
        if (failed) co_await pause(std::chrono::seconds(1));
        if (failed || std::string_view(bytes.data(), size) != question) continue;
        co_await socket.async_send_to(asio::buffer(reply), from, quietly);
    }
}

asio::awaitable<std::optional<Found>> find_server(std::uint16_t port, std::string fingerprint,
                                                  std::chrono::milliseconds limit) {
    const auto executor = co_await asio::this_coro::executor;
    udp::socket socket(executor);
    boost::system::error_code error;
    socket.open(udp::v4(), error);
    if (!error) socket.set_option(asio::socket_base::broadcast(true), error);
    std::optional<Found> found;
    if (error) co_return found;
    for (const auto& to : {asio::ip::address_v4::broadcast(), asio::ip::address_v4::loopback()})
        socket.send_to(asio::buffer(question), udp::endpoint(to, port), 0, error);
    co_await within(limit, listen_for(socket, fingerprint, found));
    co_return found;
}

}  // namespace fieldpeg::wire
