#include "client/show/markup.h"

#include <fmt/format.h>

#include <sstream>

namespace fieldpeg::show {
namespace {

/// Control characters, which XML has no way to write, left out; but for line ends.
std::string writable(std::string_view text) {
    std::string out;
    for (const char c : text)
        if ((static_cast<unsigned char>(c) >= 0x20 && c != 0x7f) || c == '\n') out += c;
    return out;
}

}  // namespace

pugi::xml_node element(pugi::xml_node parent, const char* name, std::string_view text) {
    auto node = parent.append_child(name);
    node.append_child(pugi::node_pcdata).set_value(writable(text).c_str());
    return node;
}

pugi::xml_node void_element(pugi::xml_node parent, const char* name) {
    return parent.append_child(name);
}

void set(pugi::xml_node node, const char* name, std::string_view value) {
    node.append_attribute(name).set_value(writable(value).c_str());
}

void set(pugi::xml_node node, const char* name, double value) {
    set(node, name, fmt::format("{:.1f}", value));
}

std::string written(const pugi::xml_document& document) {
    std::ostringstream out;
    document.save(out, "", pugi::format_indent | pugi::format_no_declaration);
    return out.str();
}

}  // namespace fieldpeg::show
