#pragma once

#include <string>
#include <string_view>
#include <vector>

/// How much room texts of a picture take. Nobody here knows in what typeface they will be drawn, so
/// widths are those of a wide one, DejaVu Sans: what has room in it has room in others.
namespace fieldpeg::day {

/// The width of one line in a typeface of this size, in whatever the size is measured in.
double text_width(std::string_view text, double size);

/// A text on lines none of which is wider than `width`, broken between words, and within a word
/// that alone is wider. Every line has at least one character, and an empty text one empty line.
std::vector<std::string> wrapped(std::string_view text, double size, double width);

/// A text that stays on one line wherever it has room: "200 mW" without its space.
std::string unbroken(std::string_view text);

/// By so much a bold text is wider.
inline constexpr double bold_width = 1.15;

}  // namespace fieldpeg::day
