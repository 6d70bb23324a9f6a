#pragma once

#include <string>
#include <string_view>

/// Pictures in PNG [PNG], drawn by another program from ours.
namespace fieldpeg::show {

/// The same with a note of what made it, behind its header. What is no PNG stays what it is.
std::string with_maker(std::string png);

/// Whether a file of this beginning has that note.
bool is_own_png(std::string_view beginning);

}  // namespace fieldpeg::show
