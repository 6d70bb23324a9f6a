#pragma once

#include "client/show/markup.h"

#include "fieldpeg/v1/day.pb.h"

#include <string>
#include <string_view>
#include <vector>

/// HTML files that need nothing outside of themselves, and say what they are.
namespace fieldpeg::show {

/// Begins one about a day: head, style, title. Its `main`, to be filled.
pugi::xml_node begin_page(pugi::xml_document& document, std::string_view kind,
                          const v1::DaySheet& sheet, std::string_view style);

/// A table that can be moved sideways where it is too wide; what it is called by those who do not
/// see it.
void add_table(pugi::xml_node parent, std::string_view name, const std::vector<std::string>& titles,
               const std::vector<std::vector<std::string>>& rows);

/// What a file says that it is, by its beginning: "report of Harvest fly-in, 2026-09-19", or
/// "picture" of one in SVG or PNG. Empty: it is nothing of this program's.
std::string page_mark(std::string_view beginning);
/// Of a file so much is enough for that.
inline constexpr std::size_t page_mark_bytes = 4096;

/// Whether a file of this beginning is a page, not a picture.
bool is_page(std::string_view beginning);

}  // namespace fieldpeg::show
