#include "server/board/pages.h"

#include "server/board/code.h"
#include "server/board/embedded.h"
#include "server/board/gzip.h"
#include "server/service/keeper.h"
#include "server/wire/spelling.h"
#include "server/wire/ticket.h"
#include "server/wire/version.h"

#include <fmt/format.h>
#include <boost/beast/core/string.hpp>

#include <algorithm>
#include <cstdlib>
#include <optional>
#include <utility>
#include <vector>

namespace fieldpeg::board {
namespace {

constexpr auto html = "text/html; charset=utf-8";
constexpr auto script = "text/javascript; charset=utf-8";
constexpr auto style = "text/css; charset=utf-8";
constexpr auto picture = "image/svg+xml";

constexpr auto for_good = "public, max-age=31536000, immutable";  // [RFC8246, 2]
constexpr auto if_unchanged = "no-cache";  // asks each time [RFC9111, 5.2.2.4]

constexpr auto not_at_all = "no-store";

constexpr std::size_t hash_letters = 16;  ///< 80 bits

/// A text in the place of a mark, as HTML takes it.
void put_in(std::string& page, std::string_view mark, std::string_view text) {
    std::string safe;
    for (const char c : text) {
        if (c == '&')
            safe += "&amp;";
        else if (c == '<')
            safe += "&lt;";
        else if (c == '>')
            safe += "&gt;";
        else if (c == '"')
            safe += "&quot;";
        else
            safe += c;
    }
    for (auto at = page.find(mark); at != std::string::npos; at = page.find(mark, at + safe.size()))
        page.replace(at, mark.size(), safe);
}

std::string hash(const std::string& text) {
    return wire::base32(service::Keeper::hash_of(text)).substr(0, hash_letters);
}

Page made(const char* type, const char* keeping, std::string text) {
    Page page{type, keeping, std::move(text)};
    page.gzipped = gzipped(page.text, Effort::most);
    page.tag = fmt::format("W/\"{}\"", hash(page.text));  // weak: of both ways [RFC9110, 8.8.1]
    return page;
}

/// What stands between separators, without the spaces around it.
std::vector<std::string_view> parts(std::string_view text, char separator) {
    std::vector<std::string_view> found;
    while (!text.empty()) {
        const auto end = std::min(text.find(separator), text.size());
        auto one = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        while (one.starts_with(' ')) one.remove_prefix(1);
        while (one.ends_with(' ')) one.remove_suffix(1);
        found.push_back(one);
    }
    return found;
}

/// How much a browser wants what is coded so; none: it does not say [RFC9110, 12.5.3].
std::optional<double> wish(std::string_view accepted, std::string_view coding) {
    for (const auto one : parts(accepted, ',')) {
        const auto said = parts(one, ';');
        if (said.empty() || !boost::beast::iequals(said.front(), coding)) continue;
        for (const auto& parameter : said)
            if (parameter.starts_with("q="))
                return std::strtod(std::string(parameter.substr(2)).c_str(), nullptr);
        return 1.0;
    }
    return std::nullopt;
}

bool takes_gzip(const Request& request) {
    const std::string accepted = request[http::field::accept_encoding];
    return wish(accepted, "gzip").value_or(wish(accepted, "*").value_or(0)) > 0;
}

/// [RFC9110, 13.1.2], compared weakly. No tag of ours has a comma in it.
bool has_already(const Page& page, const Request& request) {
    const std::string field = request[http::field::if_none_match];
    const auto tags = parts(field, ',');
    return std::ranges::any_of(tags, [&](std::string_view tag) {
        const bool is_weak = tag.starts_with("W/");
        return tag == "*" || tag.substr(is_weak ? 2 : 0) == std::string_view(page.tag).substr(2);
    });
}

}  // namespace

Pages::Pages(const Site& site) {
    if (auto code = code_picture(site.hello); !code.empty())
        pages_.emplace("/code.svg", Page{picture, not_at_all, std::move(code)});

    const auto versioned = [&](std::string_view name, std::string_view ending, const char* type) {
        const std::string text(embedded_file(fmt::format("{}.{}", name, ending)));
        auto path = fmt::format("/{}-{}.{}", name, hash(text), ending);
        pages_.emplace(path, made(type, for_good, text));
        return path;
    };
    std::string page(embedded_file("board.html")), worker(embedded_file("worker.js"));
    for (const auto& [mark, path] : {std::pair("@SCRIPT@", versioned("board", "js", script)),
                                     {"@GERMAN@", versioned("words_de", "js", script)},
                                     {"@STYLE@", versioned("board", "css", style)},
                                     {"@ICON@", versioned("icon", "svg", picture)}}) {
        put_in(page, mark, path);
        put_in(worker, mark, path);
    }
    put_in(page, "@ADDRESS@", site.hello);
    put_in(page, "@SHA256@", wire::hex_pairs(site.fingerprint));
    put_in(page, "@SPELLED@", wire::spelled(site.fingerprint));
    put_in(page, "@PROGRAM@", wire::server_program());
    put_in(page, "@DAY@", site.day);  // last: no mark in it is one
    // One page; by its path it knows what it is asked to show.
    for (const auto* path : {"/", "/join", "/hello", "/board"})
        pages_.emplace(path, made(html, if_unchanged, page));
    put_in(worker, "@VERSION@", hash(page));
    pages_.emplace("/sw.js", made(script, if_unchanged, std::move(worker)));
}

const Page* Pages::at(std::string_view path) const {
    const auto found = pages_.find(path);
    return found == pages_.end() ? nullptr : &found->second;
}

Response given(const Page& page, const Request& request) {
    Response reply(http::status::ok, 11);
    reply.set(http::field::cache_control, page.keeping);
    if (!page.tag.empty()) reply.set(http::field::etag, page.tag);
    if (!page.gzipped.empty()) reply.set(http::field::vary, "Accept-Encoding");
    if (!page.tag.empty() && has_already(page, request)) {
        reply.result(http::status::not_modified);
        return reply;
    }
    reply.set(http::field::content_type, page.type);
    const bool small = !page.gzipped.empty() && takes_gzip(request);
    if (small) reply.set(http::field::content_encoding, "gzip");
    reply.body() = small ? page.gzipped : page.text;
    return reply;
}

}  // namespace fieldpeg::board
