#include "server/day/label_layout.h"

#include "server/day/label_frame.h"
#include "server/day/text_width.h"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

namespace fieldpeg::day {
namespace {

// All in sizes of the type, but for what is said.
constexpr double apart = 0.5;        ///< marks nearer to each other than this are one
constexpr double name_width = 24;    ///< a longer name goes on on the next line
constexpr double name_share = 0.6;   ///< of the frame's width, which it may not exceed either
constexpr double name_reach = 14;    ///< how far a line may lead to a name,
constexpr double number_reach = 27;  ///< and to a number
constexpr double room_of_one = 16;   ///< of the frame's area, in squares of the size
constexpr double key_column = 26, key_gap = 2;

Rect room_of(const Mark& mark) {
    return Rect{mark.at.x, mark.at.y, 0, 0}.grown(mark.radius);
}

std::vector<Cluster> clusters(std::span<const Mark> marks, double within) {
    std::vector<Cluster> all;
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const auto& m = marks[i];
        if (m.lines.empty()) continue;
        const auto near = std::ranges::find_if(all, [&](const Cluster& c) {
            return c.mark.name == m.name &&
                   std::hypot(c.mark.at.x - m.at.x, c.mark.at.y - m.at.y) < within;
        });
        if (near == all.end()) {
            all.push_back({m, {i}, {room_of(m)}, m.name == Mark::Name::in_key});
            continue;
        }
        near->of.push_back(i);
        near->rooms.push_back(room_of(m));
        near->mark.radius = std::max(near->mark.radius, m.radius);
        near->mark.lines.insert(near->mark.lines.end(), m.lines.begin(), m.lines.end());
    }
    return all;
}

std::vector<std::string> on_lines(std::span<const std::string> texts, Type type, double width) {
    std::vector<std::string> lines;
    for (const auto& text : texts)
        for (auto& line : wrapped(text, type.size, width)) lines.push_back(std::move(line));
    return lines;
}

/// One way to lay a frame out.
class Try {
public:
    Try(const Rect& frame, std::span<const Rect> taken, Type type, std::span<const Cluster> all,
        Lean lean, std::size_t last_number)
        : type_(type),
          all_(all),
          lean_(lean),
          widest_(std::to_string(last_number + all.size()).size(), '0'),
          frame_(frame, taken, type, all) {
        const double width = std::min(name_width * type.size, name_share * frame.width);
        for (const auto& c : all) names_.push_back({c.of, 0, on_lines(c.mark.lines, type, width)});
        for (std::size_t i = 0; i < all.size(); ++i)
            if (all[i].numbered) put_number(i);
        put_names();
    }

    /// Those that have neither name nor number.
    const std::vector<std::size_t>& without_place() const { return without_place_; }

    bool is_better_than(const Try& other) const {
        return std::tuple(without_place_.size(), numbered_, lines()) <
               std::tuple(other.without_place_.size(), other.numbered_, other.lines());
    }

    /// With numbers in the order of the marks, after `last`.
    std::vector<Naming> names(std::size_t last) && {
        for (auto& n : names_)
            if (n.number != 0) {
                n.number = ++last;
                n.lines = {std::to_string(last)};
            }
        std::erase_if(names_, [](const Naming& n) { return n.box.width == 0; });
        return std::move(names_);
    }

private:
    void put_names() {
        std::vector<std::size_t> away;
        for (std::size_t i = 0; i < all_.size(); ++i)
            if (!all_[i].numbered && !frame_.put_beside(i, names_[i]) &&
                all_[i].mark.name != Mark::Name::spare)
                away.push_back(i);
        const double order = lean_ == Lean::left ? 1 : lean_ == Lean::right ? -1 : 0;
        std::ranges::stable_sort(away, {},
                                 [&](std::size_t i) { return order * all_[i].mark.at.x; });
        std::vector<std::size_t> left;
        for (const auto i : away)
            if (!frame_.put_away(i, names_[i], name_reach * type_.size, lean_, true))
                left.push_back(i);
        for (const auto i : left) put_number(i);
    }

    void put_number(std::size_t i) {
        const double reach = number_reach * type_.size;
        auto& name = names_[i];
        name.number = ++numbered_;
        name.lines = {widest_};
        if (!frame_.put_beside(i, name) && !frame_.put_away(i, name, reach, Lean::round, true) &&
            !frame_.put_away(i, name, reach, Lean::round, false) && !frame_.put_anywhere(i, name))
            without_place_.push_back(i);
    }

