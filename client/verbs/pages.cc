#include "client/verbs/pages.h"

#include "client/show/page.h"
#include "client/verbs/files.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string_view>
#include <system_error>

namespace fieldpeg::verbs {
namespace {

namespace fs = std::filesystem;

/// What a day's own files are called: a page by such a name would stand where a server or SQLite
/// looks for its own.
constexpr std::array<std::string_view, 8> own_endings = {".toml",    ".daylog", "-wal", "-shm",
                                                         "-journal", ".lock",   ".pem", ".tickets"};

std::string beginning_of(const std::string& path) {
    std::string text(show::page_mark_bytes, '\0');
    std::ifstream file(path, std::ios::binary);
    file.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(file.gcount()));
    return text;
}

/// Why a name is none for a page; none: it may be.
std::optional<Refusal> no_name(const std::string& path) {
    std::error_code none;
    const auto real = fs::weakly_canonical(path, none);
    const auto name = none ? path : real.string();
    const auto found =
        std::ranges::find_if(own_endings, [&](auto ending) { return name.ends_with(ending); });
    if (found == own_endings.end()) return std::nullopt;
    return Refusal{Refusal::Kind::conflict, path,
                   fmt::format("'{}' is how a day's own files end: nothing was written", *found),
                   "name it .html, .svg, .png, .csv or .txt"};
}

/// Why a file that is there stays as it is; none: nothing of worth is lost.
std::optional<Refusal> kept(const std::string& path, std::string_view text, bool force) {
    std::error_code none;
    if (!fs::is_regular_file(path, none)) return no_name(path);  // new, a pipe, a folder
    const auto beginning = beginning_of(path);
    if (beginning.empty() && fs::is_empty(path, none)) return no_name(path);
    const auto there = show::page_mark(beginning);
    if (there.empty())
        return Refusal{Refusal::Kind::conflict, path, "is there, and no page of Fieldpeg's: kept",
                       "name another file"};
    if (there == show::page_mark(text.substr(0, show::page_mark_bytes))) return std::nullopt;
    const bool can_be_forced = show::is_page(beginning) && show::is_page(text);
    if (can_be_forced && force) return std::nullopt;
    return Refusal{Refusal::Kind::conflict, path,
                   show::is_page(beginning) ? fmt::format("is the page '{}': kept", there)
                                            : fmt::format("is a {}: kept", there),
                   can_be_forced ? "name another file, or say --force" : "name another file"};
}

}  // namespace

int write_page(const std::string& path, const std::string& text, bool force) {
    if (const auto why = kept(path, text, force)) return say_refusal(*why);
    const auto put = put_file(path, text);
    return put ? done : say_refusal(put.error());
}

}  // namespace fieldpeg::verbs
