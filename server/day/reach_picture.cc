#include "server/day/reach_picture.h"

#include "server/day/label_layout.h"
#include "server/day/paper.h"
#include "server/day/reach.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

using Reply = v1::ReachPictureReply;
using Curve = Reply::Curve;
using Panel = Reply::Panel;

// In sizes of the type.
constexpr double beside_each_other = 45;  ///< from this width on the panels are
constexpr double between = 1;

constexpr double side_height = 0.6;  ///< of its width
constexpr double highest_least_m = 50;
constexpr int rings = 4;

/// The span of a line that a curve shows; none: nowhere.
std::optional<v1::ReachSpan> span_of(const v1::ReachLine& l, Curve::Kind kind) {
    switch (kind) {
        case Curve::good_alone:
            return l.has_good_alone() ? std::optional(l.good_alone()) : std::nullopt;
        case Curve::usable_alone:
            return l.has_usable_alone() ? std::optional(l.usable_alone()) : std::nullopt;
        case Curve::good:
            return l.has_good() ? std::optional(l.good()) : std::nullopt;
        default:
            return l.has_usable() ? std::optional(l.usable()) : std::nullopt;
    }
}

double to_m(const v1::ReachLine& l, Curve::Kind kind) {
    const auto span = span_of(l, kind);
    return span ? span->to_m() : 0;
}

constexpr Curve::Kind kinds[] = {Curve::good_alone, Curve::usable_alone, Curve::good,
                                 Curve::usable};

/// A round number of metres, at least so many.
double rounded_up(double metres) {
    const double power = std::pow(10, std::floor(std::log10(std::max(metres, 1.0))));
    for (const double times : {1.0, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2, 4.0, 6.0, 8.0})
        if (times * power >= metres) return times * power;
    return 10 * power;
}

class ReachOnPaper {
public:
    ReachOnPaper(Reply& reply, const Paper& paper) : r_(reply), paper_(paper), type_(paper.type) {
        double most = 0, highest = highest_least_m;
        for (const auto& receiver : r_.reach().receivers()) {
            for (const auto& l : receiver.by_bearing())
                most = std::max(most, to_m(l, Curve::usable_alone));
            for (const auto& l : receiver.by_height()) {
                most = std::max(most, to_m(l, Curve::usable_alone));
                highest = std::max(highest, l.height_m());
            }
        }
        across_m_ = rounded_up(std::max(most, r_.reach().rim_m()));
        highest_m_ = highest;
    }

    void lay_out() {
        *r_.mutable_paper() = message(paper_);
        const double all = paper_.width - 2, apart = between * type_.size;
        const bool beside = paper_.width >= beside_each_other * type_.size;
        const double each = beside ? (all - apart) / 2 : all;
        const Rect compass{1, 1, each, each};
        auto names = add_compass(compass);
        const Rect side{beside ? 1 + each + apart : 1, beside ? 1 : 1 + each + apart, each,
                        side_height * each};
        const auto more = add_side(side, last_number(names));
        double bottom = std::max(compass.bottom(), side.bottom() + 1.5 * type_.line());
        bottom = add_key(names, bottom);
        bottom = add_key(more, bottom);
        r_.set_height(centi(bottom + 1));
    }

private:
    static void add_point(Spot at, Curve& curve) {
        auto& p = *curve.add_points();
        p.set_x(centi(at.x));
        p.set_y(centi(at.y));
    }

    std::vector<Naming> add_compass(const Rect& box) {
        auto& panel = *r_.add_panels();
        panel.set_kind(Panel::compass);
        *panel.mutable_box() = message(box);
        const double radius = box.width / 2 - 2;
        const auto middle = box.middle();
        const auto at = [&](const v1::ReachLine& l, Curve::Kind kind) {
            const double turn = l.azimuth_deg() * std::numbers::pi / 180;
            const double out = radius * to_m(l, kind) / across_m_;
            return Spot{middle.x + out * std::sin(turn), middle.y - out * std::cos(turn)};
        };
        for (const auto kind : kinds)
            for (int i = 0; i < r_.reach().receivers_size(); ++i) {
                const auto& lines = r_.reach().receivers(i).by_bearing();
                auto& curve = *panel.add_curves();
                curve.set_kind(kind);
                curve.set_receiver(static_cast<std::uint32_t>(i));
                for (const auto& l : lines) add_point(at(l, kind), curve);
                if (!lines.empty()) add_point(at(lines[0], kind), curve);
            }
        std::vector<Rect> taken;
        for (int ring = 1; ring <= rings; ++ring) {
            panel.add_rings(centi(radius * ring / rings));
            const auto text = length_text(across_m_ * ring / rings);
            const auto room = type_.box({}, std::span(&text, 1));
            const Rect place{middle.x + 2, middle.y - radius * ring / rings + 1, room.width,
                             room.height};
            taken.push_back(place);
            *panel.add_labels() = label(v1::Label::scale, text, place, v1::Label::start);
        }
        std::vector<Mark> marks;
        for (const auto& receiver : r_.reach().receivers())
            marks.push_back(
                mark(receiver, at(farthest(receiver.by_bearing()), Curve::usable_alone)));
        return name(box, marks, taken, 0, panel);
    }

