#include "client/show/look.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>

namespace fieldpeg::show {
namespace {

using Reply = v1::FieldPictureReply;
using Panel = Reply::Panel;

Words words(const Reply& r) {
    Words w;
    w.title = fmt::format("{}: the field", r.field());
    w.head = {fmt::format("To scale, north is up. Counting {}.", basis_text(r.basis()))};
    const bool beside = r.panels_size() > 1 && r.panels(0).box().left() != r.panels(1).box().left();
    w.foot = {
        fmt::format("{}: the whole field. {}: where people stand, the dashed square of it. "
                    "Triangles: relays. Dashed rings: nearer than that, a relay alone is more "
                    "than a receiver there stands. Keep away from antennas that radiate.",
                    beside ? "Left" : "Above", beside ? "Right" : "Below")};
    return w;
}

/// The field as it is drawn.
class Map {
public:
    explicit Map(const Reply& reply)
        : r_(reply), svg_(r_.paper(), r_.height(), words(r_)), dot_(r_.paper().text_size() / 4) {}

    std::string picture() {
        for (const auto& panel : r_.panels()) {
            svg_.open_frame(panel.box());
            if (panel.kind() == Panel::people)
                people(panel);
            else
                whole(panel);
            svg_.close_frame();
            svg_.line(panel.scale(), "scale");
            for (const auto& l : panel.labels())
                if (l.kind() != v1::Label::place) svg_.label(l);
            svg_.rect(panel.box(), "axis");
        }
        for (const auto& l : r_.key()) svg_.label(l);
        return svg_.str();
    }

private:
    static Svg::Point at(const Panel& panel, double east_m, double north_m) {
        return {panel.box().left() + (east_m - panel.west_m()) * panel.units_per_m(),
                panel.box().top() + (panel.north_m() - north_m) * panel.units_per_m()};
    }
    Svg::Point at(const Panel& panel, const std::string& place) const {
        for (const auto& p : r_.places())
            if (p.place().name() == place)
                return at(panel, p.place().east_m(), p.place().north_m());
        return at(panel, 0, 0);
    }

    void areas(const Panel& panel, std::string_view look) {
        for (const auto& area : r_.areas()) {
            svg_.open(fmt::format("{}: radius {:.0f} m, {:.0f} to {:.0f} m high", area.name(),
                                  area.radius_m(), area.low_m(), area.high_m()));
            svg_.circle(at(panel, area.east_m(), area.north_m()),
                        area.radius_m() * panel.units_per_m(), look);
            svg_.close();
        }
    }

    void whole(const Panel& panel) {
        areas(panel, "area");
        for (const auto& p : r_.places())
            svg_.circle(at(panel, p.place().east_m(), p.place().north_m()), dot_ / 2, "place");
        for (const auto& other : r_.panels()) {
            if (other.kind() != Panel::people) continue;
            const auto corner = at(panel, other.west_m(), other.north_m());
            const double scale = panel.units_per_m() / other.units_per_m();
            v1::Box shown;
            shown.set_left(corner.first);
            shown.set_top(corner.second);
            shown.set_width(other.box().width() * scale);
            shown.set_height(other.box().height() * scale);
            svg_.rect(shown, "scope");
        }
    }

    void people(const Panel& panel) {
        areas(panel, "rim");
        for (const auto& relay : r_.relays()) ways_of(panel, relay);
        for (int i = 0; i < r_.places_size(); ++i) place(panel, i);
    }

    /// To whom a relay is for, and the ring within which it swamps somebody else.
    void ways_of(const Panel& panel, const Reply::Relay& relay) {
        for (const auto& link : relay.links())
            svg_.line(at(panel, relay.place()), at(panel, link.place()), "link");
        if (!relay.has_swamps_within_m()) return;
        svg_.open(fmt::format("within {:.1f} m {} swamps {}'s {}", relay.swamps_within_m(),
                              relay.relay(), relay.swamps_owner(), relay.swamps_receiver()));
        svg_.circle(at(panel, relay.place()), relay.swamps_within_m() * panel.units_per_m(),
                    "swamps");
        svg_.close();
    }

    /// A place with what stands on it, and the text that begins with it.
    void place(const Panel& panel, int index) {
        const auto& p = r_.places(index);
        const auto point = at(panel, p.place().east_m(), p.place().north_m());
        svg_.open(p.pilots().empty()
                      ? p.place().name()
                      : fmt::format("{}: {}", p.place().name(), fmt::join(p.pilots(), ", ")));
        svg_.circle(point, dot_, "place");
        for (const auto& relay : r_.relays())
            if (relay.place() == p.place().name()) triangle(point, relay);
        for (const auto& l : panel.labels())
            if (l.kind() == v1::Label::place && !l.of().empty() &&
                l.of(0) == static_cast<std::uint32_t>(index))
                svg_.label(l);
        svg_.close();
    }

    void triangle(Svg::Point point, const Reply::Relay& relay) {
        const auto [x, y] = point;
        svg_.open(fmt::format("{} on {} at {}", relay.relay(), day::channel_text(relay.channel()),
                              day::power_text(relay.power_dbm())));
        svg_.path(
            {{x, y - 2 * dot_}, {x + 1.8 * dot_, y + 1.3 * dot_}, {x - 1.8 * dot_, y + 1.3 * dot_}},
            true, "relay");
        svg_.close();
    }

    const Reply& r_;
    Svg svg_;
    double dot_;
};

}  // namespace

std::string field_picture(const Reply& reply) {
    return Map(reply).picture();
}

}  // namespace fieldpeg::show
