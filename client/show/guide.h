#pragma once

#include "client/show/look.h"

#include <string>
#include <string_view>

namespace fieldpeg::show {

/// A guide of docs/ as a terminal shows it: headings, wrapped paragraphs and lists, tables, code.
std::string guide_text(std::string_view markdown, const Look& look);

}  // namespace fieldpeg::show
