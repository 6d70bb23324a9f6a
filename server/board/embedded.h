#pragma once

#include <string_view>

namespace fieldpeg::board {

/// A file of server/board/page as it was at build time; empty if there is none of that name.
std::string_view embedded_file(std::string_view name);

}  // namespace fieldpeg::board
