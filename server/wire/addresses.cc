#include "server/wire/addresses.h"

#include "server/wire/authority.h"

#include <fmt/format.h>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/udp.hpp>

#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <cstring>

namespace fieldpeg::wire {
namespace {

using asio::ip::tcp;

/// Without a way out (the laptop is its own hotspot): an address of an interface that is up.
std::string address_of_an_interface() {
    ifaddrs* all = nullptr;
    if (::getifaddrs(&all) != 0) return "127.0.0.1";
    std::string found = "127.0.0.1";
    for (const auto* one = all; one; one = one->ifa_next) {
        const bool counts = one->ifa_addr && one->ifa_addr->sa_family == AF_INET &&
                            (one->ifa_flags & IFF_UP) != 0 && (one->ifa_flags & IFF_LOOPBACK) == 0;
        if (!counts) continue;
        sockaddr_in address{};
        std::memcpy(&address, one->ifa_addr, sizeof address);
        found = asio::ip::address_v4(ntohl(address.sin_addr.s_addr)).to_string();
        break;
    }
    ::freeifaddrs(all);
    return found;
}

}  // namespace

Result<tcp::endpoint> read_endpoint(const char* flag, const std::string& written,
                                    std::uint16_t usual_port) {
    boost::system::error_code error;
    const auto alone = asio::ip::make_address(written, error);  // "::1", without brackets
    if (!error) return tcp::endpoint(alone, usual_port);
    if (const auto at = read_authority(written); at && at->is_address) {
        const auto address = asio::ip::make_address(at->host, error);
        if (!error) return tcp::endpoint(address, at->port.value_or(usual_port));
    }
    return Refusal{Refusal::Kind::malformed, flag, fmt::format("'{}' is no address", written),
                   fmt::format("for example 0.0.0.0:{0}, or [::]:{0}", usual_port)};
}

std::string own_address(const tcp::endpoint& listens) {
    if (!listens.address().is_unspecified()) return listens.address().to_string();
    asio::io_context io;
    asio::ip::udp::socket socket(io);
    boost::system::error_code error;
    socket.connect(asio::ip::udp::endpoint(asio::ip::make_address("192.0.2.1"), 9), error);
    const auto address = error ? asio::ip::address() : socket.local_endpoint(error).address();
    return error || address.is_unspecified() ? address_of_an_interface() : address.to_string();
}

}  // namespace fieldpeg::wire
