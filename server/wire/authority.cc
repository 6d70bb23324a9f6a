#include "server/wire/authority.h"

#include <fmt/format.h>
#include <boost/url/encode.hpp>
#include <boost/url/grammar/digit_chars.hpp>
#include <boost/url/parse.hpp>
#include <boost/url/rfc/unreserved_chars.hpp>
#include <boost/url/url.hpp>

#include <algorithm>
#include <charconv>

namespace fieldpeg::wire {
namespace {

namespace urls = boost::urls;

/// Boost.URL's own port_number() goes round beyond 65535.
std::optional<std::uint16_t> read_port(std::string_view digits) {
    std::uint16_t port = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), port);
    if (error != std::errc{} || end != digits.data() + digits.size()) return std::nullopt;
    return port;
}

/// "%wlan0" of "[fe80::1%wlan0]:7323", which Boost.URL does not know; empty without one.
std::string_view zone_in(std::string_view text) {
    if (!text.starts_with('[')) return {};
    const auto inside = text.substr(0, text.find(']'));
    const auto at = inside.find('%');
    return at == std::string_view::npos ? std::string_view() : inside.substr(at);
}

bool is_zone(std::string_view zone) {
    return zone.size() > 1 && std::ranges::all_of(zone.substr(1), urls::unreserved_chars);
}

bool is_ascii(char c) {
    return static_cast<unsigned char>(c) < 0x80;
}

/// A host as it was written before letters beyond ASCII were escaped: then nothing was.
std::string escaped(std::string_view text) {
    struct {
        bool operator()(char c) const { return is_ascii(c) && c != '%'; }
    } constexpr as_it_is;
    return std::ranges::all_of(text, is_ascii) ? std::string(text) : urls::encode(text, as_it_is);
}

}  // namespace

std::string authority(std::string_view host, std::uint16_t port) {
    if (urls::parse_ipv6_address(host.substr(0, host.find('%'))))
        return fmt::format("[{}]:{}", host, port);
    urls::url at;
    at.set_host_address(host);
    at.set_port_number(port);
    return std::string(at.encoded_authority());
}

std::optional<Authority> read_authority(std::string_view text) {
    const auto zone = zone_in(text);
    if (!zone.empty() && !is_zone(zone)) return std::nullopt;
    std::string without_zone(text);
    without_zone.erase(without_zone.find(zone), zone.size());
    const auto plain = escaped(without_zone);
    // Boost.URL stumbles over a name that begins like an address, as "192.0.2.7.example.org", but
    // not if its first digit is escaped.
    const auto as_name = "%3" + plain;
    auto read = urls::parse_authority(plain);
    if (!read && urls::grammar::digit_chars(plain.front())) read = urls::parse_authority(as_name);
    if (!read || read->has_userinfo() || read->encoded_host().empty()) return std::nullopt;
    Authority at{read->host_address() + std::string(zone),
                 read->host_type() != urls::host_type::name};
    if (!read->has_port()) return at;
    at.port = read_port(read->port());
    if (!at.port) return std::nullopt;
    return at;
}

}  // namespace fieldpeg::wire
