#pragma once

#include <string>

/// Files that are made of a day, and can be made again.
namespace fieldpeg::verbs {

/// Writes a text into a file that is new or empty, or over one that says it is the same: the page
/// of the same day and kind, or a picture over a picture. With `force` a page goes over any page of
/// this program's. Nothing else is ever written over, however the path leads there: not a log, not
/// a day file, not a picture of somebody else's. The exit status; what is wrong has been said.
int write_page(const std::string& path, const std::string& text, bool force);

}  // namespace fieldpeg::verbs
