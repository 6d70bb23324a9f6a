#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::book {

inline constexpr std::size_t name_length_max = 40;
/// What is longer is no name, and not looked at: forty characters with all their accents are
/// shorter, and putting accents into order takes the square of their number.
inline constexpr std::size_t name_bytes_max = 1000;

/// A name as people may write one: in Unicode's composed form, 1 to `name_length_max` characters,
/// no control or invisible ones, no space at either end. None if it is not, with the reason in
/// `why`.
std::optional<std::string> proper_name(std::string_view written, std::string& why);

/// The beginning of a name, at most so many characters of it.
std::string first_characters(std::string_view name, std::size_t most);

/// Names that differ only in case or in how an accent is written have the same key. What is too
/// long for a name is its own.
std::string name_key(std::string_view name);

/// The known name nearest to what was written; empty if none is near enough to be meant.
std::string nearest(std::string_view written, std::span<const std::string> known);

bool is_utf8(std::string_view text);

/// The one of a list that is called so, or nearly (name_key); null if there is none.
template <class List>
auto find_named(const List& list, std::string_view name) -> decltype(&*list.begin()) {
    for (const auto& one : list)
        if (name_key(one.name()) == name_key(name)) return &one;
    return nullptr;
}

template <class List>
std::vector<std::string> names_of(const List& list) {
    std::vector<std::string> names;
    for (const auto& one : list) names.push_back(one.name());
    return names;
}

/// A text of one line as it may be printed anywhere: what cannot be seen, turns the direction of
/// writing or steers a terminal stands there by its number, as \x1b or \u{202e}; so does what is no
/// UTF-8.
std::string visible(std::string_view text);
/// Whether all of it can be printed as it is.
bool is_visible(std::string_view text);

/// What was written, safe to print, cut after `bytes`.
std::string printable(std::string_view written, std::size_t bytes = 60);

}  // namespace fieldpeg::book
