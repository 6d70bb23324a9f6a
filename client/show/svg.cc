#include "client/show/svg.h"

#include "client/show/markup.h"

#include <fmt/format.h>

namespace fieldpeg::show {
namespace {

/// Dark on white throughout; on air is solid, held is open, the bench is hatched.
constexpr std::string_view style = R"(
text { font: 12px sans-serif; fill: #111 }
.small { font-size: 10px } .big { font-size: 16px; font-weight: bold }
.middle { text-anchor: middle } .end { text-anchor: end }
.scale { stroke: #000; stroke-width: 3 }
.axis { stroke: #111; stroke-width: 1; fill: none } .grid { stroke: #ccc; stroke-width: .5 }
.wanted { fill: #222; stroke: #000; fill-opacity: .85 }
.other { fill: #999; stroke: #333; fill-opacity: .35 }
.product { fill: url(#hatch); stroke: #000; stroke-dasharray: 2 2 }
.filter { fill: none; stroke: #000; stroke-width: 2; stroke-dasharray: 8 4 }
.noise { stroke: #000; stroke-dasharray: 1 4; stroke-width: 1.5 }
.area { fill: #ddd; fill-opacity: .5; stroke: #555 }
.place { fill: #000 } .relay { fill: #fff; stroke: #000; stroke-width: 2 }
.swamps { fill: none; stroke: #000; stroke-width: 1.5; stroke-dasharray: 3 3 }
.link { stroke: #777; stroke-width: .7; stroke-dasharray: 6 3 }
.held { fill: #fff; stroke: #444 } .bench { fill: url(#hatch); stroke: #444 }
.on { fill: #444; stroke: #000 } .down { fill: url(#cross); stroke: #000; stroke-width: 2 }
.seen { fill: #fff; stroke: #000; stroke-width: 2; stroke-dasharray: 3 2 }
.warning { stroke: #000; stroke-width: 2 } .bright { fill: #fff }
)";

constexpr std::string_view patterns =
    R"(<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/><path d="M0 6 6 0" stroke="#555" fill="none"/></pattern><pattern id="cross" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/><path d="M0 6 6 0M0 0 6 6" stroke="#222" fill="none"/></pattern></defs>)";

}  // namespace

Svg::Svg(double width, double height, std::string_view title, std::string_view description)
    : body_(fmt::format(
          "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" "
          "width=\"{0:.0f}\" height=\"{1:.0f}\" role=\"img\" aria-labelledby=\"t d\">\n<title "
          "id=\"t\">{2}</title>\n<desc id=\"d\">{3}</desc>\n<style>{4}</style>\n{5}\n<rect "
          "width=\"{0:.0f}\" height=\"{1:.0f}\" fill=\"#fff\"/>\n",
          width, height, escaped(title), escaped(description), style, patterns)) {}

void Svg::line(Point from, Point to, std::string_view look) {
    body_ += fmt::format(
        "<line x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\" class=\"{}\"/>\n",
        from.first, from.second, to.first, to.second, look);
}

void Svg::rect(Point corner, double width, double height, std::string_view look) {
    body_ += fmt::format(
        "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" class=\"{}\"/>\n",
        corner.first, corner.second, width, height, look);
}

void Svg::circle(Point middle, double radius, std::string_view look) {
    body_ += fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:.1f}\" class=\"{}\"/>\n",
                         middle.first, middle.second, radius, look);
}

void Svg::path(const std::vector<Point>& points, bool closed, std::string_view look) {
    std::string d;
    for (const auto& [x, y] : points)
        d += fmt::format("{}{:.1f} {:.1f}", d.empty() ? "M" : "L", x, y);
    body_ += fmt::format("<path d=\"{}{}\" class=\"{}\"/>\n", d, closed ? "Z" : "", look);
}

void Svg::text(Point at, std::string_view words, std::string_view look, double turned_deg) {
    const auto turn = turned_deg == 0 ? ""
                                      : fmt::format(" transform=\"rotate({:.0f} {:.1f} {:.1f})\"",
                                                    turned_deg, at.first, at.second);
    body_ += fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" class=\"{}\"{}>{}</text>\n", at.first,
                         at.second, look, turn, escaped(words));
}

void Svg::open_frame(Point corner, double width, double height) {
    body_ += fmt::format(
        "<svg x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" overflow=\"hidden\">\n",
        corner.first, corner.second, width, height);
}

void Svg::close_frame() {
    body_ += "</svg>\n";
}

void Svg::open(std::string_view name) {
    body_ += fmt::format("<g><title>{}</title>\n", escaped(name));
}

void Svg::close() {
    body_ += "</g>\n";
}

std::string Svg::str() const {
    return body_ + "</svg>\n";
}

}  // namespace fieldpeg::show
