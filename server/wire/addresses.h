#pragma once

#include "server/refusal/refusal.h"

#include <boost/asio/ip/tcp.hpp>

#include <cstdint>
#include <string>

/// Where a server listens, and by what address others reach it.
namespace fieldpeg::wire {

namespace asio = boost::asio;

/// "ADDRESS:PORT", "[ADDRESS]:PORT", or an address alone. `flag` says where it was written.
Result<asio::ip::tcp::endpoint> read_endpoint(const char* flag, const std::string& written,
                                              std::uint16_t usual_port);

/// The address by which others on the network know this machine: the one that it listens on, or
/// that of the way out. Nothing is sent.
std::string own_address(const asio::ip::tcp::endpoint& listens);

}  // namespace fieldpeg::wire
