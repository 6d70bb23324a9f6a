#pragma once

#include <string>
#include <string_view>

namespace fieldpeg::board {

/// What is made once for many is made as small as it gets.
enum class Effort { usual = 6, most = 9 };

std::string gzipped(std::string_view text, Effort effort);

}  // namespace fieldpeg::board
