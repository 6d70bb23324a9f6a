#include "client/show/look.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "server/day/assessment.h"
#include "server/day/scene.h"
#include "server/day/words.h"
#include "server/spectrum/link.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr double width = 1040, height = 620;
constexpr double panel = 480, panel_top = 70;
constexpr double margin_m = 12;
constexpr double swamp_nearest_m = 0.3, swamp_farthest_m = 2000;
constexpr double swamp_step = 1.01;  ///< so exactly is it known

/// How far from a transmitter a receiver like this one is swamped by it alone, in its direction:
/// where the power that gets in is what the receiver stands. None: nowhere.
std::optional<double> swamp_range_m(const spectrum::Scene& scene, std::size_t transmitter,
                                    std::size_t receiver) {
    const auto& t = scene.transmitters[transmitter];
    const auto* from = std::get_if<spectrum::Point>(&t.at);
    if (!from) return std::nullopt;
    const auto& profile = scene.profiles[scene.receivers[receiver].profile];
    auto moved = scene.receivers[receiver];
    const double east = moved.at.x_m - from->x_m, north = moved.at.y_m - from->y_m;
    const double away = std::hypot(east, north);
    const auto swamps = [&](double distance_m) {
        const double share = away > 0 ? distance_m / away : 0;
        moved.at.x_m = from->x_m + (away > 0 ? east * share : distance_m);
        moved.at.y_m = from->y_m + north * share;
        const bool outside =
            t.frequency < profile.front_end_low || t.frequency > profile.front_end_high;
        const auto arriving = t.power + spectrum::unwanted_gain(t, moved, spectrum::Geometry::ref) -
                              (outside ? profile.front_end_rejection : spectrum::Decibel(0));
        return arriving >= profile.p1db;
    };
    // From far off inwards: close under a mast its antenna looks past whoever stands there.
    for (double distance_m = swamp_farthest_m; distance_m > swamp_nearest_m;
         distance_m /= swamp_step)
        if (swamps(distance_m)) return distance_m;
    return std::nullopt;
}

/// A part of the field on a square of the paper, north up.
class Frame {
public:
    void take_in(double east_m, double north_m, double radius_m) {
        west_ = std::min(west_, east_m - radius_m);
        east_ = std::max(east_, east_m + radius_m);
        south_ = std::min(south_, north_m - radius_m);
        north_ = std::max(north_, north_m + radius_m);
    }
    bool is_empty() const { return west_ > east_; }
    double per_metre() const { return panel / std::max(east_ - west_, north_ - south_); }
    double across_m() const { return panel / per_metre(); }
    Svg::Point at(double east_m, double north_m) const {
        return {panel / 2 + (east_m - (west_ + east_) / 2) * per_metre(),
                panel / 2 - (north_m - (south_ + north_) / 2) * per_metre()};
    }

private:
    double west_ = 1e9, east_ = -1e9, south_ = 1e9, north_ = -1e9;
};

/// The whole field on the left, where people stand on the right.
class Map {
public:
    Map(const v1::DaySheet& sheet, v1::Basis::Kind basis)
        : sheet_(sheet), assessment_(sheet, basis) {
        for (const auto& p : sheet.field().places()) {
            whole_.take_in(p.east_m(), p.north_m(), margin_m);
            people_.take_in(p.east_m(), p.north_m(), margin_m);
        }
        for (const auto& a : sheet.field().areas())
            whole_.take_in(a.east_m(), a.north_m(), a.radius_m() * 1.05);
        for (auto* frame : {&whole_, &people_})
            if (frame->is_empty()) frame->take_in(0, 0, margin_m);
    }

    std::string picture() const {
        const auto title = fmt::format("{}: the field", sheet_.field().name());
        Svg svg(width, height, title,
                fmt::format("To scale, north up. {} places, {} flying areas.",
                            sheet_.field().places_size(), sheet_.field().areas_size()));
        svg.text({30, 26}, title, "big");
        svg.text({30, 46},
                 fmt::format("North is up. Counting {}.", basis_text(assessment_.basis())), "");
        svg.open_frame({30, panel_top}, panel, panel);
        for (const auto& area : sheet_.field().areas()) draw(svg, area, whole_);
        for (const auto& place : sheet_.field().places())
            svg.circle(whole_.at(place.east_m(), place.north_m()), 2, "place");
        finish(svg, whole_);
        svg.open_frame({width - 30 - panel, panel_top}, panel, panel);
        for (const auto& area : sheet_.field().areas())
            svg.circle(people_.at(area.east_m(), area.north_m()),
                       area.radius_m() * people_.per_metre(), "axis");
        links(svg);
        for (const auto& place : sheet_.field().places()) draw(svg, place);
        relays(svg);
        finish(svg, people_);
        svg.text(
            {30, height - 16},
            "Left: the whole field. Right: where people stand. Dashed rings: nearer than that, "
            "a relay alone is more than a receiver there stands. Keep away from antennas that "
            "radiate.",
            "small");
        return svg.str();
    }

private:
    static void draw(Svg& svg, const v1::Area& area, const Frame& frame) {
        const auto middle = frame.at(area.east_m(), area.north_m());
        svg.open(fmt::format("{}: radius {:.0f} m, {:.0f} to {:.0f} m high", area.name(),
                             area.radius_m(), area.low_m(), area.high_m()));
        svg.circle(middle, area.radius_m() * frame.per_metre(), "area");
        svg.text(middle, area.name(), "middle");
        svg.close();
    }