    std::vector<Naming> add_side(const Rect& box, std::size_t last) {
        auto& panel = *r_.add_panels();
        panel.set_kind(Panel::side);
        *panel.mutable_box() = message(box);
        const auto at = [&](double metres, double height_m) {
            return Spot{box.left + box.width * metres / across_m_,
                        box.bottom() - (box.height - 2) * height_m / highest_m_};
        };
        const auto low = at(0, r_.reach().low_m()),
                   high = at(r_.reach().rim_m(), r_.reach().high_m());
        *panel.mutable_area() = message(Rect{low.x, high.y, high.x - low.x, low.y - high.y});
        for (const auto kind : kinds)
            for (int i = 0; i < r_.reach().receivers_size(); ++i) {
                auto& curve = *panel.add_curves();
                curve.set_kind(kind);
                curve.set_receiver(static_cast<std::uint32_t>(i));
                // Up along the end of what it carries, and down where it begins.
                const auto& lines = r_.reach().receivers(i).by_height();
                for (const auto& l : lines) add_point(at(to_m(l, kind), l.height_m()), curve);
                for (int j = lines.size(); j-- > 0;)
                    if (const auto span = span_of(lines[j], kind))
                        add_point(at(span->from_m(), lines[j].height_m()), curve);
            }
        std::vector<Rect> taken;
        for (int step = 1; step <= rings; ++step) {
            const auto foot = at(across_m_ * step / rings, 0),
                       top = at(0, highest_m_ * step / rings);
            if (step < rings) {
                *panel.add_grid() = message(Segment{foot, {foot.x, box.top}});
                *panel.add_grid() = message(Segment{top, {box.right(), top.y}});
            }
            const auto below = length_text(across_m_ * step / rings);
            const double width = type_.box({}, std::span(&below, 1)).width;
            *panel.add_labels() =
                label(v1::Label::scale, below,
                      {foot.x - width, box.bottom() + 2, width, type_.line()}, v1::Label::end);
            const auto up = fmt::format("{:.0f} m up", highest_m_ * step / rings);
            const auto room = type_.box({}, std::span(&up, 1));
            const Rect place{top.x + 2, top.y + 1, room.width, room.height};
            taken.push_back(place);
            *panel.add_labels() = label(v1::Label::scale, up, place, v1::Label::start);
        }
        std::vector<Mark> marks;
        for (const auto& receiver : r_.reach().receivers()) {
            const auto& l = farthest(receiver.by_height());
            marks.push_back(mark(receiver, at(to_m(l, Curve::usable_alone), l.height_m())));
        }
        return name(box, marks, taken, last, panel);
    }

    template <class Lines>
    static const v1::ReachLine& farthest(const Lines& lines) {
        return *std::ranges::max_element(
            lines, {}, [](const auto& l) { return to_m(l, Curve::usable_alone); });
    }
    static Mark mark(const v1::ReachReceiver& receiver, Spot at) {
        return {at, 2, Mark::Name::beside, {receiver_text(receiver.relay(), receiver.receiver())}};
    }

    std::vector<Naming> name(const Rect& box, std::vector<Mark>& marks,
                             const std::vector<Rect>& taken, std::size_t last, Panel& panel) {
        const auto inside = box.grown(-3);
        for (auto& m : marks)
            m.at = {std::clamp(m.at.x, inside.left, inside.right()),
                    std::clamp(m.at.y, inside.top, inside.bottom())};
        auto names = named(inside, marks, taken, type_, last);
        for (const auto& n : names) *panel.add_labels() = message(n, v1::Label::receiver);
        marks_.push_back(marks);
        return names;
    }

    double add_key(const std::vector<Naming>& names, double bottom) {
        const auto& marks = marks_[static_cast<std::size_t>(keys_++)];
        const double top = bottom + type_.line() / 2;
        const auto entries =
            key(names, marks, {type_.size / 2, top}, paper_.width - type_.size, type_);
        for (const auto& n : entries) {
            auto& m = *r_.add_key() = message(n, v1::Label::receiver);
            m.set_in_key(true);
        }
        return entries.empty() ? bottom : bottom_of(entries, top);
    }

    Reply& r_;
    Paper paper_;
    Type type_;
    double across_m_ = 0, highest_m_ = 0;
    std::vector<std::vector<Mark>> marks_;  ///< [panel]
    int keys_ = 0;
};

}  // namespace

Result<v1::ReachPictureReply> reach_picture(const v1::DaySheet& sheet, const v1::Pilot& pilot,
                                            const v1::ReachPictureQuery& query) {
    const ReachDetail fine{36, {2, 10, 20, 30, 45, 60, 80, 100, 120, 150, 200, 250, 300}};
    auto found = reach(sheet, pilot, query.basis(), fine);
    if (!found) return found.error();
    Reply reply;
    *reply.mutable_reach() = *std::move(found);
    ReachOnPaper(reply, paper(query.paper())).lay_out();
    return reply;
}

}  // namespace fieldpeg::day
