#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// A host with its port, as addresses, tickets and browsers write them [RFC3986, 3.2].
namespace fieldpeg::wire {

struct Authority {
    std::string host;  ///< an address, without brackets, or a name
    bool is_address = false;
    std::optional<std::uint16_t> port = {};

    bool operator==(const Authority&) const = default;
};

/// "pegs.local:7323", "192.0.2.7:7323", "[2001:db8::7]:7323".
std::string authority(std::string_view host, std::uint16_t port);

/// The same read back; the port may be left out, and an address may have a zone, as
/// "[fe80::1%wlan0]". None if it is no such thing.
std::optional<Authority> read_authority(std::string_view text);

}  // namespace fieldpeg::wire
