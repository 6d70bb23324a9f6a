#pragma once

#include "fieldpeg/v1/picture.pb.h"

#include <span>
#include <string>

/// What pictures are laid out on. Lengths are picture units, from the upper left corner, x to the
/// right and y downwards.
namespace fieldpeg::day {

struct Spot {
    double x = 0;
    double y = 0;
};

struct Segment {
    Spot from;
    Spot to;
};

struct Rect {
    double left = 0;
    double top = 0;
    double width = 0;
    double height = 0;

    double right() const { return left + width; }
    double bottom() const { return top + height; }
    Spot middle() const { return {left + width / 2, top + height / 2}; }
    bool overlaps(const Rect& other) const;
    bool contains(const Rect& other) const;
    bool meets(const Segment& segment) const;
    Rect grown(double by) const;
};

/// The type that all texts of a picture are set in.
struct Type {
    double size = 0;

    double line() const { return 1.25 * size; }
    /// The room that lines of text take, their upper left corner at a spot.
    Rect box(Spot corner, std::span<const std::string> lines) const;
};

/// A sheet of paper: pictures grow downwards as far as they have to.
struct Paper {
    double width = 1000;  ///< A4 between its margins
    Type type = {16};     ///< 8 points there

    static constexpr double width_min = 200, width_max = 10'000;
    /// So many times the size of its text a paper is wide.
    static constexpr double sizes_min = 20, sizes_max = 200;
};

/// What is asked for, with the usual in the place of what is not.
Paper paper(const v1::Paper& asked);

/// Rounded to 0.01, as replies carry picture units.
double centi(double units);

v1::Paper message(const Paper& paper);
v1::Box message(const Rect& rect);
v1::Line message(const Segment& segment);

}  // namespace fieldpeg::day
