#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// How a client finds a server on the local network whose address it does not know: it asks by UDP
/// broadcast on the server's port, and servers answer with their port and fingerprint. Nothing is
/// trusted that comes this way: the fingerprint is held against the ticket's when connecting.
namespace fieldpeg::wire {

namespace asio = boost::asio;

/// Where a server was found.
struct Found {
    std::string host;
    std::uint16_t port;
    std::string fingerprint;
};

/// What a server says of itself: "fieldpeg 1 PORT FINGERPRINT", the last in base 32.
std::string notice(std::uint16_t port, std::string_view fingerprint);
/// None if it is no such notice.
std::optional<Found> read_notice(std::string_view text, const std::string& from);

/// Answers those who look for a server, until cancelled. Where the port is taken it only says so
/// in the program's log: tickets work without it.
asio::awaitable<void> be_found(std::uint16_t port, std::string fingerprint);

/// Looks for the server with this fingerprint; none if nobody answers in time.
asio::awaitable<std::optional<Found>> find_server(std::uint16_t port, std::string fingerprint,
                                                  std::chrono::milliseconds limit);

}  // namespace fieldpeg::wire
