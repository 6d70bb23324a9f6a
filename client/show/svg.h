#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fieldpeg::show {

/// A picture in SVG [SVG11], legible in grey: classes differ in dashes, hatching and weight.
class Svg {
public:
    using Point = std::pair<double, double>;

    /// Sizes in its own units; the picture scales. Title and description are for who cannot see it.
    Svg(double width, double height, std::string_view title, std::string_view description);

    void line(Point from, Point to, std::string_view look);
    void rect(Point corner, double width, double height, std::string_view look);
    void circle(Point middle, double radius, std::string_view look);
    void path(const std::vector<Point>& points, bool closed, std::string_view look);
    /// `look` may hold "middle" or "end" beside others: which end of the text is at the point.
    void text(Point at, std::string_view words, std::string_view look, double turned_deg = 0);
    /// What stands in it belongs together, under a name that is read out and shown on hovering.
    void open(std::string_view name);
    void close();

    /// A picture in the picture: positions within are from its corner, and nothing sticks out.
    void open_frame(Point corner, double width, double height);
    void close_frame();

    std::string str() const;

private:
    std::string body_;
};

}  // namespace fieldpeg::show
