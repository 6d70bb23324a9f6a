#pragma once

#include <string>

/// Files that are made of a day, and can be made again.
namespace fieldpeg::verbs {

/// Writes a text into a file that is new or empty, or over a page of the same day and kind; with
/// `force` over any page of this program's. Nothing else is ever written over: not a log, not a
/// day file. The exit status; what is wrong has been said.
int write_page(const std::string& path, const std::string& text, bool force);

}  // namespace fieldpeg::verbs
