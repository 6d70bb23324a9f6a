#include "client/show/day.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <cmath>

#include <algorithm>
#include <vector>

namespace fieldpeg::show {
namespace {

template <class List>
std::string channels_of(const List& channels) {
    if (channels.empty()) return "anything";
    std::vector<std::string> names;
    for (const auto& c : channels) names.push_back(c.name());
    return fmt::format("{}", fmt::join(names, " "));
}

std::string joined_as(const v1::DayReply& reply, std::uint32_t id) {
    for (const auto& p : reply.people()) {
        if (p.id() != id) continue;
        if (p.withdrawn()) return "key withdrawn";
        return p.awaits_nod() ? "waits for the marshal's nod" : "joined";
    }
    return "entered by the marshal";
}

/// What else a pilot brings that radiates, and the kit it all came from.
std::string with_text(const v1::Pilot& p) {
    std::vector<std::string> all;
    if (!p.kit().empty()) all.push_back("kit " + p.kit());
    if (p.has_uplink()) all.emplace_back("two-way");
    if (p.has_control())
        all.push_back(fmt::format("steered on {}-{} MHz",
                                  day::mhz_text(p.control().hops().low_mhz()),
                                  day::mhz_text(p.control().hops().high_mhz())));
    else if (p.has_handset())
        all.emplace_back("handset");
    return all.empty() ? "-" : fmt::format("{}", fmt::join(all, ", "));
}

/// To the centimetre, which is more than anybody paces out.
std::string metres_text(double metres) {
    return fmt::format("{:g}", std::round(metres * 100) / 100);
}

}  // namespace

std::string people_text(const v1::DayReply& reply, const Look& look) {
    std::string all = heading("Pilots", look);
    Table pilots({{"name"},
                  {"stands"},
                  {"flies in"},
                  {"emission"},
                  {"powers"},
                  {"with"},
                  {"joined"},
                  {"channels"}});
    for (const auto& p : reply.sheet().pilots())
        pilots.row({p.name(), p.place(), p.area().empty() ? "-" : p.area(),
                    p.has_video() ? p.video().emission() : "-",
                    p.has_video() ? day::powers_text(p.video()) : "-", with_text(p),
                    joined_as(reply, p.id()),
                    p.has_video() ? channels_of(p.video().channels()) : "-"});
    all += reply.sheet().pilots().empty() ? "none yet\n" : pilots.text(look);
    if (!reply.sheet().relays().empty()) {
        Table relays({{"name"}, {"owner"}, {"stands"}, {"emission"}, {"powers"}, {"channels"}});
        for (const auto& r : reply.sheet().relays())
            relays.row({r.name(), r.owner(), r.place(), r.transmitter().emission(),
                        day::powers_text(r.transmitter()),
                        channels_of(r.transmitter().channels())});
        all += "\n" + heading("Relays", look) + relays.text(look);
    }
    Table others({{"name"}, {"role"}, {"joined"}});
    for (const auto& p : reply.people()) {
        const bool listed = std::ranges::find(reply.sheet().pilots(), p.id(), &v1::Pilot::id) !=
                            reply.sheet().pilots().end();
        if (!listed)
            others.row({p.name(), v1::Role::Kind_Name(p.role()), joined_as(reply, p.id())});
    }
    if (!others.empty()) all += "\n" + heading("Others who joined", look) + others.text(look);
    return all;
}

std::string field_text(const v1::DayReply& reply, const Look& look) {
    const auto& field = reply.sheet().field();
    std::string all = heading(field.name(), look);
    if (field.has_latitude_deg())
        all += item("",
                    fmt::format("0, 0 is at {:.6f},{:.6f} on the map", field.latitude_deg(),
                                field.longitude_deg()),
                    look) +
               "\n";
    Table places({{"place"},
                  {"east m", Table::Align::right},
                  {"north m", Table::Align::right},
                  {"height m", Table::Align::right}});
    for (const auto& p : field.places())
        places.row({p.name(), metres_text(p.east_m()), metres_text(p.north_m()),
                    metres_text(p.height_m())});
    Table areas({{"flying area"},
                 {"east m", Table::Align::right},
                 {"north m", Table::Align::right},
                 {"radius m", Table::Align::right},
                 {"from m", Table::Align::right},
                 {"to m", Table::Align::right},
                 {"stand-off m", Table::Align::right}});
    for (const auto& a : field.areas())
        areas.row({a.name(), metres_text(a.east_m()), metres_text(a.north_m()),
                   metres_text(a.radius_m()), metres_text(a.low_m()), metres_text(a.high_m()),
                   a.has_standoff_m() ? metres_text(a.standoff_m()) : "30 or less"});
    if (!places.empty()) all += places.text(look);
    if (!areas.empty()) all += "\n" + areas.text(look);
    Table emitters({{"radiates too"},
                    {"stands"},
                    {"MHz", Table::Align::right},
                    {"emission"},
                    {"power"},
                    {"sends", Table::Align::right}});
    for (const auto& e : field.emitters())
        emitters.row({e.name(), e.place(), day::mhz_text(e.channel().mhz()),
                      e.transmitter().emission(), day::power_text(e.power_dbm()),
                      fmt::format("{:.3g} %", 100 * e.duty())});
    if (!emitters.empty()) all += "\n" + emitters.text(look);
    all +=
        "\n" + item("",
                    reply.sheet().has_rules()
                        ? fmt::format("Held against the rule set {}: {}",
                                      reply.sheet().rules().name(), reply.sheet().rules().title())
                        : "Held against no rule set: 'fieldpeg rules NAME' chooses one.",
                    look);
    return all;
}

std::string ready_text(const v1::ReadyReply& reply, const Look& look) {
    Table table({{""}, {"what"}, {"how it is"}});
    for (const auto& c : reply.checks()) table.row({c.good() ? "ok" : "look", c.what(), c.text()});
    std::string all = table.text(look) + "\n";
    for (const auto& c : reply.cautions()) all += item("! ", c, look);
    return all;
}

}  // namespace fieldpeg::show
