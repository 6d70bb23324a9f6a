#pragma once

#include <pugixml.hpp>

#include <string>
#include <string_view>

/// XML and HTML as documents of pugixml's: what is markup and what is text is its business.
namespace fieldpeg::show {

/// A new last child that holds a text, however empty, so that it gets an end tag: HTML takes
/// `<td/>` for a beginning.
pugi::xml_node element(pugi::xml_node parent, const char* name, std::string_view text = {});
/// One that HTML calls void: it has no content and no end tag.
pugi::xml_node void_element(pugi::xml_node parent, const char* name);

void set(pugi::xml_node node, const char* name, std::string_view value);
/// A length, to a tenth.
void set(pugi::xml_node node, const char* name, double value);

/// The document as text, with no XML declaration.
std::string written(const pugi::xml_document& document);

}  // namespace fieldpeg::show
