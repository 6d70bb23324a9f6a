#include "client/show/page.h"

#include "client/show/png.h"
#include "client/show/svg.h"

#include <fmt/format.h>

namespace fieldpeg::show {
namespace {

constexpr std::string_view first_line = "<!DOCTYPE html>";
constexpr std::string_view maker = "generator", ours = "fieldpeg: ";

}  // namespace

pugi::xml_node begin_page(pugi::xml_document& document, std::string_view kind,
                          const v1::DaySheet& sheet, std::string_view style) {
    document.append_child(pugi::node_doctype).set_value("html");
    auto html = document.append_child("html");
    set(html, "lang", "en");
    auto head = html.append_child("head");
    set(void_element(head, "meta"), "charset", "utf-8");
    const auto day = fmt::format("{}, {}", sheet.name(), sheet.date());
    auto mark = void_element(head, "meta");
    set(mark, "name", maker);
    set(mark, "content", fmt::format("{}{} of {}", ours, kind, day));
    auto view = void_element(head, "meta");
    set(view, "name", "viewport");
    set(view, "content", "width=device-width, initial-scale=1");
    auto policy = void_element(head, "meta");
    set(policy, "http-equiv", "Content-Security-Policy");
    set(policy, "content", "default-src 'none'; img-src data:; style-src 'unsafe-inline'");
    element(head, "title", fmt::format("{}: {}", day, kind));
    element(head, "style", style);
    auto main = html.append_child("body").append_child("main");
    element(main, "h1", day);
    return main;
}

void add_table(pugi::xml_node parent, std::string_view name, const std::vector<std::string>& titles,
               const std::vector<std::vector<std::string>>& rows) {
    auto region = parent.append_child("div");
    set(region, "class", "scroll");
    set(region, "tabindex", "0");
    set(region, "role", "region");
    set(region, "aria-label", name);
    auto table = region.append_child("table");
    auto head = table.append_child("thead").append_child("tr");
    for (const auto& t : titles) set(element(head, "th", t), "scope", "col");
    auto body = element(table, "tbody");
    for (const auto& row : rows) {
        auto line = body.append_child("tr");
        for (const auto& cell : row) element(line, "td", cell);
    }
}

std::string page_mark(std::string_view beginning) {
    if (is_own_svg(beginning)) return "picture of Fieldpeg's";
    if (is_own_png(beginning)) return "picture of Fieldpeg's, in PNG";
    if (!is_page(beginning)) return "";
    const auto opening = fmt::format("<meta name=\"{}\" content=\"{}", maker, ours);
    const auto at = beginning.find(opening);
    if (at == beginning.npos) return "";
    const auto text = beginning.substr(at + opening.size());
    return std::string(text.substr(0, text.find('"')));
}

bool is_page(std::string_view beginning) {
    return beginning.starts_with(first_line);
}

}  // namespace fieldpeg::show
