#include "client/show/svg.h"

#include "client/show/markup.h"
#include "server/day/paper.h"
#include "server/day/text_width.h"

#include <fmt/format.h>

namespace fieldpeg::show {
namespace {

constexpr std::string_view maker = "fieldpeg";  ///< in the picture's metadata

constexpr double big = 1.3;         ///< times the size of other texts: the title's
constexpr double base_line = 0.95;  ///< of the size, below the upper edge of a line

/// Dark on white throughout; on air is solid, held is open, the bench is hatched. Texts have a
/// white edge, so that they can be read over lines.
constexpr std::string_view style = R"(
text { font-family: sans-serif; fill: #111 }
.middle { text-anchor: middle } .end { text-anchor: end }
.big { font-weight: bold }
.name { paint-order: stroke; stroke: #fff; stroke-width: 3px; stroke-linejoin: round }
.leader { stroke: #111; stroke-width: .8 }
.scale { stroke: #000; stroke-width: 3 }
.axis { stroke: #111; stroke-width: 1; fill: none } .grid { stroke: #ccc; stroke-width: .5; fill: none }
.wanted { fill: #222; stroke: #000; fill-opacity: .85 }
.other { fill: #999; stroke: #333; fill-opacity: .35 }
.product { fill: url(#hatch); stroke: #000; stroke-dasharray: 2 2 }
.measured { fill: none; stroke: #666; stroke-width: 1 }
.filter { fill: none; stroke: #000; stroke-width: 2; stroke-dasharray: 8 4 }
.noise { stroke: #000; stroke-dasharray: 1 4; stroke-width: 1.5 }
.area { fill: #ddd; fill-opacity: .5; stroke: #555 } .rim { fill: none; stroke: #555 }
.reach { fill: none; stroke-linejoin: round }
.reach.alone { stroke: #000 } .reach.now { stroke: #888 }
.reach.good { stroke-width: 2.4 } .reach.usable { stroke-width: 1.2 }
.r1 { stroke-dasharray: 9 4 } .r2 { stroke-dasharray: 2 3 } .r3 { stroke-dasharray: 9 3 2 3 }
.scope { fill: none; stroke: #000; stroke-dasharray: 3 3 }
.place { fill: #000 } .relay { fill: #fff; stroke: #000; stroke-width: 2 }
.swamps { fill: none; stroke: #000; stroke-width: 1.5; stroke-dasharray: 3 3 }
.link { stroke: #777; stroke-width: .7; stroke-dasharray: 6 3 }
.held { fill: #fff; stroke: #444 } .bench { fill: url(#hatch); stroke: #444 }
.on { fill: #444; stroke: #000 } .down { fill: url(#cross); stroke: #000; stroke-width: 2 }
.seen { fill: #fff; stroke: #000; stroke-width: 2; stroke-dasharray: 3 2 }
.warning { stroke: #000; stroke-width: 2 }
)";

void add_pattern(pugi::xml_node defs, const char* name, const char* strokes, const char* colour) {
    auto pattern = defs.append_child("pattern");
    set(pattern, "id", name);
    for (const auto* side : {"width", "height"}) set(pattern, side, "6");
    set(pattern, "patternUnits", "userSpaceOnUse");
    auto ground = pattern.append_child("rect");
    for (const auto* side : {"width", "height"}) set(ground, side, "6");
    set(ground, "fill", "#fff");
    auto lines = pattern.append_child("path");
    set(lines, "d", strokes);
    set(lines, "stroke", colour);
    set(lines, "fill", "none");
}

void set_box(pugi::xml_node node, const v1::Box& box, double origin) {
    set(node, "x", box.left());
    set(node, "y", box.top() + origin);
    set(node, "width", box.width());
    set(node, "height", box.height());
}

}  // namespace

Svg::Svg(const v1::Paper& paper, double height, const Words& words)
    : width_(paper.width()), size_(paper.text_size()), at_(document_.append_child("svg")) {
    auto root = at_;
    set(root, "xmlns", "http://www.w3.org/2000/svg");
    auto view = root.append_attribute("viewBox");
    set(root, "width", fmt::format("{:.0f}", width_));
    auto high = root.append_attribute("height");
    set(root, "font-size", size_);
    set(root, "role", "img");
    set(root, "aria-labelledby", "t d");
    set(element(root, "title", words.title), "id", "t");
    set(element(root, "desc", fmt::format("{}", fmt::join(words.head, " "))), "id", "d");
    element(root, "metadata", maker);
    element(root, "style", style);
    auto defs = root.append_child("defs");
    add_pattern(defs, "hatch", "M0 6 6 0", "#555");
    add_pattern(defs, "cross", "M0 6 6 0M0 0 6 6", "#222");
    auto ground = root.append_child("rect");
    set(ground, "fill", "#fff");

    double y = paragraph(words.title, size_ / 4, true);
    for (const auto& p : words.head) y = paragraph(p, y, false);
    origin_ = y + size_ / 2;
    y = origin_ + height + size_ / 2;
    for (const auto& p : words.foot) y = paragraph(p, y, false);
    const auto all = fmt::format("{:.0f}", y + size_ / 4);
    view.set_value(fmt::format("0 0 {:.0f} {}", width_, all).c_str());
    high.set_value(all.c_str());
    set(ground, "width", fmt::format("{:.0f}", width_));
    set(ground, "height", all);
}

double Svg::paragraph(std::string_view words, double top, bool is_big) {
    const day::Type type{is_big ? big * size_ : size_};
    const double measured = type.size * (is_big ? day::bold_width : 1);
    for (const auto& line : day::wrapped(words, measured, width_ - size_)) {
        auto node = element(at_, "text", line);
        set(node, "x", size_ / 2);
        set(node, "y", top + base_line * type.size);
        if (is_big) {
            set(node, "class", "big");
            set(node, "font-size", type.size);
        }
        top += type.line();
    }
    return top;
}

void Svg::line(Point from, Point to, std::string_view look) {
    auto node = at_.append_child("line");
    set(node, "x1", from.first);
    set(node, "y1", from.second + origin_);
    set(node, "x2", to.first);
    set(node, "y2", to.second + origin_);
    set(node, "class", look);
}

void Svg::line(const v1::Line& m, std::string_view look) {
    line({m.from_x(), m.from_y()}, {m.to_x(), m.to_y()}, look);
}

void Svg::rect(const v1::Box& box, std::string_view look) {
    auto node = at_.append_child("rect");
    set_box(node, box, origin_);
    set(node, "class", look);
}

void Svg::circle(Point middle, double radius, std::string_view look) {
    auto node = at_.append_child("circle");
    set(node, "cx", middle.first);
    set(node, "cy", middle.second + origin_);
    set(node, "r", radius);
    set(node, "class", look);
}

void Svg::path(const std::vector<Point>& points, bool closed, std::string_view look) {
    std::string d;
    for (const auto& [x, y] : points)
        d += fmt::format("{}{:.1f} {:.1f}", d.empty() ? "M" : "L", x, y + origin_);
    auto node = at_.append_child("path");
    set(node, "d", d + (closed ? "Z" : ""));
    set(node, "class", look);
}

void Svg::text(Point at, std::string_view words, v1::Label::Align align, std::string_view look) {
    auto node = element(at_, "text", words);
    set(node, "x", at.first);
    set(node, "y", at.second + origin_);
    const auto* end = align == v1::Label::middle ? " middle"
                      : align == v1::Label::end  ? " end"
                                                 : "";
    set(node, "class", fmt::format("{}{}", look, end));
}

void Svg::label(const v1::Label& label, std::string_view look) {
    if (label.has_leader()) line(label.leader(), "leader");
    const auto& box = label.box();
    const double share = label.align() == v1::Label::middle ? 0.5
                         : label.align() == v1::Label::end  ? 1
                                                            : 0;
    double y = box.top() + base_line * size_;
    for (const auto& words : label.lines()) {
        text({box.left() + share * box.width(), y}, words, label.align(), look);
        y += day::Type{size_}.line();
    }
}

void Svg::open_frame(const v1::Box& box) {
    const auto name = fmt::format("frame-{}", ++frames_);
    auto clip = at_.append_child("clipPath");
    set(clip, "id", name);
    set_box(clip.append_child("rect"), box, origin_);
    at_ = at_.append_child("g");
    set(at_, "clip-path", fmt::format("url(#{})", name));
}

void Svg::close_frame() {
    at_ = at_.parent();
}

void Svg::open(std::string_view name) {
    at_ = at_.append_child("g");
    element(at_, "title", name);
}

void Svg::close() {
    at_ = at_.parent();
}

bool is_own_svg(std::string_view beginning) {
    return beginning.starts_with("<svg ") &&
           beginning.find(fmt::format("<metadata>{}</metadata>", maker)) != beginning.npos;
}

std::string Svg::str() const {
    return written(document_);
}

}  // namespace fieldpeg::show