    /// A place and who stands there.
    void draw(Svg& svg, const v1::Place& place) const {
        std::vector<std::string> names;
        for (const auto& p : sheet_.pilots())
            if (p.place() == place.name()) names.push_back(p.name());
        const auto point = people_.at(place.east_m(), place.north_m());
        svg.circle(point, 4, "place");
        svg.text({point.first + 6, point.second - 4},
                 names.empty() ? place.name()
                               : fmt::format("{}: {}", place.name(), fmt::join(names, ", ")),
                 "small", -35);
    }

    /// From each relay that is on to whom it is for.
    void links(Svg& svg) const {
        const auto& situation = assessment_.situation();
        for (std::size_t v = 0; v < situation.receivers.size(); ++v) {
            const auto& receiver = situation.scene.receivers[v];
            if (!receiver.hears) continue;
            const auto* from =
                std::get_if<spectrum::Point>(&situation.scene.transmitters[*receiver.hears].at);
            if (from)
                svg.line(people_.at(from->x_m, from->y_m),
                         people_.at(receiver.at.x_m, receiver.at.y_m), "link");
        }
    }

    /// Relays that are on, each with the range within which it swamps somebody else's receiver.
    void relays(Svg& svg) const {
        const auto& situation = assessment_.situation();
        for (std::size_t t = 0; t < situation.transmitters.size(); ++t) {
            const auto& of = situation.transmitters[t];
            if (!of.is_relay) continue;
            const auto stands = std::get<spectrum::Point>(situation.scene.transmitters[t].at);
            const auto point = people_.at(stands.x_m, stands.y_m);
            std::optional<double> widest;
            std::string whose;
            for (std::size_t v = 0; v < situation.receivers.size(); ++v) {
                if (situation.receivers[v].owner == of.owner) continue;
                const auto range = swamp_range_m(situation.scene, t, v);
                if (!range || (widest && *range <= *widest)) continue;
                widest = range;
                whose = fmt::format("{}'s {}", situation.receivers[v].owner,
                                    situation.receivers[v].name);
            }
            const auto power = day::power_text(situation.scene.transmitters[t].power.count());
            svg.open(fmt::format("{} on {} at {}", of.name, day::channel_text(of.channel), power));
            svg.path({{point.first, point.second - 8},
                      {point.first + 7, point.second + 5},
                      {point.first - 7, point.second + 5}},
                     true, "relay");
            svg.text({point.first + 8, point.second + 12}, fmt::format("{}, {}", of.name, power),
                     "small", 35);
            if (widest) {
                svg.circle(point, *widest * people_.per_metre(), "swamps");
                svg.text({point.first, point.second + *widest * people_.per_metre() + 12},
                         fmt::format("within {:.1f} m it swamps {}", *widest, whose),
                         "small middle");
            }
            svg.close();
        }
    }

    /// Its edge and its scale.
    static void finish(Svg& svg, const Frame& frame) {
        double length_m = std::pow(10, std::floor(std::log10(frame.across_m() / 3)));
        if (length_m * 5 <= frame.across_m() / 3) length_m *= 5;
        svg.line({10, panel - 12}, {10 + length_m * frame.per_metre(), panel - 12}, "scale");
        svg.text({10, panel - 18}, fmt::format("{:.0f} m", length_m), "");
        svg.rect({0.5, 0.5}, panel - 1, panel - 1, "axis");
        svg.close_frame();
    }

    const v1::DaySheet& sheet_;
    day::Assessment assessment_;
    Frame whole_, people_;
};

}  // namespace

std::string field_picture(const v1::DaySheet& sheet, v1::Basis::Kind basis) {
    return Map(sheet, basis).picture();
}

}  // namespace fieldpeg::show
