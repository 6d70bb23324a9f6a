#include "server/book/day_reading.h"

#include "server/book/library.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::book {
namespace {

std::vector<RelayOf> relays_of(const toml::table& file) {
    std::vector<RelayOf> relays;
    const auto* tables = file["relay"].as_array();
    if (!tables) return relays;
    for (const auto& node : *tables) {
        const auto* relay = node.as_table();
        if (!relay) continue;
        std::string why;
        const auto name = proper_name((*relay)["name"].value_or(std::string_view()), why);
        relays.push_back({name.value_or(""), (*relay)["owner"].value_or("")});
    }
    return relays;
}

/// The names of all gear that a sheet uses.
struct UsedGear {
    std::set<std::string> emissions, receivers, antennas, control_links, positioning_receivers;

    void add(const v1::Transmitter& transmitter) {
        emissions.insert(transmitter.emission());
        antennas.insert(transmitter.mounting().antenna());
    }
    void add(const google::protobuf::RepeatedPtrField<v1::Receiver>& list) {
        for (const auto& receiver : list) {
            receivers.insert(receiver.receiver());
            antennas.insert(receiver.mounting().antenna());
        }
    }
};

UsedGear used_by(const v1::DaySheet& sheet) {
    UsedGear used;
    for (const auto& pilot : sheet.pilots()) {
        if (pilot.has_video()) used.add(pilot.video());
        used.add(pilot.receivers());
        if (pilot.has_uplink()) used.add(pilot.uplink().transmitter());
        if (pilot.has_handset()) used.add(pilot.handset().transmitter());
        if (pilot.has_control()) {
            used.receivers.insert(pilot.control().receiver());
            used.antennas.insert(pilot.control().mounting().antenna());
        }
        used.control_links.insert(pilot.control_link());
        used.positioning_receivers.insert(pilot.positioning_receiver());
    }
    for (const auto& emitter : sheet.field().emitters()) used.add(emitter.transmitter());
    for (const auto& relay : sheet.relays()) {
        used.add(relay.transmitter());
        used.add(relay.receivers());
    }
    return used;
}

}  // namespace

DayReading::DayReading(const toml::table& file)
    : gear(library()), channels(gear.rows()), relays(relays_of(file)) {}

void put_used_gear(DayReading& day) {
    const auto used = used_by(day.sheet);
    const auto put = [](const auto& list, const std::set<std::string>& names, auto* into) {
        for (const auto& one : list)
            if (names.contains(one.name())) *into->Add() = one;
    };
    const auto& gear = day.gear;
    auto& sheet = day.sheet;
    put(gear.emissions(), used.emissions, sheet.mutable_emissions());
    put(gear.receivers(), used.receivers, sheet.mutable_receiver_profiles());
    put(gear.antennas(), used.antennas, sheet.mutable_antennas());
    put(gear.control_links(), used.control_links, sheet.mutable_control_links());
    put(gear.positioning_receivers(), used.positioning_receivers,
        sheet.mutable_positioning_receivers());
    *sheet.mutable_services() = gear.services();
    *sheet.mutable_rows() = gear.rows();
}

std::string read_lost_picture(Reader& r) {
    constexpr std::size_t characters_max = 120;
    auto text = r.text("lost_picture").value_or("");
    if (first_characters(text, characters_max).size() < text.size())
        r.problem("lost_picture", "is too long to be read in a moment",
                  fmt::format("a sentence of at most {} characters", characters_max));
    return text;
}

bool is_none(Reader& r, std::string_view key) {
    const auto* written = r.raw(key);
    return written != nullptr && written->value<std::string>() == "none";
}

std::uint32_t read_usual_minutes(Reader& r) {
    constexpr Range usual_minutes{1, 240, "minutes"};
    const auto usual = r.number("usual_minutes", usual_minutes);
    return usual ? static_cast<std::uint32_t>(std::lround(*usual)) : 0;
}

std::string read_place_name(Reader& r, const DayReading& day, std::string_view key, Need need) {
    const auto written = r.text(key, need);
    if (!written) return "";
    const auto* found = known(r, key, *written, day.sheet.field().places(), "place");
    return found ? found->name() : "";
}

void take_name(Reader& r, std::set<std::string>& taken, const std::string& name) {
    if (!taken.insert(name_key(name)).second)
        r.problem("name", fmt::format("'{}' is used twice", name),
                  "names that differ by more than case");
}

void take_name_of(Reader& r, DayReading& day, const std::string& name) {
    if (is_reserved(name))
        r.problem("name", fmt::format("'{}' is what the program calls somebody or something", name),
                  "another name");
    take_name(r, day.people, name);
    const Skeleton look(name);
    for (const auto& [other, its_look] : day.looks)
        if (its_look == look && name_key(other) != name_key(name))
            r.problem("name", fmt::format("'{}' looks like '{}'", name, other),
                      "names that can be told apart at a glance");
    day.looks.emplace_back(name, look);
}

void tidy(Problems& problems, const std::string& file) {
    std::ranges::stable_sort(problems, {}, &Problem::line);
    if (problems.size() <= problems_max) return;
    const auto more = problems.size() - problems_max;
    problems.resize(problems_max);
    problems.push_back({file, 0, "", fmt::format("{} more problems", more), "", ""});
}

}  // namespace fieldpeg::book
