#include "client/verbs/pages.h"

#include "client/show/page.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <optional>
#include <string_view>
#include <system_error>

namespace fieldpeg::verbs {
namespace {

std::string beginning_of(const std::string& path) {
    std::string text(show::page_mark_bytes, '\0');
    std::ifstream file(path, std::ios::binary);
    file.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(file.gcount()));
    return text;
}

/// Why a file that is there stays as it is; none: nothing of worth is lost.
std::optional<Refusal> kept(const std::string& path, std::string_view text, bool force) {
    std::error_code none;
    if (!std::filesystem::is_regular_file(path, none) || std::filesystem::is_empty(path, none))
        return std::nullopt;  // new, a pipe, or what cannot be written anyhow
    const auto there = show::page_mark(beginning_of(path));
    if (there.empty())
        return Refusal{Refusal::Kind::conflict, path, "is there, and no page of Fieldpeg's: kept",
                       "name another file"};
    const auto mark = show::page_mark(text.substr(0, show::page_mark_bytes));
    if (mark.empty() || (there != mark && !force))
        return Refusal{Refusal::Kind::conflict, path, fmt::format("is the page '{}': kept", there),
                       mark.empty() ? "name another file" : "name another file, or say --force"};
    return std::nullopt;
}

}  // namespace

int write_page(const std::string& path, const std::string& text, bool force) {
    if (const auto why = kept(path, text, force)) return say_refusal(*why);
    return write_file(path, text) ? done : failed;
}

}  // namespace fieldpeg::verbs
