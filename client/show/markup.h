#pragma once

#include <string>
#include <string_view>

namespace fieldpeg::show {

/// Text as XML and HTML take it: markup escaped, control characters left out.
std::string escaped(std::string_view text);

}  // namespace fieldpeg::show
