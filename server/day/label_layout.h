#pragma once

#include "server/day/paper.h"

#include "fieldpeg/v1/picture.pb.h"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Where the names in a picture stand: decided once, for everybody who draws it.
namespace fieldpeg::day {

/// Something drawn at a spot that is to be named.
struct Mark {
    enum class Name {
        beside,  ///< to its right rather than to its left, above or below
        above,   ///< over it rather than beside
        upon,    ///< on the mark itself
        in_key,  ///< in the key, whatever the room
        spare,   ///< beside it if there is room, else nowhere
    };
    Spot at;
    double radius = 0;  ///< the room that is the mark's own: no text covers it
    Name name = Name::beside;
    std::vector<std::string> lines;  ///< without any it has no name and takes no room
};

/// Where a name stands, or the number that stands for it. Marks that would be drawn on one another
/// share one.
struct Naming {
    std::vector<std::size_t> of;  ///< the marks it names
    std::size_t number = 0;       ///< in the key; 0: the name itself stands here
    std::vector<std::string> lines;
    Rect box = {};
    v1::Label::Align align = v1::Label::start;
    std::optional<Segment> leader = {};  ///< from the mark, where the text isn't beside it
};

/// Gives every mark its name in the frame: beside it, else at the end of a line that leads there,
/// else as a number that the key explains. No text lies on another, on a mark, or on what is
/// `taken`, none leaves the frame, and no line runs through a text. Numbers go on from
/// `last_number` in the order of the marks. Requires marks in the frame, and room in it for at
/// least one number.
std::vector<Naming> named(const Rect& frame, std::span<const Mark> marks,
                          std::span<const Rect> taken, Type type, std::size_t last_number = 0);

/// The greatest number given so far.
std::size_t last_number(std::span<const Naming> names, std::size_t before = 0);

/// The numbers, each followed by the name that it stands for, from a corner downwards, in as many
/// columns as the width has room for.
std::vector<Naming> key(std::span<const Naming> names, std::span<const Mark> marks, Spot corner,
                        double width, Type type);

/// Where the lowest of some texts ends; `top` if there are none.
double bottom_of(std::span<const Naming> names, double top);

/// Its `of` counts from `first`, where marks of several kinds were named together.
v1::Label message(const Naming& naming, v1::Label::Kind kind, std::size_t first = 0);

/// A single line that names nothing, placed by itself.
v1::Label label(v1::Label::Kind kind, const std::string& text, const Rect& box,
                v1::Label::Align align);

}  // namespace fieldpeg::day
