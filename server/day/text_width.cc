#include "server/day/text_width.h"

#include <utf8proc.h>

#include <algorithm>
#include <array>
#include <string_view>

namespace fieldpeg::day {
namespace {

/// From the space to the tilde, in hundredths of the size, as the typeface's own table has them.
constexpr std::array<unsigned char, 95> ascii_widths = {
    32,  41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34,  // space to /
    64,  64, 64, 64, 64, 64, 64, 64, 64, 64, 34, 34, 84, 84, 84, 54,  // 0 to ?
    100, 69, 69, 70, 78, 64, 58, 78, 76, 30, 30, 66, 56, 87, 75, 79,  // @ to O
    61,  79, 70, 64, 62, 74, 69, 99, 69, 62, 69, 40, 34, 40, 84, 50,  // P to _
    50,  62, 64, 55, 64, 62, 36, 64, 64, 28, 28, 58, 28, 98, 64, 62,  // ` to o
    64,  64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84};     // p to ~

constexpr utf8proc_int32_t no_break_space = 0xA0;

/// Letters that are far wider than others of their alphabet.
constexpr std::u32string_view wide_small =
    U"\u00E6\u0153\u03C9\u0436\u043C\u0444\u0448\u0449\u044B\u044E\u0459\u045A\u0561\u0567\u057A"
    U"\u057F\u0583";
constexpr std::u32string_view wide_capital =
    U"\u00C6\u0152\u0416\u0429\u0428\u042E\u0409\u040A\u0424\u042B\u0531";

bool is_in(std::u32string_view letters, utf8proc_int32_t c) {
    return letters.find(static_cast<char32_t>(c)) != letters.npos;
}

/// What a letter is without its accents.
utf8proc_int32_t base_of(utf8proc_int32_t c) {
    std::array<utf8proc_int32_t, 4> parts{};
    int last_class = 0;
    const auto count =
        utf8proc_decompose_char(c, parts.data(), parts.size(), UTF8PROC_DECOMPOSE, &last_class);
    return count > 0 ? parts[0] : c;
}

/// In hundredths of the size. Beyond ASCII by classes, rather too wide than too narrow.
int width_of(utf8proc_int32_t character) {
    const auto columns = utf8proc_charwidth(character);
    if (columns == 0) return 0;
    const auto category = utf8proc_category(character);
    if (columns > 1) return category == UTF8PROC_CATEGORY_SO ? 130 : 105;  // emoji, ideographs
    const auto c = base_of(character);
    if (c >= ' ' && c <= '~') return ascii_widths[static_cast<std::size_t>(c - ' ')];
    if (c == no_break_space) return ascii_widths[0];
    if (category == UTF8PROC_CATEGORY_ZS) return 64;
    if (category == UTF8PROC_CATEGORY_LL) return is_in(wide_small, c) ? 98 : 72;
    if (category == UTF8PROC_CATEGORY_LU) return is_in(wide_capital, c) ? 110 : 88;
    return category == UTF8PROC_CATEGORY_LO ? 90 : 100;
}

/// Takes characters off a text, one by one; what is no UTF-8 is taken byte by byte.
utf8proc_int32_t taken(std::string_view& text) {
    utf8proc_int32_t character = 0;
    const auto* at = reinterpret_cast<const utf8proc_uint8_t*>(text.data());
    const auto size = utf8proc_iterate(at, static_cast<utf8proc_ssize_t>(text.size()), &character);
    text.remove_prefix(static_cast<std::size_t>(std::max<utf8proc_ssize_t>(size, 1)));
    return size > 0 ? character : 0xFFFD;
}

/// How much of a word stands on one line, never within what is seen as one character; at least
/// that one.
std::string_view fitting(std::string_view word, double size, double width) {
    auto rest = word;
    utf8proc_int32_t before = 0, state = 0;
    double so_far = 0;
    std::size_t end = 0;
    while (!rest.empty()) {
        const std::size_t at = word.size() - rest.size();
        const auto c = taken(rest);
        if (at > 0 && utf8proc_grapheme_break_stateful(before, c, &state)) {
            if (so_far > width) return word.substr(0, end > 0 ? end : at);
            end = at;
        }
        so_far += width_of(c) * size / 100;
        before = c;
    }
    return so_far <= width || end == 0 ? word : word.substr(0, end);
}

}  // namespace

double text_width(std::string_view text, double size) {
    int hundredths = 0;
    while (!text.empty()) hundredths += width_of(taken(text));
    return hundredths * size / 100;
}

std::string unbroken(std::string_view text) {
    std::string whole;
    for (const char c : text) whole += c == ' ' ? "\u00A0" : std::string(1, c);
    return whole;
}

std::vector<std::string> wrapped(std::string_view text, double size, double width) {
    std::vector<std::string> lines = {""};
    while (!text.empty()) {
        const auto end = std::min(text.find(' '), text.size());
        auto word = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (word.empty()) continue;
        const auto joined =
            lines.back().empty() ? std::string(word) : lines.back() + " " + std::string(word);
        if (text_width(joined, size) <= width) {
            lines.back() = joined;
            continue;
        }
        if (!lines.back().empty()) lines.emplace_back();
        while (!word.empty()) {
            const auto part = fitting(word, size, width);
            lines.back() = part;
            word.remove_prefix(part.size());
            if (!word.empty()) lines.emplace_back();
        }
    }
    return lines;
}

}  // namespace fieldpeg::day
