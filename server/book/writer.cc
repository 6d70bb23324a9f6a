#include "server/book/writer.h"

#include "server/book/names.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cstdio>
#include <optional>
#include <sstream>
#include <utility>

namespace fieldpeg::book {
namespace {

/// toml++ would take the bytes of a text that is not UTF-8 for characters of their own.
const std::string* not_utf8(const toml::node& node) {
    if (const auto* text = node.as_string()) return is_utf8(text->get()) ? nullptr : &text->get();
    const std::string* found = nullptr;
    const auto look = [&](const toml::node& inner) {
        if (!found) found = not_utf8(inner);
    };
    if (const auto* table = node.as_table())
        for (const auto& [key, value] : *table) look(value);
    if (const auto* array = node.as_array())
        for (const auto& value : *array) look(value);
    return found;
}

/// Every text in double quotes on one line, as the guide has them.
Result<std::string> written(const toml::node& node) {
    if (const auto* wrong = not_utf8(node))
        return Refusal{Refusal::Kind::malformed, "",
                       fmt::format("'{}' is not UTF-8", printable(*wrong)),
                       "texts are UTF-8; set the terminal to it"};
    std::ostringstream text;
    text << toml::toml_formatter(node, toml::format_flags::allow_unicode_strings);
    return text.str();
}

/// One of a list of tables: [[KEY]].
toml::table one_of(std::string_view key, toml::table table) {
    return toml::table{{key, toml::array{std::move(table)}}};
}

template <class Values>
toml::array array(const Values& values) {
    toml::array all;
    for (const auto& value : values) all.push_back(value);
    return all;
}

toml::table table_of(const TransmitterText& transmitter) {
    toml::table table;
    const auto say = [&](const char* key, const std::string& value) {
        if (!value.empty()) table.insert(key, value);
    };
    say("emission", transmitter.emission);
    say("antenna", transmitter.antenna);
    say("polarisation", transmitter.polarisation);
    if (!transmitter.power_dbm.empty()) table.insert("power_dbm", array(transmitter.power_dbm));
    if (!transmitter.channels.empty()) table.insert("channels", array(transmitter.channels));
    return table;
}

toml::array array_of(const MapPoint& point) {
    return toml::array{point.latitude_deg, point.longitude_deg};
}

void put_point(toml::table& table, const std::string& key, const FieldPoint& at,
               const std::optional<MapPoint>& map) {
    if (map)
        table.insert(key + "_deg", array_of(*map));
    else
        table.insert(key + "_m", toml::array{at.east_m, at.north_m});
}

/// "2026-09-19".
std::optional<toml::date> date_of(const std::string& written) {
    int year = 0, month = 0, day = 0, end = 0;
    if (std::sscanf(written.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &end) != 3 ||
        static_cast<std::size_t>(end) != written.size() || year < 0 || month < 1 || month > 12 ||
        day < 1 || day > 31)
        return std::nullopt;
    return toml::date{year, month, day};
}

toml::table table_of(const ReceiverText& receiver) {
    return toml::table{{"receiver", receiver.receiver},
                       {"antenna", receiver.antenna},
                       {"polarisation", receiver.polarisation}};
}

}  // namespace

Result<std::string> toml_of(const HeadText& head) {
    toml::table day, field;
    const auto say = [](toml::table& table, std::string_view key, const auto& value) {
        if (value) table.insert(key, *value);
    };
    say(day, "name", head.name);
    say(day, "lost_picture", head.lost_picture);
    say(day, "usual_minutes", head.usual_minutes);
    say(day, "power_limit_dbm", head.power_limit_dbm);
    if (head.is_without_limit) day.insert("power_limit_mw", "none");
    if (const auto date = date_of(head.date.value_or("")))
        day.insert("date", *date);
    else
        say(day, "date", head.date);  // that it is none is said by whoever reads it
    say(field, "name", head.field);
    if (head.origin) field.insert("origin", array_of(*head.origin));
    toml::table all;
    if (!day.empty()) all.insert("day", std::move(day));
    if (!field.empty()) all.insert("field", std::move(field));
    return written(all);
}

Result<std::string> toml_of(const GoneText& gone) {
    return written(toml::table{
        {"gone", toml::table{{"places", array(gone.places)}, {"areas", array(gone.areas)}}}});
}

Result<std::string> toml_of(const PilotText& pilot) {
    toml::table table{{"name", pilot.name}, {"place", pilot.place}};
    if (!pilot.kit.empty()) table.insert("kit", pilot.kit);
    if (!pilot.relay_place.empty()) table.insert("relay_place", pilot.relay_place);
    if (!pilot.area.empty()) table.insert("area", pilot.area);
    if (pilot.goggles) table.insert("receiver", toml::array{table_of(*pilot.goggles)});
    if (pilot.video) table.insert("video", table_of(*pilot.video));
    if (pilot.uplink_dbm) table.insert("uplink", toml::table{{"power_dbm", *pilot.uplink_dbm}});
    if (pilot.is_steered) {
        table.insert("handset", toml::table{});
        table.insert("control", toml::table{});
    }
    return written(one_of("pilot", std::move(table)));
}

Result<std::string> toml_of(const RelayText& relay) {
    auto table = table_of(relay.transmitter);
    table.insert("name", relay.name);
    table.insert("owner", relay.owner);
    table.insert("place", relay.place);
    if (relay.receiver) table.insert("receiver", toml::array{table_of(*relay.receiver)});
    return written(one_of("relay", std::move(table)));
}

Result<std::string> toml_of(const EmitterText& emitter) {
    toml::table table{{"name", emitter.name}, {"place", emitter.place}};
    if (emitter.wifi) table.insert("wifi", *emitter.wifi);
    if (!emitter.channel.empty()) table.insert("channel", emitter.channel);
    if (emitter.width_mhz) table.insert("width_mhz", *emitter.width_mhz);
    if (emitter.power_dbm) table.insert("power_dbm", *emitter.power_dbm);
    if (emitter.duty) table.insert("duty", *emitter.duty);
    return written(toml::table{{"field", one_of("emitter", std::move(table))}});
}

Result<std::string> toml_of(const v1::Place& place, const std::optional<MapPoint>& map) {
    toml::table table{{"name", place.name()}, {"height_m", place.height_m()}};
    put_point(table, "at", {place.east_m(), place.north_m()}, map);
    return written(toml::table{{"field", one_of("place", std::move(table))}});
}

Result<std::string> toml_of(const v1::Area& area, const std::optional<MapPoint>& map) {
    toml::table table{{"name", area.name()},
                      {"radius_m", area.radius_m()},
                      {"height_m", toml::array{area.low_m(), area.high_m()}}};
    put_point(table, "centre", {area.east_m(), area.north_m()}, map);
    if (area.has_standoff_m()) table.insert("standoff_m", area.standoff_m());
    return written(toml::table{{"field", one_of("area", std::move(table))}});
}

Result<std::string> toml_of(const std::vector<PlaceOnMap>& places, double height_m,
                            const std::optional<MapPoint>& origin) {
    toml::array all;
    for (const auto& place : places)
        all.push_back(toml::table{
            {"name", place.name}, {"at_deg", array_of(place.at)}, {"height_m", height_m}});
    toml::table field{{"place", std::move(all)}};
    if (origin) field.insert("origin", array_of(*origin));
    return written(toml::table{{"field", std::move(field)}});
}

Result<std::string> toml_of(const v1::ReceiverProfile& p) {
    const auto name = toml_of(p.name()), title = toml_of(p.title());
    if (!name) return name.error();
    if (!title) return title.error();
    std::vector<std::string> knots;
    for (const auto& knot : p.selectivity())
        knots.push_back(fmt::format("[{}, {}]", knot.offset_mhz(), knot.level_db()));
    auto text = fmt::format("[receiver.{}]\n", *name);
    const auto say = [&](std::string_view key, const auto& value) {
        text += fmt::format("{:<22} = {}\n", key, value);
    };
    say("title", *title);
    say("selectivity_db", fmt::format("[{}]", fmt::join(knots, ", ")));
    say("noise_figure_db", p.noise_figure_db());
    say("iip3_dbm", p.iip3_dbm());
    say("p1db_dbm", p.p1db_dbm());
    say("strongest_wanted_dbm", p.strongest_wanted_dbm());
    say("watchable_db", p.watchable_db());
    say("sharp_db", p.sharp_db());
    say("front_end_mhz", fmt::format("[{}, {}]", p.front_end_low_mhz(), p.front_end_high_mhz()));
    say("front_end_rejection_db", p.front_end_rejection_db());
    if (!p.shows().empty()) say("shows", fmt::format("[\"{}\"]", fmt::join(p.shows(), "\", \"")));
    text += fmt::format("[receiver.{}.provenance]\n", *name);
    for (const auto& one : p.provenance()) {
        if (one.kind() == v1::Provenance::declared) continue;  // as is what nothing is said of
        const auto source = toml_of(one.source());
        if (!source) return source.error();
        // A chain of stages has become one figure.
        say(one.key() == "cascade" ? "noise_figure_db" : one.key(),
            fmt::format("[\"{}\", {}]", v1::Provenance::Kind_Name(one.kind()), *source));
    }
    return text;
}

Result<std::string> toml_of(std::string_view text) {
    return written(toml::value<std::string>(text));
}

}  // namespace fieldpeg::book
