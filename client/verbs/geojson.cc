#include "client/verbs/verb.h"
#include "server/book/map.h"

#include "fieldpeg/v1/json.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <iostream>
#include <memory>
#include <numbers>
#include <string>
#include <vector>

namespace fieldpeg::verbs {
namespace {

constexpr int corners = 64;  ///< of a circle
constexpr double half_around_deg = 180;

/// A name as JSON has it.
std::string quoted(const std::string& name) {
    v1::Place place;
    place.set_name(name);
    const auto object = v1::json_text(place, {.on_lines = false, .with_zeros = false});
    return object.substr(object.find(':') + 1, object.size() - object.find(':') - 2);
}

/// Longitude, then latitude [RFC7946, 3.1.1], to a centimetre.
std::string position(const book::MapPoint& point) {
    return fmt::format("[{:.7f}, {:.7f}]", point.longitude_deg, point.latitude_deg);
}

std::string point(const book::MapPoint& at) {
    return fmt::format(R"({{"type": "Point", "coordinates": {}}})", position(at));
}

/// A circle, against the clock and closed [RFC7946, 3.1.6].
std::vector<book::MapPoint> ring_of(const book::MapPoint& origin, const v1::Area& area) {
    std::vector<book::MapPoint> ring;
    for (int i = 0; i < corners; ++i) {
        const double turn = 2 * std::numbers::pi * i / corners;
        ring.push_back(book::on_map(origin, {area.east_m() + area.radius_m() * std::cos(turn),
                                             area.north_m() + area.radius_m() * std::sin(turn)}));
    }
    ring.push_back(ring.front());
    return ring;
}

/// Where longitudes jump a ring is none that a map could draw: across the antimeridian, round a
/// pole.
bool jumps(const std::vector<book::MapPoint>& ring) {
    const auto [west, east] = std::ranges::minmax(ring, {}, &book::MapPoint::longitude_deg);
    return east.longitude_deg - west.longitude_deg > half_around_deg;
}

std::string polygon(const std::vector<book::MapPoint>& ring) {
    std::vector<std::string> line;
    for (const auto& corner : ring) line.push_back(position(corner));
    return fmt::format(R"({{"type": "Polygon", "coordinates": [[{}]]}})", fmt::join(line, ", "));
}

std::string feature(const std::string& geometry, const std::string& properties) {
    return fmt::format(R"(  {{"type": "Feature", "geometry": {}, "properties": {{{}}}}})", geometry,
                       properties);
}

std::string feature_of(const book::MapPoint& origin, const v1::Place& place) {
    return feature(point(book::on_map(origin, {place.east_m(), place.north_m()})),
                   fmt::format(R"("name": {}, "kind": "place", "height_m": {})",
                               quoted(place.name()), place.height_m()));
}

std::string feature_of(const book::MapPoint& origin, const v1::Area& area) {
    const auto ring = ring_of(origin, area);
    const bool is_drawn = !jumps(ring);
    if (!is_drawn)
        std::cerr << fmt::format(
            "fieldpeg: area {} lies across the antimeridian or a pole: only its middle is "
            "written\n",
            area.name());
    return feature(
        is_drawn ? polygon(ring) : point(book::on_map(origin, {area.east_m(), area.north_m()})),
        fmt::format(R"("name": {}, "kind": "area", "radius_m": {}, "low_m": {}, "high_m": {})",
                    quoted(area.name()), area.radius_m(), area.low_m(), area.high_m()));
}

std::string collection(const v1::Field& field, const book::MapPoint& origin) {
    std::vector<std::string> features;
    for (const auto& place : field.places()) features.push_back(feature_of(origin, place));
    for (const auto& area : field.areas()) features.push_back(feature_of(origin, area));
    return fmt::format("{{\"type\": \"FeatureCollection\", \"features\": [\n{}\n]}}",
                       fmt::join(features, ",\n"));
}

int write_map(const Common& common) {
    const auto [link, status] = open_course(common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_day();
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& field = answer.day().sheet().field();
    const auto origin = book::origin_of(field);
    if (!origin)
        return say_refusal(Refusal{Refusal::Kind::not_found, field.name(),
                                   "does not say where on the map its point 0, 0 is",
                                   "fieldpeg day set --origin LAT,LON"});
    return print(collection(field, *origin)) ? done : failed;
}

}  // namespace

void add_geojson(Verb& field, Run& run) {
    const auto common = std::make_shared<Common>();
    auto verb = field.verb("geojson", "Places and areas for a map program, as GeoJSON");
    add_course(verb, *common);
    verb.footer(
        "Coordinates are longitude, latitude of WGS 84. An area is a polygon of 64 corners.\n"
        "Example:\n"
        "  fieldpeg field geojson > field.geojson");
    verb.callback([common, &run] { run = [common] { return write_map(*common); }; });
}

}  // namespace fieldpeg::verbs
