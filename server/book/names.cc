#include "server/book/names.h"

#include <fmt/format.h>
#include <utf8proc.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <numeric>
#include <vector>

namespace fieldpeg::book {
namespace {

/// UTF-8 mapped by utf8proc; none if it is not UTF-8.
std::optional<std::string> mapped(std::string_view text, int options) {
    utf8proc_uint8_t* raw = nullptr;
    const auto size = utf8proc_map(reinterpret_cast<const utf8proc_uint8_t*>(text.data()),
                                   static_cast<utf8proc_ssize_t>(text.size()), &raw,
                                   static_cast<utf8proc_option_t>(options));
    const std::unique_ptr<utf8proc_uint8_t, decltype(&std::free)> owner(raw, &std::free);
    if (size < 0) return std::nullopt;
    return std::string(reinterpret_cast<const char*>(raw), static_cast<std::size_t>(size));
}

std::vector<utf8proc_int32_t> characters(std::string_view text) {
    std::vector<utf8proc_int32_t> found;
    const auto* at = reinterpret_cast<const utf8proc_uint8_t*>(text.data());
    auto left = static_cast<utf8proc_ssize_t>(text.size());
    while (left > 0) {
        utf8proc_int32_t character = 0;
        const auto size = utf8proc_iterate(at, left, &character);
        if (size <= 0) break;
        found.push_back(character);
        at += size;
        left -= size;
    }
    return found;
}

/// A pattern of dots of which none is there, and so a blank (Unicode's chart of Braille Patterns).
constexpr utf8proc_int32_t braille_blank = 0x2800;

bool can_be_seen(utf8proc_int32_t character) {
    if (character == braille_blank || utf8proc_get_property(character)->ignorable) return false;
    switch (utf8proc_category(character)) {
        case UTF8PROC_CATEGORY_CC:
        case UTF8PROC_CATEGORY_CF:
        case UTF8PROC_CATEGORY_CS:
        case UTF8PROC_CATEGORY_CO:
        case UTF8PROC_CATEGORY_CN:
        case UTF8PROC_CATEGORY_ZL:
        case UTF8PROC_CATEGORY_ZP:
            return false;
        default:
            return true;
    }
}

/// Edits that turn one into the other: insert, remove, replace (Levenshtein's distance).
std::size_t edits(std::string_view from, std::string_view to) {
    const auto a = characters(from), b = characters(to);
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 0; i < a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i + 1;
        for (std::size_t j = 0; j < b.size(); ++j) {
            const std::size_t replaced = diagonal + (a[i] == b[j] ? 0 : 1);
            diagonal = row[j + 1];
            row[j + 1] = std::min({replaced, row[j] + 1, row[j + 1] + 1});
        }
    }
    return row.back();
}

}  // namespace

std::optional<std::string> proper_name(std::string_view written, std::string& why) {
    if (written.size() > name_bytes_max) {
        why = fmt::format("is {} bytes long", written.size());
        return std::nullopt;
    }
    auto name = mapped(written, UTF8PROC_STABLE | UTF8PROC_COMPOSE);
    if (!name) {
        why = "is not valid UTF-8";
        return std::nullopt;
    }
    const auto all = characters(*name);
    if (all.empty() || all.size() > name_length_max) {
        why = fmt::format("has {} characters", all.size());
        return std::nullopt;
    }
    if (!std::ranges::all_of(all, can_be_seen)) {
        why = "has a control or invisible character";
        return std::nullopt;
    }
    const auto is_space = [](utf8proc_int32_t c) {
        return utf8proc_category(c) == UTF8PROC_CATEGORY_ZS;
    };
    if (is_space(all.front()) || is_space(all.back())) {
        why = "begins or ends with a space";
        return std::nullopt;
    }
    return name;
}

std::string first_characters(std::string_view name, std::size_t most) {
    std::size_t end = 0;
    for (std::size_t seen = 0; end < name.size(); ++end)
        if ((static_cast<unsigned char>(name[end]) & 0xc0) != 0x80 && ++seen > most) break;
    auto begins = std::string(name.substr(0, end));
    while (begins.ends_with(' ')) begins.pop_back();
    return begins;
}

std::string name_key(std::string_view name) {
    if (name.size() > name_bytes_max) return std::string(name);
    const auto key = mapped(name, UTF8PROC_STABLE | UTF8PROC_COMPOSE | UTF8PROC_CASEFOLD);
    return key.value_or(std::string(name));
}

std::string nearest(std::string_view written, std::span<const std::string> known) {
    const std::string key = name_key(written.substr(0, 4 * name_length_max));
    std::string best;
    std::size_t least = std::max<std::size_t>(1, characters(key).size() / 3) + 1;
    for (const auto& name : known) {
        const auto distance = edits(key, name_key(name));
        if (distance < least) {
            least = distance;
            best = name;
        }
    }
    if (!best.empty() || key.size() < 3) return best;
    for (const auto& name : known)  // part of a name
        if (name_key(name).find(key) != std::string::npos) return name;
    return best;
}

bool is_utf8(std::string_view text) {
    return text.empty() || mapped(text, UTF8PROC_STABLE).has_value();
}

std::string visible(std::string_view text) {
    std::string all;
    all.reserve(text.size());
    while (!text.empty()) {
        utf8proc_int32_t character = 0;
        const auto read = utf8proc_iterate(reinterpret_cast<const utf8proc_uint8_t*>(text.data()),
                                           static_cast<utf8proc_ssize_t>(text.size()), &character);
        const auto size = static_cast<std::size_t>(std::max<utf8proc_ssize_t>(read, 1));
        if (read > 0 && can_be_seen(character))
            all += text.substr(0, size);
        else if (read > 1)
            all += fmt::format("\\u{{{:x}}}", character);
        else
            all += fmt::format("\\x{:02x}", static_cast<unsigned char>(text.front()));
        text.remove_prefix(size);
    }
    return all;
}

bool is_visible(std::string_view text) {
    return visible(text) == text;
}

std::string printable(std::string_view written, std::size_t bytes) {
    const auto is_inside = [&](std::size_t at) {  // a character
        return (static_cast<unsigned char>(written[at]) & 0xc0) == 0x80;
    };
    std::size_t end = std::min(bytes, written.size());
    while (end > 0 && end < written.size() && is_inside(end)) --end;
    const auto text = visible(written.substr(0, end));
    return end < written.size() ? text + "..." : text;
}

}  // namespace fieldpeg::book
