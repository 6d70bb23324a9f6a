#pragma once

#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>

/// Who may ask what of the page's server: names, origins, cookies. Pure.
namespace fieldpeg::board {

namespace http = boost::beast::http;
using Request = http::request<http::string_body>;
using Response = http::response<http::string_body>;

/// What the page's server says of itself.
struct Site {
    std::set<std::string> names;  ///< by which it may be called, in lower case; see is_own_name()
    std::string day;
    std::string fingerprint;  ///< SHA-256 of the certificate that the page is served with
    std::string hello;        ///< by which phones reach it first: an address of http://
};

/// Whether a Host header names this server. Addresses, names without a dot and names under .local
/// do, since nobody outside can give them to a page of theirs; other names only if they are the
/// site's [ours: against a page of others that calls itself by this machine's address].
bool is_own_name(std::string_view host, const Site& site);

/// Whether the page that asks is this server's own. Without an Origin header only what no page
/// sends may pass: `required` says that there must be one.
bool is_own_page(const Request& request, bool is_private, bool required);

/// The path that is asked for, as it was written; empty if that is no path.
std::string path_of(const Request& request);

inline constexpr std::string_view cookie_name = "__Host-fieldpeg";  // [RFC6265bis, 4.1.3.2]
inline constexpr int cookie_seconds = 18 * 3600;                    ///< a flying day

/// The key in the request's cookie; none if there is none, or no proper one.
std::optional<std::string> key_in(const Request& request);
/// The header that gives a key to a browser; with an empty key, takes it away.
std::string cookie(std::string_view key);

/// What every response carries, whatever it says: what may be kept says so itself.
void protect(Response& response, const Request& request, const Site& site, bool is_private);

}  // namespace fieldpeg::board
