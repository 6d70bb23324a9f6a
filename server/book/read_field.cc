#include "server/book/day_file.h"
#include "server/book/day_reading.h"
#include "server/book/map.h"
#include "server/spectrum/geometry.h"

#include <fmt/format.h>

#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace fieldpeg::book {
namespace {

constexpr Range metres_range{-100'000, 100'000, "m"};
constexpr Range height_range{0, 20'000, "m above ground"};
constexpr Range radius_range{1, 100'000, "m"};

constexpr Range degrees_range{-180, 180, "degrees"};

/// Latitude and longitude; what is beyond a pole is a problem.
std::optional<MapPoint> read_map_point(Reader& r, std::string_view key) {
    const auto at = r.numbers(key, 2, degrees_range);
    if (!at) return std::nullopt;
    if (std::abs((*at)[0]) > 90) {
        r.problem(key, "has a latitude beyond 90 degrees", "[latitude, longitude]");
        return std::nullopt;
    }
    return MapPoint{(*at)[0], (*at)[1]};
}

bool is_on_field(const FieldPoint& at) {
    return std::abs(at.east_m) <= metres_range.high && std::abs(at.north_m) <= metres_range.high;
}

/// From the map to the field. What is far away was written the wrong way round, most likely.
std::optional<FieldPoint> read_on_map(Reader& r, const v1::Field& field, std::string_view key) {
    const auto point = read_map_point(r, key);
    if (!point) return std::nullopt;
    const auto origin = origin_of(field);
    if (!origin) {
        r.problem(key, "cannot be found without the field's point 0, 0 on the map",
                  "origin = [latitude, longitude] in [field], before it");
        return std::nullopt;
    }
    const auto at = on_field(*origin, *point);
    if (is_on_field(at)) return at;
    const bool fits_swapped =
        std::abs(point->longitude_deg) <= 90 &&
        is_on_field(on_field(*origin, {point->longitude_deg, point->latitude_deg}));
    r.problem(
        key,
        fmt::format("is {:.0f} km from the field's origin",
                    std::hypot(at.east_m, at.north_m) / 1000),
        "[latitude, longitude] of a point on the field",
        fits_swapped ? fmt::format("[{}, {}]", point->longitude_deg, point->latitude_deg) : "");
    return std::nullopt;
}

/// KEY_m: metres from the field's origin; KEY_deg: where it is on the map.
std::optional<FieldPoint> read_point(Reader& r, const v1::Field& field, const std::string& key) {
    const auto in_metres = key + "_m", in_degrees = key + "_deg";
    if (!r.has(in_degrees)) {
        const auto at = r.numbers(in_metres, 2, metres_range, Need::required);
        return at ? std::optional(FieldPoint{(*at)[0], (*at)[1]}) : std::nullopt;
    }
    if (r.has(in_metres))
        r.problem(in_degrees, fmt::format("is given beside {}", in_metres), "one of the two");
    return read_on_map(r, field, in_degrees);
}

void read_place(Reader& r, DayReading& day) {
    v1::Place place;
    const auto name = r.name("name", Need::required);
    if (name) r.called(fmt::format("field, place '{}'", *name));
    const auto at = read_point(r, day.sheet.field(), "at");
    place.set_height_m(r.number("height_m", height_range, Need::required).value_or(0));
    if (at) {
        place.set_east_m(at->east_m);
        place.set_north_m(at->north_m);
    }
    if (!name) return;
    place.set_name(*name);
    take_name(r, day.places, *name);
    place_named(*day.sheet.mutable_field()->mutable_places(), *name) = std::move(place);
}

void read_area(Reader& r, DayReading& day) {
    v1::Area area;
    const auto name = r.name("name", Need::required);
    if (name) r.called(fmt::format("field, area '{}'", *name));
    if (const auto centre = read_point(r, day.sheet.field(), "centre")) {
        area.set_east_m(centre->east_m);
        area.set_north_m(centre->north_m);
    }
    area.set_radius_m(r.number("radius_m", radius_range, Need::required).value_or(1));
    if (const auto heights = r.numbers("height_m", 2, height_range, Need::required)) {
        area.set_low_m((*heights)[0]);
        area.set_high_m((*heights)[1]);
        if ((*heights)[0] > (*heights)[1])
            r.problem("height_m", "has its ends the wrong way round", "[lowest, highest]");
    }
    if (const auto standoff = r.number("standoff_m", radius_range)) {
        area.set_standoff_m(*standoff);
        const auto most = spectrum::half_extent(
            {area.east_m(), area.north_m(), area.radius_m(), area.low_m(), area.high_m()});
        if (spectrum::Metres(*standoff) > most)
            r.problem("standoff_m", "is more than half of what the area measures across",
                      fmt::format("at most {:.0f} m", std::floor(most.count())));
    }
    if (!name) return;
    area.set_name(*name);
    take_name(r, day.areas, *name);
    place_named(*day.sheet.mutable_field()->mutable_areas(), *name) = std::move(area);
}

}  // namespace

void read_field_head(Reader& r, Need need, v1::Field& field) {
    if (const auto name = r.name("name", need)) field.set_name(*name);
    if (const auto origin = read_map_point(r, "origin")) {
        field.set_latitude_deg(origin->latitude_deg);
        field.set_longitude_deg(origin->longitude_deg);
    }
}

void read_field(Reader& r, DayReading& day) {
    read_field_head(r, Need::required, *day.sheet.mutable_field());
    read_places(r, day);
}

void read_places(Reader& r, DayReading& day) {
    r.tables("place", places_max, [&](Reader& place, std::size_t) { read_place(place, day); });
    r.tables("area", areas_max, [&](Reader& area, std::size_t) { read_area(area, day); });
    r.tables("emitter", emitters_max,
             [&](Reader& emitter, std::size_t) { read_emitter(emitter, day); });
}

}  // namespace fieldpeg::book
