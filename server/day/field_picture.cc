#include "server/day/field_picture.h"

#include "server/day/label_layout.h"
#include "server/day/paper.h"
#include "server/day/scene.h"
#include "server/day/state.h"
#include "server/day/swamping.h"
#include "server/day/text_width.h"
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

using Reply = v1::FieldPictureReply;

// In sizes of the type.
constexpr double beside_each_other = 45;  ///< from this width on the panels are
constexpr double between = 1;
constexpr double dot = 0.25;

constexpr double whole_share = 0.36;  ///< of the width, beside the people's panel
/// Of a panel, left free on every side; where people stand that is for names.
constexpr double around_whole = 0.02, around_people = 0.2;
/// So much of the field is shown at least.
constexpr double whole_least_m = 20, people_least_m = 5;

/// Where a receiver of somebody stands, its own place or its owner's.
std::string place_of(const ReceiverOf& receiver, const v1::DaySheet& sheet) {
    if (!receiver.gear->place().empty()) return receiver.gear->place();
    return receiver.relay.empty() ? pilot(sheet, receiver.owner)->place()
                                  : relay(sheet, receiver.relay)->place();
}

/// How far it swamps the receiver of somebody else that it swamps farthest.
void add_swamped(const Situation& situation, std::size_t t, Reply::Relay& r) {
    const auto widest = swamping(situation, t, r.owner());
    if (!widest) return;
    r.set_swamps_within_m(milli(widest->within.count()));
    r.set_swamps_owner(widest->owner);
    r.set_swamps_receiver(widest->receiver);
}

/// Relays on the air, whom they are for, and whom they swamp.
void add_relays(const v1::DaySheet& sheet, v1::Basis::Kind basis, Reply& reply) {
    const auto situation = day::situation(sheet, basis);
    for (std::size_t t = 0; t < situation.transmitters.size(); ++t) {
        const auto& of = situation.transmitters[t];
        if (of.source != Source::relay) continue;
        auto& r = *reply.add_relays();
        r.set_relay(of.name);
        r.set_owner(of.owner);
        *r.mutable_channel() = of.channel;
        r.set_power_dbm(milli(situation.scene.transmitters[t].power.count()));
        r.set_place(relay(sheet, of.name)->place());
        add_swamped(situation, t, r);
        for (std::size_t v = 0; v < situation.receivers.size(); ++v) {
            if (situation.scene.receivers[v].hears != t) continue;
            auto& l = *r.add_links();
            l.set_owner(situation.receivers[v].owner);
            l.set_receiver(situation.receivers[v].name);
            l.set_place(place_of(situation.receivers[v], sheet));
        }
    }
}

/// A part of the field, north up, in a box on the paper.
class Frame {
public:
    void take_in(double east_m, double north_m, double radius_m = 0) {
        west_ = std::min(west_, east_m - radius_m);
        east_ = std::max(east_, east_m + radius_m);
        south_ = std::min(south_, north_m - radius_m);
        north_ = std::max(north_, north_m + radius_m);
    }
    double across_m() const { return std::max({east_ - west_, north_ - south_, 0.0}); }

    /// From now on to scale, in the middle of the box, at least `least_m` of the field.
    void put_in(const Rect& box, double around, double least_m) {
        if (west_ > east_) take_in(0, 0);
        box_ = box;
        const double part = 1 - 2 * around;
        per_metre_ = std::min(part * box.width / std::max(east_ - west_, least_m),
                              part * box.height / std::max(north_ - south_, least_m));
    }
    const Rect& box() const { return box_; }
    double per_metre() const { return per_metre_; }
    double west_m() const { return (west_ + east_) / 2 - box_.width / 2 / per_metre_; }
    double north_m() const { return (north_ + south_) / 2 + box_.height / 2 / per_metre_; }
    Spot at(double east_m, double north_m) const {
        return {box_.left + (east_m - west_m()) * per_metre_,
                box_.top + (this->north_m() - north_m) * per_metre_};
    }

private:
    double west_ = 1e9, east_ = -1e9, south_ = 1e9, north_ = -1e9;
    Rect box_;
    double per_metre_ = 1;
};

