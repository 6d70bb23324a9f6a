#include "client/show/day.h"
#include "client/show/json.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"
#include "server/book/names.h"

#include <fmt/format.h>

#include <optional>
#include <sstream>
#include <string>
#include <vector>

namespace fieldpeg::verbs {
namespace {

struct FieldOptions {
    Common common;
    std::string because;
    bool now = false;
    std::string file, name;
    std::vector<double> numbers;
    std::string at;
    std::optional<double> standoff_m;
    std::string place, channel, power, duty;
    std::optional<double> wifi, width_mhz;
    bool is_gone = false;
};

int show_field(const FieldOptions& options) {
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_day();
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    return print(options.common.json ? show::json_text(answer.day())
                                     : show::field_text(answer.day(), show::look_of_stdout()))
               ? done
               : failed;
}

int put_file(const FieldOptions& options) {
    const auto text = read_text(options.file);
    return text ? put(options.common, *text, options.file) : bad_input;
}

int take_away(const FieldOptions& options, const char* what, std::vector<std::string> places,
              std::vector<std::string> areas) {
    if (!options.numbers.empty())
        return say_bad_input("--gone", fmt::format("goes without metres: {} is taken away", what));
    return put(options.common, book::toml_of(book::GoneText{std::move(places), std::move(areas)}));
}

/// Where the first two of so many numbers may be said as a point of the map instead.
std::optional<std::optional<book::MapPoint>> map_point(const FieldOptions& options,
                                                       std::size_t numbers, const char* what) {
    const auto wanted = numbers - (options.at.empty() ? 0 : 2);
    if (options.numbers.size() != wanted) {
        say_bad_input("METRES", fmt::format("are {}, not {}: {}{}", wanted, options.numbers.size(),
                                            options.at.empty() ? "east, north, " : "", what));
        return std::nullopt;
    }
    if (options.at.empty()) return std::optional<book::MapPoint>();
    const auto point = position_argument("--at", options.at);
    if (!point) return std::nullopt;
    return point;
}

int put_place(const FieldOptions& options) {
    if (options.is_gone) return take_away(options, "the place", {options.name}, {});
    const auto map = map_point(options, 3, "height of the antenna");
    if (!map) return bad_input;
    v1::Place place;
    place.set_name(options.name);
    if (!*map) {
        place.set_east_m(options.numbers[0]);
        place.set_north_m(options.numbers[1]);
    }
    place.set_height_m(options.numbers.back());
    return put(options.common, book::toml_of(place, *map));
}

/// That of the area as it is known, if it is; the exit status if that cannot be asked.
std::optional<int> keep_standoff(link::Link& link, v1::Area& area) {
    v1::Query query;
    query.mutable_day();
    const auto answer = link.ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto* known = book::find_named(answer.day().sheet().field().areas(), area.name());
    if (known != nullptr && known->has_standoff_m()) area.set_standoff_m(known->standoff_m());
    return std::nullopt;
}

int put_area(const FieldOptions& options) {
    if (options.is_gone) return take_away(options, "the area", {}, {options.name});
    const auto map = map_point(options, 5, "radius, lowest and highest height");
    if (!map) return bad_input;
    v1::Area area;
    area.set_name(options.name);
    if (!*map) {
        area.set_east_m(options.numbers[0]);
        area.set_north_m(options.numbers[1]);
    }
    const auto last = options.numbers.size();
    area.set_radius_m(options.numbers[last - 3]);
    area.set_low_m(options.numbers[last - 2]);
    area.set_high_m(options.numbers[last - 1]);
    const auto [link, status] = open_course(options.common, Access::write);
    if (!link) return status;
    if (options.standoff_m)
        area.set_standoff_m(*options.standoff_m);
    else if (const auto wrong = keep_standoff(*link, area))
        return *wrong;
    const auto toml = book::toml_of(area, *map);
    if (!toml) return say_refusal(toml.error());
    v1::Command command;
    command.mutable_put()->set_toml(*toml);
    command.mutable_put()->set_file("");
    return tell_and_print(*link, command, options.common.json);
}

/// A share as people write one: 20 %, 20%, 0.2; none if it is none, which is said.
std::optional<double> share_argument(const std::string& written) {
    double value = 0;
    std::string unit;
    std::istringstream in(written);
    if (!(in >> value) || (in >> unit && unit != "%")) {
        say_bad_input("--duty", fmt::format("'{}' is no share: 20 % or 0.2", written));
        return std::nullopt;
    }
    return unit == "%" ? value / 100 : value;
}

int put_emitter(const FieldOptions& options) {
    if (options.is_gone) {
        v1::Command command;
        command.mutable_remove()->set_name(options.name);
        return tell_and_print(options.common, command);
    }
    if (options.place.empty())
        return say_bad_input("--place", "is missing: where it stands, from 'fieldpeg field show'");
    book::EmitterText emitter{options.name,      options.place, options.wifi, options.channel,
                              options.width_mhz, std::nullopt,  std::nullopt};
    if (!options.power.empty()) {
        emitter.power_dbm = power_argument("--power", options.power);
        if (!emitter.power_dbm) return bad_input;
    }
    if (!options.duty.empty()) {
        emitter.duty = share_argument(options.duty);
        if (!emitter.duty) return bad_input;
    }
    return put(options.common, book::toml_of(emitter));
}

int close_field(const FieldOptions& options) {
    v1::Command command;
    command.mutable_close_field()->set_because(options.because);
    command.mutable_close_field()->set_now(options.now);
    return tell_and_print(options.common, command);
}

int open_field(const FieldOptions& options) {
    v1::Command command;
    command.mutable_open_field();
    return tell_and_print(options.common, command);
}

}  // namespace

void add_field(Verb& program, Run& run) {
    const auto options = std::make_shared<FieldOptions>();
    auto field = program.verb("field", "The flying site: places, areas, and whether it is open");
    field.needs_verb();
    const auto verb = [&](const char* name, const char* what, int (*act)(const FieldOptions&)) {
        auto added = field.verb(name, what);
        add_course(added, options->common);
        added.callback([options, &run, act] { run = [options, act] { return act(*options); }; });
        return added;
    };
    verb("show", "All places and areas, and the rule set", show_field);
    auto file = verb("put", "Places and areas from a file, as a day file writes them", put_file);
    file.value("FILE", options->file, "- for standard input").required();
    auto place = verb("place", "Enter or move a place", put_place);
    place.value("NAME", options->name, "what it is called").required();
    place.value("METRES", options->numbers, "east, north, height of the antenna").expected(-1);
    place.value("--at", options->at, "where it is on a map, in the place of east and north")
        .type_name("LAT,LON");
    place.flag("--gone", options->is_gone, "take it away; nobody may stand there");
    place.footer(
        "Examples:\n  fieldpeg field place tripod-2 12 -3 2.5\n"
        "  fieldpeg field place tripod-2 --at 52.04512,-1.20341 2.5\n"
        "  fieldpeg field place pits --gone");
    auto area = verb("area", "Enter or change a flying area", put_area);
    area.value("NAME", options->name, "what it is called").required();
    area.value("METRES", options->numbers, "east, north, radius, lowest and highest height")
        .expected(-1);
    area.value("--at", options->at, "where its middle is on a map, in the place of east and north")
        .type_name("LAT,LON");
    area.flag("--gone", options->is_gone, "take it away; nobody may fly there");
    area.value("--standoff", options->standoff_m,
               "aircraft come no nearer to people; default: as it is, or 30 m")
        .type_name("METRES");
    add_gpx(field, run);
    add_geojson(field, run);
    auto emitter = verb("emitter",
                        "Enter anew or take away what else radiates: an access point, a phone, "
                        "a screen's sender",
                        put_emitter);
    emitter.value("NAME", options->name, "what it is called").required();
    emitter.value("--place", options->place, "where it stands").type_name("PLACE");
    emitter.value("--wifi", options->wifi, "its channel by the number that it shows")
        .type_name("NUMBER");
    emitter.value("--channel", options->channel, "or by its frequency").type_name("MHZ");
    emitter.value("--width", options->width_mhz, "10, 20 or 40; default: 20").type_name("MHZ");
    emitter.value("--power", options->power, "what it sends with; default: 100mW")
        .type_name("POWER");
    emitter.value("--duty", options->duty, "share of the time in which it sends; default: 30%")
        .type_name("SHARE");
    emitter.flag("--gone", options->is_gone, "it is switched off or taken away");
    emitter.footer(
        "It counts in every flight group, for pictures and for control.\n"
        "Examples:\n"
        "  fieldpeg field emitter 'club Wi-Fi' --place hut --wifi 6\n"
        "  fieldpeg field emitter screen --place hut --channel 5745 --width 40 --duty 80%\n"
        "  fieldpeg field emitter 'club Wi-Fi' --gone");
    auto close =
        verb("close", "Flights end, and nobody gets a yes until it is open again", close_field);
    close.value("--because", options->because, "why: lunch, a walker, a helicopter")
        .type_name("TEXT")
        .required();
    close.flag("--now", options->now, "everybody lands at once; anybody who has joined may say so");
    close.footer(
        "What is on the air is noted as ever.\n"
        "Examples:\n"
        "  fieldpeg field close --because lunch\n"
        "  fieldpeg field close --now --because \"a helicopter from the south\"");
    verb("open", "The marshal: whose turn it is may ask again", open_field);
    area.footer("Example:\n  fieldpeg field area circuit 0 85 55 3 50");
}

}  // namespace fieldpeg::verbs
