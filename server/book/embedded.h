#pragma once

#include <string_view>

namespace fieldpeg::book {

/// One of the files of server/data, built into the program: its text, empty if there is none of
/// that name. The build writes the source from the files (server/data/embed.cmake).
std::string_view embedded_file(std::string_view name);

}  // namespace fieldpeg::book