/// The bar that shows the scale, in the lower left corner: at most a third of the width.
struct Scale {
    double length_m = 0;
    Segment bar;
    std::string text;
    Rect box;

    Scale(const Frame& frame, Type type) {
        const double third_m = frame.box().width / 3 / frame.per_metre();
        length_m = std::pow(10, std::floor(std::log10(third_m)));
        for (const double times : {5.0, 2.0})
            if (length_m * times <= third_m) {
                length_m *= times;
                break;
            }
        const Spot corner{frame.box().left + type.size / 2, frame.box().bottom() - type.size / 2};
        bar = {corner, {corner.x + length_m * frame.per_metre(), corner.y}};
        text = fmt::format("{} m", milli(length_m));
        box = type.box({corner.x, corner.y - type.line() - type.size / 4}, std::span(&text, 1));
    }
    /// The bar and its text.
    Rect room() const {
        return {box.left, box.top, std::max(box.width, bar.to.x - bar.from.x),
                bar.from.y - box.top + 2};
    }
};

/// Lays it out on paper.
class FieldOnPaper {
public:
    FieldOnPaper(Reply& reply, const Paper& paper) : r_(reply), paper_(paper), type_(paper.type) {
        for (const auto& p : r_.places()) {
            whole_.take_in(p.place().east_m(), p.place().north_m());
            people_.take_in(p.place().east_m(), p.place().north_m());
        }
        for (const auto& a : r_.areas()) whole_.take_in(a.east_m(), a.north_m(), a.radius_m());
        const double across_m = std::max(people_.across_m(), people_least_m);
        for (const auto& p : r_.places())
            for (const auto& r : r_.relays())  // a ring is shown whole unless it dwarfs people
                if (r.place() == p.place().name() && r.swamps_within_m() < across_m)
                    people_.take_in(p.place().east_m(), p.place().north_m(), r.swamps_within_m());
        put_panels();
    }

    void lay_out() {
        *r_.mutable_paper() = message(paper_);
        const auto areas = area_marks();
        const auto whole = add_panel(Reply::Panel::whole_field, whole_, areas, 0, 0);
        auto people_marks = place_marks();
        const auto places = people_marks.size();
        for (auto& m : rim_marks()) people_marks.push_back(std::move(m));
        const auto people =
            add_panel(Reply::Panel::people, people_, people_marks, places, last_number(whole));
        double bottom = std::max(whole_.box().bottom(), people_.box().bottom());
        bottom = add_key(whole, areas, 0, bottom);
        bottom = add_key(people, people_marks, places, bottom);
        r_.set_height(centi(bottom + 1));
    }

private:
    void put_panels() {
        const double all = paper_.width - 2, apart = between * type_.size;
        if (paper_.width >= beside_each_other * type_.size) {
            const double whole = whole_share * (all - apart), people = all - apart - whole;
            whole_.put_in({1, 1, whole, people}, around_whole, whole_least_m);
            people_.put_in({1 + whole + apart, 1, people, people}, around_people, people_least_m);
        } else {
            whole_.put_in({1, 1, all, all}, around_whole, whole_least_m);
            people_.put_in({1, 1 + all + apart, all, all}, around_people, people_least_m);
        }
    }

    std::vector<Mark> area_marks() const {
        std::vector<Mark> marks;
        for (const auto& a : r_.areas()) {
            const double radius = a.radius_m() * whole_.per_metre();
            const bool holds_name = type_.box({}, std::span(&a.name(), 1)).width < 1.6 * radius;
            marks.push_back({whole_.at(a.east_m(), a.north_m()),
                             holds_name ? 0 : std::min(radius, 2 * type_.size),
                             holds_name ? Mark::Name::upon : Mark::Name::beside,
                             {a.name()}});
        }
        return marks;
    }

