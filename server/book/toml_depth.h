#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::book {

/// Most parts of a key or of a table's name; a day file has three: receiver.NAME.selectivity.
inline constexpr std::size_t key_parts_max = 8;
/// Most brackets within each other, square and curly; a day file has two: [[0, 0], [5, 20]].
inline constexpr std::size_t brackets_max = 8;

/// Where a text goes deeper than that.
struct TooDeep {
    unsigned line;
    std::string what;
    std::string expected;
};

/// The first place where a TOML text goes too deep; none if it does nowhere. Looked for before the
/// text is parsed, since the parser makes a table for each part of a key and takes them down one
/// within the other: some ten thousand of them overrun its stack. What is no TOML is for the parser
/// to say.
std::optional<TooDeep> too_deep(std::string_view text);

}  // namespace fieldpeg::book
