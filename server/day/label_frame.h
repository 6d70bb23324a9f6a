#pragma once

#include "server/day/label_layout.h"
#include "server/day/paper.h"

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

/// The places in one frame of a picture, as texts take them. Used by label_layout.cc.
namespace fieldpeg::day {

/// What is left free on both sides of a text together, in sizes of the type.
inline constexpr double label_gap = 0.3;

/// Marks too near to each other to be told apart: they share one text.
struct Cluster {
    Mark mark;  ///< the first of them, with the lines of all
    std::vector<std::size_t> of;
    std::vector<Rect> rooms;  ///< that they take, each its own
    bool numbered = false;    ///< from the start, so that it finds a place before the names do
};

/// How names at the ends of lines lie: with lines straight up and down and all names to one side of
/// them, a row of marks becomes a staircase; a heap of marks wants them on all sides.
enum class Lean { left, right, round };

/// One frame as it fills. Each function finds a text a place, if there is one, and takes it.
class LabelFrame {
public:
    LabelFrame(const Rect& frame, std::span<const Rect> taken, Type type,
               std::span<const Cluster> clusters)
        : frame_(frame), type_(type), clusters_(clusters), texts_(taken.begin(), taken.end()) {}

    /// Beside its mark and nearer to it than to any other, without a line that leads there.
    bool put_beside(std::size_t i, Naming& naming);
    /// At the end of a line, no farther than `reach`; `strict`: one that crosses no other, nor a
    /// mark.
    bool put_away(std::size_t i, Naming& naming, double reach, Lean lean, bool strict);
    /// Wherever there is room, the nearest such place.
    bool put_anywhere(std::size_t i, Naming& naming);

private:
    bool is_nearest(const Rect& box, std::size_t own) const;
    bool is_free(const Rect& box, std::optional<std::size_t> upon) const;
    bool put_with_line(std::size_t i, Naming& naming, const Rect& box, Spot end, bool strict);
    bool runs_through_text(const Segment& leader) const;
    bool runs_over_something(const Segment& leader, std::size_t own) const;
    void put(Naming& naming, const Rect& box);

    Rect frame_;
    Type type_;
    std::span<const Cluster> clusters_;
    std::vector<Rect> texts_;
    std::vector<Segment> leaders_;
};

}  // namespace fieldpeg::day
