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

std::optional<v1::DaySheet> read_parts(std::string_view text, const std::string& file,
                                       const v1::DaySheet& base, Problems& problems) {
    const auto before = problems.size();
    auto table = parse_toml(text, file, problems);
    if (!table) return std::nullopt;
    auto kits = unpack_kits(*table, file, library().kits(), base.kits(), problems);
    DayReading day(*table);
    *day.sheet.mutable_kits() = std::move(kits);
    day.claims_welcome = false;
    refer_to(base, day);
    Reader top(*table, file, "", problems);
    read_gear(top, Sourced::may, day.gear);
    top.table("field", "field", [&](Reader& field) { read_places(field, day); });
    top.tables("pilot", pilots_max, [&](Reader& pilot, std::size_t) { read_pilot(pilot, day); });
    top.tables("relay", relays_max, [&](Reader& relay, std::size_t) { read_relay(relay, day); });
    top.finish();
    keep_written(day);
    put_used_gear(day);
    if (problems.size() == before) return std::move(day.sheet);
    tidy(problems, file);
    return std::nullopt;
}

}  // namespace fieldpeg::book
