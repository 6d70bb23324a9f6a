#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace fieldpeg::book {

inline constexpr std::size_t name_length_max = 40;

/// A name as people may write one: in Unicode's composed form, 1 to `name_length_max` characters,
/// no control or invisible ones, no space at either end. None if it is not, with the reason in
/// `why`.
std::optional<std::string> proper_name(std::string_view written, std::string& why);

/// Names that differ only in case or in how an accent is written have the same key.
std::string name_key(std::string_view name);

/// The known name nearest to what was written; empty if none is near enough to be meant.
std::string nearest(std::string_view written, std::span<const std::string> known);

bool is_utf8(std::string_view text);

/// What was written, safe to print: control characters as \xNN, cut after `bytes`.
std::string printable(std::string_view written, std::size_t bytes = 60);

}  // namespace fieldpeg::book