    /// Places with who stands there and the relays on them.
    std::vector<Mark> place_marks() const {
        std::vector<Mark> marks;
        for (const auto& p : r_.places()) {
            auto& m = marks.emplace_back();
            m.at = people_.at(p.place().east_m(), p.place().north_m());
            m.radius = dot * type_.size;
            m.lines = {p.place().name()};
            if (!p.pilots().empty()) m.lines[0] += fmt::format(": {}", fmt::join(p.pilots(), ", "));
            for (const auto& r : r_.relays()) {
                if (r.place() != p.place().name()) continue;
                m.radius = 2 * dot * type_.size;
                m.lines.push_back(fmt::format("{}, {}, {}", r.relay(), r.channel().name(),
                                              unbroken(power_text(r.power_dbm()))));
                if (r.has_swamps_within_m())
                    m.lines.push_back(fmt::format("within {:.1f}\u00A0m it swamps {}'s {}",
                                                  r.swamps_within_m(), r.swamps_owner(),
                                                  r.swamps_receiver()));
            }
        }
        return marks;
    }

    /// Areas where people stand, by the point of the rim nearest the middle of what is shown. The
    /// other panel has their names too.
    std::vector<Mark> rim_marks() const {
        constexpr int points = 72;
        std::vector<Mark> marks;
        const auto middle = people_.box().middle();
        const auto from_middle = [&](const Spot& at) {
            return std::hypot(at.x - middle.x, at.y - middle.y);
        };
        for (const auto& a : r_.areas()) {
            std::vector<Spot> rim;
            for (int i = 0; i < points; ++i) {
                const double turn = 2 * std::numbers::pi * i / points;
                rim.push_back(people_.at(a.east_m() + a.radius_m() * std::cos(turn),
                                         a.north_m() + a.radius_m() * std::sin(turn)));
            }
            const auto nearest = *std::ranges::min_element(rim, {}, from_middle);
            const bool is_seen = people_.box().contains({nearest.x, nearest.y, 0, 0});
            marks.push_back({nearest, 0, Mark::Name::spare, {}});
            if (is_seen) marks.back().lines.push_back(a.name());
        }
        return marks;
    }

    /// Adds a panel with its names: of `places` places, then of areas.
    std::vector<Naming> add_panel(Reply::Panel::Kind kind, const Frame& frame,
                                  const std::vector<Mark>& marks, std::size_t places,
                                  std::size_t last) {
        auto& p = *r_.add_panels();
        p.set_kind(kind);
        *p.mutable_box() = message(frame.box());
        p.set_west_m(milli(frame.west_m()));
        p.set_north_m(milli(frame.north_m()));
        p.set_units_per_m(frame.per_metre());
        const Scale scale(frame, type_);
        p.set_scale_m(milli(scale.length_m));
        *p.mutable_scale() = message(scale.bar);
        *p.add_labels() = label(v1::Label::scale, scale.text, scale.box, v1::Label::start);
        const std::vector<Rect> taken = {scale.room()};
        auto names = named(frame.box().grown(-2), marks, taken, type_, last);
        for (const auto& n : names) *p.add_labels() = of_places_and_areas(n, places);
        return names;
    }

    /// Where it ends.
    double add_key(const std::vector<Naming>& names, const std::vector<Mark>& marks,
                   std::size_t places, double bottom) {
        const double top = bottom + type_.line() / 2;
        const auto entries =
            key(names, marks, {type_.size / 2, top}, paper_.width - type_.size, type_);
        for (const auto& n : entries) {
            auto& m = *r_.add_key() = of_places_and_areas(n, places);
            m.set_in_key(true);
        }
        return entries.empty() ? bottom : bottom_of(entries, top);
    }

    static v1::Label of_places_and_areas(const Naming& n, std::size_t places) {
        return n.of.front() < places ? message(n, v1::Label::place)
                                     : message(n, v1::Label::area, places);
    }

    Reply& r_;
    Paper paper_;
    Type type_;
    Frame whole_, people_;
};

}  // namespace

v1::FieldPictureReply field_picture(const v1::DaySheet& sheet, const v1::FieldPictureQuery& query) {
    Reply reply;
    reply.set_field(sheet.field().name());
    reply.set_basis(query.basis());
    *reply.mutable_areas() = sheet.field().areas();
    for (const auto& place : sheet.field().places()) {
        auto& standing = *reply.add_places();
        *standing.mutable_place() = place;
        for (const auto& p : sheet.pilots())
            if (p.place() == place.name()) standing.add_pilots(p.name());
    }
    add_relays(sheet, query.basis(), reply);
    FieldOnPaper(reply, paper(query.paper())).lay_out();
    return reply;
}

}  // namespace fieldpeg::day
