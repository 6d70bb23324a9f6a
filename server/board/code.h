#pragma once

#include <string>
#include <string_view>

namespace fieldpeg::board {

/// A text as a QR code to be shown on a screen: SVG, black on white, with its quiet zone; empty if
/// the text is too long for one.
std::string code_picture(std::string_view text);

}  // namespace fieldpeg::board
