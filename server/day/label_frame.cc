#include "server/day/label_frame.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace fieldpeg::day {
namespace {

/// How far from their marks texts are tried, in sizes of the type.
constexpr double distances[] = {0.8, 1.2, 1.7, 2.3, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 27};

/// On which side of a mark a text lies: -1 to the left or above, 0 in its middle, 1.
struct Side {
    int across, down;
};

/// A box of this size that has a spot at one of its sides.
Rect beside(Spot at, Side side, double away, const Rect& size) {
    return {at.x + side.across * (away + size.width / 2) - size.width / 2,
            at.y + side.down * (away + size.height / 2) - size.height / 2, size.width, size.height};
}

std::vector<Side> sides(Mark::Name name) {
    switch (name) {
        case Mark::Name::above:
        case Mark::Name::in_key:
            return {{0, -1}, {1, -1}, {-1, -1}};
        case Mark::Name::upon:
            return {{0, 0}, {0, -1}, {0, 1}, {1, 0}, {-1, 0}};
        default:
            return {{1, 0}, {-1, 0}, {0, -1}, {0, 1}, {1, -1}, {1, 1}, {-1, -1}, {-1, 1}};
    }
}

/// In which directions lines are tried, in radians from the right upwards.
std::vector<double> directions(Mark::Name name, Lean lean) {
    const bool only_up = name == Mark::Name::above || name == Mark::Name::in_key;
    std::vector<double> degrees;
    if (lean != Lean::round) {
        degrees = {90, 75, 105, -90, -75, -105};
    } else {
        const int first = name == Mark::Name::beside ? 0 : 90;
        for (int turn = 0; turn <= 180; turn += 15) {
            degrees.push_back(first + turn);
            if (turn % 180 != 0) degrees.push_back(first - turn);
        }
    }
    std::vector<double> radians;
    for (const double d : degrees) {
        const double angle = d * std::numbers::pi / 180;
        if (!only_up || std::sin(angle) > 0.4) radians.push_back(angle);
    }
    return radians;
}

/// On which sides of a line's end a text may lie so that the line doesn't run through it.
std::vector<Side> sides_of_end(double angle, Lean lean) {
    const double up = std::sin(angle);
    if (std::abs(up) < 0.1) return {{std::cos(angle) > 0 ? 1 : -1, 0}};
    const int down = up > 0 ? -1 : 1;
    if (lean == Lean::left) return {{-1, down}};
    if (lean == Lean::right) return {{1, down}};
    return {{1, down}, {-1, down}, {0, down}};
}

bool cross(const Segment& a, const Segment& b) {
    const auto side = [](const Segment& s, const Spot& p) {
        return (s.to.x - s.from.x) * (p.y - s.from.y) - (s.to.y - s.from.y) * (p.x - s.from.x);
    };
    return side(a, b.from) * side(a, b.to) < 0 && side(b, a.from) * side(b, a.to) < 0;
}

}  // namespace

bool LabelFrame::put_beside(std::size_t i, Naming& naming) {
    const auto& mark = clusters_[i].mark;
    const auto size = type_.box({}, naming.lines);
    for (const auto& side : sides(mark.name)) {
        const bool slanting = side.across != 0 && side.down != 0;
        const double away = (slanting ? 0.7 : 1) * (mark.radius + label_gap * type_.size);
        const auto box = beside(mark.at, side, away, size);
        if (!is_free(box, mark.name == Mark::Name::upon ? std::optional(i) : std::nullopt) ||
            !is_nearest(box, i))
            continue;
        put(naming, box);
        naming.align = side.across > 0   ? v1::Label::start
                       : side.across < 0 ? v1::Label::end
                                         : v1::Label::middle;
        return true;
    }
    return false;
}

