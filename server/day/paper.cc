#include "server/day/paper.h"

#include "server/day/text_width.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace fieldpeg::day {

bool Rect::overlaps(const Rect& o) const {
    return left < o.right() && o.left < right() && top < o.bottom() && o.top < bottom();
}

bool Rect::contains(const Rect& o) const {
    return left <= o.left && o.right() <= right() && top <= o.top && o.bottom() <= bottom();
}

Rect Rect::grown(double by) const {
    return {left - by, top - by, width + 2 * by, height + 2 * by};
}

/// Whether a part of it lies inside: cut to the slab between two sides, then to the other.
bool Rect::meets(const Segment& s) const {
    struct Slab {
        double from, to, low, high;
    };
    double begin = 0, end = 1;
    for (const auto& [from, to, low, high] :
         {Slab{s.from.x, s.to.x, left, right()}, Slab{s.from.y, s.to.y, top, bottom()}}) {
        const double step = to - from;
        if (step == 0) {
            if (from <= low || from >= high) return false;
            continue;
        }
        begin = std::max(begin, std::min((low - from) / step, (high - from) / step));
        end = std::min(end, std::max((low - from) / step, (high - from) / step));
    }
    return begin < end;
}

Rect Type::box(Spot corner, std::span<const std::string> lines) const {
    Rect box{corner.x, corner.y, 0, static_cast<double>(lines.size()) * line()};
    for (const auto& l : lines) box.width = std::max(box.width, text_width(l, size));
    return box;
}

Paper paper(const v1::Paper& asked) {
    Paper p;
    if (asked.width() != 0) p.width = asked.width();
    if (asked.text_size() != 0) p.type.size = asked.text_size();
    return p;
}

double centi(double units) {
    const double rounded = std::round(units * 100) / 100;
    return rounded == 0 ? 0 : rounded;  // no -0
}

v1::Paper message(const Paper& paper) {
    v1::Paper m;
    m.set_width(centi(paper.width));
    m.set_text_size(centi(paper.type.size));
    return m;
}

v1::Box message(const Rect& rect) {
    v1::Box m;
    m.set_left(centi(rect.left));
    m.set_top(centi(rect.top));
    m.set_width(centi(rect.width));
    m.set_height(centi(rect.height));
    return m;
}

v1::Line message(const Segment& segment) {
    v1::Line m;
    m.set_from_x(centi(segment.from.x));
    m.set_from_y(centi(segment.from.y));
    m.set_to_x(centi(segment.to.x));
    m.set_to_y(centi(segment.to.y));
    return m;
}

}  // namespace fieldpeg::day
