#include "client/verbs/parts.h"
#include "client/verbs/verb.h"
#include "server/book/day_file.h"
#include "server/book/names.h"

#include <fmt/format.h>
#include <pugixml.hpp>

#include <cmath>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::verbs {
namespace {

constexpr std::size_t gpx_bytes_max = 4'000'000;
constexpr auto usual_height_m = 1.7;  ///< goggles on a head

struct GpxOptions {
    Common common;
    std::string file, origin;
    double height_m = usual_height_m;
};

/// A number that fills its attribute, as XML Schema's decimal does.
std::optional<double> degrees_of(const pugi::xml_attribute& written) {
    const std::string text = written.value();
    char* end = nullptr;
    const auto value = std::strtod(text.c_str(), &end);
    if (text.empty() || *end != '\0' || !std::isfinite(value)) return std::nullopt;
    return value;
}

/// The waypoints of a file [GPX11]; none after all that is wrong with it was said.
std::optional<std::vector<book::PlaceOnMap>> waypoints_of(const std::string& file,
                                                          const std::string& text) {
    pugi::xml_document xml;
    const auto read = xml.load_buffer(text.data(), text.size());
    if (!read) {
        say_bad_input(file, fmt::format("is no XML: {} after {} bytes; nothing was entered",
                                        read.description(), read.offset));
        return std::nullopt;
    }
    const auto gpx = xml.child("gpx");
    if (!gpx) {
        say_bad_input(file, "is no GPX: its first element is not <gpx>; nothing was entered");
        return std::nullopt;
    }
    std::vector<book::PlaceOnMap> places;
    bool is_good = true;
    for (const auto& point : gpx.children("wpt")) {
        const auto name = std::string(point.child("name").text().get());
        const auto where =
            fmt::format("{}: waypoint {}{}", file, places.size() + 1,
                        name.empty() ? "" : fmt::format(" '{}'", book::printable(name)));
        const auto latitude = degrees_of(point.attribute("lat"));
        const auto longitude = degrees_of(point.attribute("lon"));
        is_good = is_good && latitude && longitude && !name.empty();
        if (name.empty()) say_bad_input(where, "has no <name>: give it one, or take it out");
        if (!latitude || !longitude)
            say_bad_input(where, "has no lat and lon in degrees; nothing was entered");
        places.push_back({name, {latitude.value_or(0), longitude.value_or(0)}});
    }
    if (!is_good) return std::nullopt;
    if (places.empty()) {
        say_bad_input(file, "has no waypoints (<wpt>); tracks and routes are not read");
        return std::nullopt;
    }
    if (places.size() > book::places_max) {
        say_bad_input(file,
                      fmt::format("has {} waypoints; at most {}", places.size(), book::places_max));
        return std::nullopt;
    }
    return places;
}

int enter_waypoints(const GpxOptions& options) {
    const auto text = read_text(options.file);
    if (!text) return bad_input;
    if (text->size() > gpx_bytes_max)
        return say_bad_input(options.file, fmt::format("is longer than {} bytes", gpx_bytes_max));
    const auto places = waypoints_of(options.file, *text);
    if (!places) return bad_input;
    std::optional<book::MapPoint> origin;
    for (const auto& place : *places)
        if (book::name_key(place.name) == book::name_key(options.origin)) origin = place.at;
    if (!options.origin.empty() && !origin)
        return say_bad_input(
            "--origin", fmt::format("no waypoint is called '{}'", book::printable(options.origin)));
    return put(options.common, book::toml_of(*places, options.height_m, origin));
}

}  // namespace

void add_gpx(Verb& field, Run& run) {
    const auto options = std::make_shared<GpxOptions>();
    auto verb = field.verb("gpx", "Places from the waypoints of a map program's or a phone's file");
    verb.value("FILE", options->file, "GPX 1.1; - for standard input").required();
    verb.value("--origin", options->origin,
               "the waypoint that is the field's point 0, 0; default: as the field has it")
        .type_name("NAME");
    verb.value("--height", options->height_m, "of their antennas above ground")
        .type_name("METRES")
        .shows_default();
    add_course(verb, options->common);
    verb.footer(
        "All of them, or none. A place of the same name is moved. A phone's waypoint is often 5 m\n"
        "off: where antennas stand closer than that, pace it out. The file's elevation is not "
        "read.\n"
        "Example:\n"
        "  fieldpeg field gpx field.gpx --origin hut");
    verb.callback([options, &run] { run = [options] { return enter_waypoints(*options); }; });
}

}  // namespace fieldpeg::verbs