bool LabelFrame::put_away(std::size_t i, Naming& naming, double reach, Lean lean, bool strict) {
    const auto& mark = clusters_[i].mark;
    const auto size = type_.box({}, naming.lines);
    const auto angles = directions(mark.name, lean);
    for (const double distance : distances) {
        if (distance * type_.size > reach) break;
        const double away = mark.radius + distance * type_.size;
        for (const double angle : angles) {
            const Spot end = {mark.at.x + away * std::cos(angle),
                              mark.at.y - away * std::sin(angle)};
            for (const auto& side : sides_of_end(angle, lean))
                if (put_with_line(i, naming, beside(end, side, 0, size), end, strict)) return true;
        }
    }
    return false;
}

bool LabelFrame::put_anywhere(std::size_t i, Naming& naming) {
    const auto& at = clusters_[i].mark.at;
    auto box = type_.box({}, naming.lines);
    std::optional<std::pair<Rect, Spot>> nearest;
    double least = 0;
    for (box.top = frame_.top; box.bottom() <= frame_.bottom(); box.top += type_.line() / 2) {
        for (box.left = frame_.left; box.right() <= frame_.right(); box.left += type_.size) {
            const Spot end = {std::clamp(at.x, box.left, box.right()),
                              std::clamp(at.y, box.top, box.bottom())};
            const double away = std::hypot(end.x - at.x, end.y - at.y);
            if ((nearest && away >= least) || !is_free(box, std::nullopt) ||
                runs_through_text({at, end}))
                continue;
            nearest = {box, end};
            least = away;
        }
    }
    return nearest && put_with_line(i, naming, nearest->first, nearest->second, false);
}

/// Whether nobody could take the text for the name of another mark.
bool LabelFrame::is_nearest(const Rect& box, std::size_t own) const {
    const auto distance = [&](std::size_t i) {
        const auto& at = clusters_[i].mark.at;
        return std::hypot(at.x - std::clamp(at.x, box.left, box.right()),
                          at.y - std::clamp(at.y, box.top, box.bottom()));
    };
    const double enough = distance(own) + label_gap * type_.size;
    for (std::size_t i = 0; i < clusters_.size(); ++i)
        if (i != own && distance(i) < enough) return false;
    return true;
}

/// Whether a text may stand there; over the mark of `upon`, but over no other.
bool LabelFrame::is_free(const Rect& box, std::optional<std::size_t> upon) const {
    const auto roomy = box.grown(label_gap * type_.size / 2);
    if (!frame_.contains(box)) return false;
    for (const auto& text : texts_)
        if (roomy.overlaps(text)) return false;
    for (const auto& leader : leaders_)
        if (roomy.meets(leader)) return false;
    for (std::size_t i = 0; i < clusters_.size(); ++i)
        if (i != upon)
            for (const auto& room : clusters_[i].rooms)
                if (box.overlaps(room)) return false;
    return true;
}

/// `end`: where on the box's edge the line ends.
bool LabelFrame::put_with_line(std::size_t i, Naming& naming, const Rect& box, Spot end,
                               bool strict) {
    if (!is_free(box, std::nullopt)) return false;
    const Segment leader = {clusters_[i].mark.at, end};
    if (runs_through_text(leader)) return false;
    if (strict && runs_over_something(leader, i)) return false;
    put(naming, box);
    leaders_.push_back(leader);
    naming.leader = leader;
    naming.align = end.x < box.left + 1      ? v1::Label::start
                   : end.x > box.right() - 1 ? v1::Label::end
                                             : v1::Label::middle;
    return true;
}

/// Through another than one that the mark itself lies under.
bool LabelFrame::runs_through_text(const Segment& leader) const {
    const Rect mark{leader.from.x, leader.from.y, 0, 0};
    return std::ranges::any_of(
        texts_, [&](const Rect& text) { return text.meets(leader) && !text.contains(mark); });
}

bool LabelFrame::runs_over_something(const Segment& leader, std::size_t own) const {
    for (const auto& other : leaders_)
        if (cross(leader, other)) return true;
    for (std::size_t i = 0; i < clusters_.size(); ++i)
        if (i != own)
            for (const auto& room : clusters_[i].rooms)
                if (room.meets(leader)) return true;
    return false;
}

void LabelFrame::put(Naming& naming, const Rect& box) {
    naming.box = box;
    texts_.push_back(box);
}

}  // namespace fieldpeg::day