    double lines() const {
        double all = 0;
        for (const auto& n : names_)
            if (n.leader)
                all += std::hypot(n.leader->to.x - n.leader->from.x,
                                  n.leader->to.y - n.leader->from.y);
        return all;
    }

    Type type_;
    std::span<const Cluster> all_;
    Lean lean_;
    std::string widest_;  ///< number that there may be
    LabelFrame frame_;
    std::vector<Naming> names_;
    std::size_t numbered_ = 0;
    std::vector<std::size_t> without_place_;
};

/// How near to each other marks may be: beyond a certain number they are drawn as fewer.
double distance_kept(const Rect& frame, std::span<const Mark> marks, Type type) {
    const double most = frame.width * frame.height / (room_of_one * type.size * type.size);
    double within = apart * type.size;
    while (static_cast<double>(clusters(marks, within).size()) > std::max(most, 1.0) &&
           within < frame.width + frame.height)
        within *= 1.5;
    return within;
}

}  // namespace

std::vector<Naming> named(const Rect& frame, std::span<const Mark> marks,
                          std::span<const Rect> taken, Type type, std::size_t last_number) {
    double within = distance_kept(frame, marks, type);
    auto all = clusters(marks, within);
    while (true) {
        Try best(frame, taken, type, all, Lean::round, last_number);
        for (const auto lean : {Lean::left, Lean::right}) {
            Try other(frame, taken, type, all, lean, last_number);
            if (other.is_better_than(best)) best = std::move(other);
        }
        const auto& left = best.without_place();
        if (left.empty() || within > frame.width + frame.height)
            return std::move(best).names(last_number);
        const auto was_first = [&](std::size_t i) { return all[i].numbered; };
        if (std::ranges::any_of(left, was_first))
            all = clusters(marks, within *= 2);  // fewer numbers, each for more
        else
            for (const auto i : left) all[i].numbered = true;  // from now on before all names
    }
}

std::size_t last_number(std::span<const Naming> names, std::size_t before) {
    for (const auto& n : names) before = std::max(before, n.number);
    return before;
}

std::vector<Naming> key(std::span<const Naming> names, std::span<const Mark> marks, Spot corner,
                        double width, Type type) {
    const double between = key_gap * type.size;
    const double columns =
        std::max(1.0, std::floor((width + between) / (key_column * type.size + between)));
    const double column = (width - (columns - 1) * between) / columns;
    const auto widest = std::to_string(last_number(names));
    const double indent = text_width(widest, type.size) + 2 * label_gap * type.size;
    std::vector<Naming> entries;
    double height = 0;
    for (const auto& n : names) {
        if (n.number == 0) continue;
        auto& e = entries.emplace_back(Naming{n.of, n.number, {}});
        for (const auto m : n.of)
            for (auto& line : on_lines(marks[m].lines, type, column - indent))
                e.lines.push_back(std::move(line));
        e.box = type.box({}, e.lines);
        height += e.box.height;
    }
    std::vector<Naming> all;
    double filled = 0, in_columns = 0, y = corner.y;
    for (auto& e : entries) {
        if (filled + e.box.height / 2 > (in_columns + 1) * height / columns &&
            in_columns + 1 < columns) {
            ++in_columns;
            y = corner.y;
        }
        const Spot at{corner.x + in_columns * (column + between), y};
        const std::vector number = {std::to_string(e.number)};
        all.push_back({e.of, e.number, number, type.box(at, number)});
        e.box.left = at.x + indent;
        e.box.top = at.y;
        y = e.box.bottom();
        filled += e.box.height;
        all.push_back(std::move(e));
    }
    return all;
}

double bottom_of(std::span<const Naming> names, double top) {
    for (const auto& n : names) top = std::max(top, n.box.bottom());
    return top;
}

v1::Label message(const Naming& naming, v1::Label::Kind kind, std::size_t first) {
    v1::Label m;
    m.set_kind(kind);
    for (const auto i : naming.of) m.add_of(static_cast<std::uint32_t>(i - first));
    for (const auto& line : naming.lines) m.add_lines(line);
    *m.mutable_box() = message(naming.box);
    m.set_align(naming.align);
    if (naming.leader) *m.mutable_leader() = message(*naming.leader);
    m.set_number(static_cast<std::uint32_t>(naming.number));
    return m;
}

v1::Label label(v1::Label::Kind kind, const std::string& text, const Rect& box,
                v1::Label::Align align) {
    v1::Label m;
    m.set_kind(kind);
    m.add_lines(text);
    *m.mutable_box() = message(box);
    m.set_align(align);
    return m;
}

}  // namespace fieldpeg::day
