#pragma once

#include "fieldpeg/v1/picture.pb.h"

#include <pugixml.hpp>

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fieldpeg::show {

/// What stands around a drawing, in paragraphs that go on on as many lines as they need.
struct Words {
    std::string title;
    std::vector<std::string> head;  ///< under the title
    std::vector<std::string> foot;  ///< under the drawing
};

/// Whether a file of this beginning is a picture that this program drew.
bool is_own_svg(std::string_view beginning);

/// A picture in SVG [SVG11], legible in grey: classes differ in dashes, hatching and weight. What
/// is drawn stands between title and foot, in the picture units of a reply.
class Svg {
public:
    using Point = std::pair<double, double>;

    /// A drawing so high on this paper. Its title and head are also for who cannot see it.
    Svg(const v1::Paper& paper, double height, const Words& words);

    void line(Point from, Point to, std::string_view look);
    void line(const v1::Line& line, std::string_view look);
    void rect(const v1::Box& box, std::string_view look);
    void circle(Point middle, double radius, std::string_view look);
    void path(const std::vector<Point>& points, bool closed, std::string_view look);
    /// Its lines where they stand, and the line that leads to what it names.
    void label(const v1::Label& label, std::string_view look = "name");
    /// What stands in it belongs together, under a name that is read out and shown on hovering.
    void open(std::string_view name);
    void close();

    /// What is drawn until it is closed doesn't stick out of the box.
    void open_frame(const v1::Box& box);
    void close_frame();

    std::string str() const;

private:
    void text(Point at, std::string_view words, v1::Label::Align align, std::string_view look);
    double paragraph(std::string_view words, double top, bool big);

    double width_, size_;
    double origin_ = 0;  ///< where the drawing begins
    int frames_ = 0;
    pugi::xml_document document_;
    pugi::xml_node at_;  ///< what is drawn goes in here
};

}  // namespace fieldpeg::show
