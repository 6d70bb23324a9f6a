#include "server/book/parts.h"

#include "server/book/day_file.h"
#include "server/book/day_reading.h"
#include "server/book/kits.h"
#include "server/book/library.h"

#include <algorithm>

namespace fieldpeg::book {
namespace {

/// The day that parts may refer to. A relay that the file writes anew is not the one it was.
void refer_to(const v1::DaySheet& base, DayReading& day) {
    day.sheet.set_name(base.name());
    day.sheet.set_date(base.date());
    day.sheet.set_usual_minutes(base.usual_minutes());
    day.sheet.set_lost_picture(base.lost_picture());
    if (base.has_power_limit_dbm()) day.sheet.set_power_limit_dbm(base.power_limit_dbm());
    *day.sheet.mutable_services() = base.services();
    *day.sheet.mutable_field() = base.field();
    *day.sheet.mutable_pilots() = base.pilots();
    *day.sheet.mutable_relays() = base.relays();
    for (const auto& relay : base.relays()) {
        const bool is_written = std::ranges::any_of(day.relays, [&](const RelayOf& written) {
            return name_key(written.name) == name_key(relay.name());
        });
        if (!is_written) day.relays.push_back({relay.name(), relay.owner()});
    }
}

/// Goggles that heard the aircraft hear the relay now, if it is new and its owner's only one.
bool tune_to_relay(const DayReading& day, v1::Pilot& pilot) {
    std::vector<const RelayOf*> own;
    for (const auto& relay : day.relays)
        if (name_key(relay.owner) == name_key(pilot.name())) own.push_back(&relay);
    if (own.size() != 1 || !day.people.contains(name_key(own.front()->name))) return false;
    bool changed = false;
    for (auto& receiver : *pilot.mutable_receivers()) {
        if (receiver.hears() != "video") continue;
        receiver.set_hears(own.front()->name);
        pilot.add_defaults(
            fmt::format("{}: hears the relay {}", receiver.name(), own.front()->name));
        changed = true;
    }
    return changed;
}

/// What of the day's head is written; the rest stays as it is.
bool read_new_head(Reader& r, v1::DaySheet& sheet) {
    bool says = false;
    const auto take = [&](const auto& written, auto set) {
        says = says || written.has_value();
        if (written) set(*written);
    };
    take(r.name("name"), [&](const auto& name) { sheet.set_name(name); });
    take(r.date("date"), [&](const auto& date) { sheet.set_date(date); });
    for (const auto* key : {"usual_minutes", "lost_picture", "power_limit_mw", "power_limit_dbm"})
        says = says || r.has(key);
    if (r.has("usual_minutes")) sheet.set_usual_minutes(read_usual_minutes(r));
    if (r.has("lost_picture")) sheet.set_lost_picture(read_lost_picture(r));
    if (is_none(r, "power_limit_mw")) {
        sheet.clear_power_limit_dbm();
    } else if (const auto limit = read_powers(r, "power_limit", 1); !limit.empty()) {
        sheet.set_power_limit_dbm(limit.front());
    }
    return says;
}

/// Places and areas that the day has, by their names.
void read_gone(Reader& r, const v1::Field& field, v1::PartsGone& gone) {
    for (const auto& written : r.texts("places", places_max))
        if (const auto* one = known(r, "places", written, field.places(), "place"))
            gone.add_places(one->name());
    for (const auto& written : r.texts("areas", areas_max))
        if (const auto* one = known(r, "areas", written, field.areas(), "area"))
            gone.add_areas(one->name());
}

/// Drops what was only there to be referred to. The owner of a new relay comes along if it changes
/// what they hear.
void keep_written(DayReading& day) {
    for (auto& pilot : *day.sheet.mutable_pilots())
        if (!day.people.contains(name_key(pilot.name())) && tune_to_relay(day, pilot))
            day.people.insert(name_key(pilot.name()));
    const auto keep = [](auto* list, const std::set<std::string>& names) {
        list->erase(
            std::remove_if(list->begin(), list->end(),
                           [&](const auto& one) { return !names.contains(name_key(one.name())); }),
            list->end());
    };
    keep(day.sheet.mutable_pilots(), day.people);
    keep(day.sheet.mutable_relays(), day.people);
    keep(day.sheet.mutable_field()->mutable_places(), day.places);
    keep(day.sheet.mutable_field()->mutable_areas(), day.areas);
    keep(day.sheet.mutable_field()->mutable_emitters(), day.people);
}

}  // namespace

std::optional<Parts> read_parts(std::string_view text, const std::string& file,
                                const v1::DaySheet& base, Problems& problems) {
    const auto before = problems.size();
    auto table = parse_toml(text, file, problems);
    if (!table) return std::nullopt;
    auto kits = unpack_kits(*table, file, library().kits(), base.kits(), problems);
    DayReading day(*table);
    *day.sheet.mutable_kits() = std::move(kits);
    day.claims_welcome = false;
    refer_to(base, day);
    Parts parts;
    Reader top(*table, file, "", problems);
    read_gear(top, Sourced::may, day.gear);
    top.table("day", "day",
              [&](Reader& head) { parts.says_head = read_new_head(head, day.sheet); });
    top.table("gone", "gone", [&](Reader& gone) { read_gone(gone, base.field(), parts.gone); });
    top.table("field", "field", [&](Reader& field) {
        parts.says_head = field.has("name") || field.has("origin") || parts.says_head;
        read_field_head(field, Need::optional, *day.sheet.mutable_field());
        read_places(field, day);
    });
    top.tables("pilot", pilots_max, [&](Reader& pilot, std::size_t) { read_pilot(pilot, day); });
    top.tables("relay", relays_max, [&](Reader& relay, std::size_t) { read_relay(relay, day); });
    top.finish();
    keep_written(day);
    put_used_gear(day);
    if (problems.size() != before) {
        tidy(problems, file);
        return std::nullopt;
    }
    parts.sheet = std::move(day.sheet);
    return parts;
}

}  // namespace fieldpeg::book
