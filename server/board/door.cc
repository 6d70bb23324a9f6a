#include "server/board/door.h"

#include "server/service/secret.h"
#include "server/wire/authority.h"
#include "server/wire/ticket.h"

#include <fmt/format.h>
#include <boost/url/parse.hpp>

#include <algorithm>
#include <cctype>
#include <utility>

namespace fieldpeg::board {
namespace {

namespace urls = boost::urls;

std::string lower(std::string_view text) {
    std::string out(text);
    std::ranges::transform(out, out.begin(), [](char c) {
        return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    });
    return out;
}

bool has_letters_of_a_name(std::string_view name) {
    return !name.empty() && std::ranges::all_of(name, [](char c) {
        return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-' || c == '.';
    });
}

/// What a Host header or an origin names, in lower case, with the port that is meant.
std::optional<wire::Authority> authority_of(std::string_view host, bool is_private) {
    auto at = wire::read_authority(host);
    if (!at) return std::nullopt;
    at->host = lower(at->host);
    if (!at->port)
        at->port = urls::default_port(is_private ? urls::scheme::https : urls::scheme::http);
    return at;
}

}  // namespace

bool is_own_name(std::string_view host, const Site& site) {
    const auto at = wire::read_authority(host);
    if (!at) return false;
    if (at->is_address) return true;
    const auto name = lower(at->host);
    if (!has_letters_of_a_name(name)) return false;
    return name.find('.') == std::string::npos || name.ends_with(".local") ||
           site.names.contains(name);
}

bool is_own_page(const Request& request, bool is_private, bool required) {
    const auto field = request.find(http::field::origin);
    if (field == request.end()) return !required;
    const auto origin = lower(field->value());
    const std::string_view scheme = is_private ? "https://" : "http://";
    if (!origin.starts_with(scheme)) return false;
    const auto host = authority_of(request[http::field::host], is_private);
    return host && host == authority_of(origin.substr(scheme.size()), is_private);
}

std::string path_of(const Request& request) {
    const auto target = urls::parse_origin_form(request.target());
    return target ? std::string(target->encoded_path()) : "";
}

std::optional<std::string> key_in(const Request& request) {
    const std::string all = request[http::field::cookie];
    std::string_view rest = all;
    while (!rest.empty()) {
        const auto end = rest.find(';');
        auto one = rest.substr(0, end);
        rest = end == std::string_view::npos ? std::string_view() : rest.substr(end + 1);
        while (one.starts_with(' ')) one.remove_prefix(1);
        if (!one.starts_with(cookie_name) || one.substr(cookie_name.size(), 1) != "=") continue;
        const auto key = wire::from_base32(one.substr(cookie_name.size() + 1));
        if (key && key->size() == service::key_bytes) return *key;
    }
    return std::nullopt;
}

std::string cookie(std::string_view key) {
    return fmt::format("{}={}; Path=/; Secure; HttpOnly; SameSite=Strict; Max-Age={}", cookie_name,
                       wire::base32(key), key.empty() ? 0 : cookie_seconds);
}

void protect(Response& response, const Request& request, const Site& site, bool is_private) {
    // Older browsers do not count a socket as the page's own source: it is named, if it is ours.
    const std::string called = request[http::field::host];
    const auto host = authority_of(called, is_private);
    const auto socket = host && is_own_name(called, site)
                            ? fmt::format(" {}://{}", is_private ? "wss" : "ws",
                                          wire::authority(host->host, *host->port))
                            : "";
    response.set("Content-Security-Policy",
                 fmt::format("default-src 'none'; script-src 'self'; style-src 'self'; "
                             "img-src 'self'; connect-src 'self'{}; base-uri 'none'; "
                             "form-action 'none'; frame-ancestors 'none'",
                             socket));
    response.set("X-Content-Type-Options", "nosniff");
    response.set("Referrer-Policy", "no-referrer");
    response.set("Cross-Origin-Opener-Policy", "same-origin");
    response.set("Cross-Origin-Resource-Policy", "same-origin");
    if (response.find(http::field::cache_control) == response.end())
        response.set(http::field::cache_control, "no-store");
}

}  // namespace fieldpeg::board
