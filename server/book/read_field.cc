#include "server/book/day_file.h"
#include "server/book/day_reading.h"
#include "server/spectrum/geometry.h"

#include <cmath>
#include <utility>

namespace fieldpeg::book {
namespace {

constexpr Range metres_range{-100'000, 100'000, "m"};
constexpr Range height_range{0, 20'000, "m above ground"};
constexpr Range radius_range{1, 100'000, "m"};

void read_place(Reader& r, DayReading& day) {
    v1::Place place;
    const auto name = r.name("name", Need::required);
    if (name) r.called(fmt::format("field, place '{}'", *name));
    const auto at = r.numbers("at_m", 2, metres_range, Need::required);
    place.set_height_m(r.number("height_m", height_range, Need::required).value_or(0));
    if (at) {
        place.set_east_m((*at)[0]);
        place.set_north_m((*at)[1]);
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
    if (const auto centre = r.numbers("centre_m", 2, metres_range, Need::required)) {
        area.set_east_m((*centre)[0]);
        area.set_north_m((*centre)[1]);
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

void read_field(Reader& r, DayReading& day) {
    auto* field = day.sheet.mutable_field();
    field->set_name(r.name("name", Need::required).value_or(""));
    if (const auto origin = r.numbers("origin", 2, {-180, 180, "degrees"})) {
        field->set_latitude_deg((*origin)[0]);
        field->set_longitude_deg((*origin)[1]);
        if (std::abs((*origin)[0]) > 90)
            r.problem("origin", "has a latitude beyond 90 degrees", "[latitude, longitude]");
    }
    read_places(r, day);
}

void read_places(Reader& r, DayReading& day) {
    r.tables("place", places_max, [&](Reader& place, std::size_t) { read_place(place, day); });
    r.tables("area", areas_max, [&](Reader& area, std::size_t) { read_area(area, day); });
    r.tables("emitter", emitters_max,
             [&](Reader& emitter, std::size_t) { read_emitter(emitter, day); });
}

}  // namespace fieldpeg::book
