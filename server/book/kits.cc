#include "server/book/kits.h"

#include "server/book/day_file.h"
#include "server/book/names.h"
#include "server/book/reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <sstream>
#include <utility>

namespace fieldpeg::book {
namespace {

/// What a kit may bring to a pilot.
const std::vector<std::string> brings = {
    "video",   "receiver",     "uplink", "handset",
    "control", "control_link", "relay",  "positioning_receiver"};

std::string written(const toml::table& table) {
    std::ostringstream text;
    text << toml::toml_formatter(table, toml::format_flags::allow_unicode_strings);
    return text.str();
}

v1::Kit read_kit(Reader& r, const std::string& name) {
    v1::Kit kit;
    kit.set_name(name);
    kit.set_title(r.text("title", Need::required).value_or(""));
    kit.set_look(r.text("look").value_or(""));
    for (auto& drawing : r.texts("drawing", 4)) kit.add_drawing(std::move(drawing));
    toml::table gear;
    for (const auto& key : brings)
        if (const auto* node = r.raw(key)) gear.insert(key, *node);
    if (gear.contains("relay") && !gear.get("relay")->is_table())
        r.problem("relay", "is no relay", fmt::format("one table, [kit.{}.relay]", name));
    if (gear.empty())
        r.problem("", "brings nothing", fmt::format("one of {}", fmt::join(brings, ", ")));
    kit.set_toml(written(gear));
    if (kit.toml().size() > kit_bytes_max)
        r.problem("", fmt::format("its gear is {} bytes long", kit.toml().size()),
                  fmt::format("at most {}", kit_bytes_max));
    return kit;
}

/// Of two ways to write one value only one is to be there.
bool is_said(const toml::table& own, std::string_view key) {
    if (own.contains(key)) return true;
    constexpr std::string_view in_mw = "_mw", in_dbm = "_dbm";
    if (key.ends_with(in_mw))
        return own.contains(std::string(key.substr(0, key.size() - in_mw.size())) += in_dbm);
    if (key.ends_with(in_dbm))
        return own.contains(std::string(key.substr(0, key.size() - in_dbm.size())) += in_mw);
    return false;
}

/// What is not written yet, table by table.
void fill(toml::table& own, const toml::table& from) {
    for (const auto& [key, value] : from) {
        auto* inner = own.get_as<toml::table>(key.str());
        if (inner != nullptr && value.is_table())
            fill(*inner, *value.as_table());
        else if (!is_said(own, key.str()))
            own.insert(key.str(), value);
    }
}

/// "Gil's relay", as far as a name is long, or with a number if somebody is called so.
std::string relay_name(const toml::table& file, const std::string& owner) {
    std::set<std::string> taken;
    for (const auto* key : {"pilot", "relay"})
        if (const auto* all = file[key].as_array())
            for (const auto& one : *all)
                if (const auto* table = one.as_table())
                    taken.insert(name_key((*table)["name"].value_or(std::string())));
    for (int n = 1;; ++n) {
        const auto ending = n == 1 ? std::string("'s relay") : fmt::format("'s relay {}", n);
        auto name = first_characters(owner, name_length_max - ending.size()) + ending;
        if (!taken.contains(name_key(name))) return name;
    }
}

bool has_relay(const toml::table& file, const std::string& owner) {
    const auto* all = file["relay"].as_array();
    if (all == nullptr) return false;
    return std::ranges::any_of(*all, [&](const toml::node& one) {
        const auto* relay = one.as_table();
        return relay != nullptr &&
               name_key((*relay)["owner"].value_or(std::string())) == name_key(owner);
    });
}

/// A [[relay]] as the kit brings it, with its owner's name.
void add_relay(toml::table& file, toml::table relay, const std::string& owner, std::string place) {
    relay.insert("name", relay_name(file, owner));
    relay.insert("owner", owner);
    relay.insert("place", std::move(place));
    if (!file.contains("relay")) file.insert("relay", toml::array{});
    if (auto* all = file["relay"].as_array()) all->push_back(std::move(relay));
}

/// One pilot with a kit.
void unpack(toml::table& file, toml::table& pilot, const toml::table& kit, Problem problem,
            Problems& problems) {
    const auto owner = pilot["name"].value_or(std::string());
    auto gear = kit;
    const auto say = [&](std::string what, std::string expected) {
        problem.what = std::move(what);
        problem.expected = std::move(expected);
        problems.push_back(problem);
    };
    const auto name = pilot["kit"].value_or(std::string());
    const bool has_place = pilot.contains("relay_place");
    const auto place = pilot["relay_place"].value<std::string>();
    pilot.erase("relay_place");
    auto* relay = gear.get_as<toml::table>("relay");
    if (has_place && !place) {
        say("relay_place is no text", "the name of a place");
    } else if (has_place && !relay) {
        say(fmt::format("relay_place is said, and the kit '{}' brings no relay", name),
            "a kit with a relay, or no relay_place");
    } else if (relay && !has_relay(file, owner)) {
        if (place)
            add_relay(file, *relay, owner, *place);
        else
            say(fmt::format("the kit '{}' brings a relay, and nobody says where it stands", name),
                "relay_place, the name of a place");
    }
    gear.erase("relay");
    fill(pilot, gear);
}

void put_kit(v1::Kit kit, Kits& into) {
    for (auto& known : into) {
        if (name_key(known.name()) != name_key(kit.name())) continue;
        known = std::move(kit);
        return;
    }
    *into.Add() = std::move(kit);
}

void unpack_into_pilots(toml::table& file, const std::string& name, const Kits& kits,
                        Problems& problems) {
    auto* pilots = file["pilot"].as_array();
    if (pilots == nullptr || pilots->size() > pilots_max) return;  // refused where they are read
    for (auto& node : *pilots) {
        auto* pilot = node.as_table();
        const auto* called = pilot != nullptr ? pilot->get("kit") : nullptr;
        if (called == nullptr) continue;
        Problem problem{
            name,
            static_cast<unsigned>(called->source().begin.line),
            fmt::format("pilot '{}', kit", printable((*pilot)["name"].value_or(std::string()))),
            "",
            "",
            ""};
        const auto wanted = called->value<std::string>();
        const auto* kit = wanted ? find_named(kits, *wanted) : nullptr;
        if (kit == nullptr) {
            problem.what = wanted ? fmt::format("no kit is called '{}'", printable(*wanted))
                                  : "the name of a kit is a text";
            problem.expected = "one of 'fieldpeg kits', or a [kit.NAME] of the file";
            if (wanted) problem.suggestion = nearest(*wanted, names_of(kits));
            problems.push_back(std::move(problem));
            continue;
        }
        unpack(file, *pilot, toml::parse(kit->toml()), std::move(problem), problems);
    }
}

}  // namespace

void take_kits(toml::table& file, const std::string& name, Kits& into, Problems& problems) {
    if (!file.contains("kit")) return;
    Reader top(file, name, "", problems);
    top.named_tables("kit", kits_max, [&](Reader& r, const std::string& called) {
        std::string why;
        const auto proper = proper_name(called, why);
        if (!proper) r.problem("", fmt::format("the name '{}' {}", printable(called), why));
        auto kit = read_kit(r, proper.value_or(called));
        put_kit(std::move(kit), into);
    });
    file.erase("kit");
}

Kits unpack_kits(toml::table& file, const std::string& name, const Kits& library,
                 const Kits& of_day, Problems& problems) {
    Kits own = of_day, all = library;
    take_kits(file, name, own, problems);
    for (const auto& kit : own) put_kit(kit, all);
    unpack_into_pilots(file, name, all, problems);
    return own;
}

}  // namespace fieldpeg::book
