#include "server/day/bare_day.h"

#include "server/day/words.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/units.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::day {
namespace {

// Metres: heads, the relay, and where the neighbour flies. All [ours: a usual club field].
constexpr double head_m = 1.7, relay_m = 2.5, nearest_m = 30, low_m = 5, high_m = 60;
constexpr double cable_db = 0.5;

void add_place(v1::Field& field, const char* name, double east_m, double north_m, double height_m) {
    auto& place = *field.add_places();
    place.set_name(name);
    place.set_east_m(east_m);
    place.set_north_m(north_m);
    place.set_height_m(height_m);
}

void lay_out(const v1::BareRelayCheckQuery& query, v1::Field& field) {
    const double radius_m = (query.neighbour_range_m() - nearest_m) / 2;
    add_place(field, "relay", 0, 0, relay_m);
    add_place(field, "owner", 0, -query.owner_distance_m(), head_m);
    add_place(field, "neighbour", query.neighbour_distance_m(), 0, head_m);
    auto& area = *field.add_areas();
    area.set_name("area");
    area.set_east_m(query.neighbour_distance_m());
    area.set_north_m(nearest_m + radius_m);
    area.set_radius_m(radius_m);
    area.set_low_m(low_m);
    area.set_high_m(high_m);
}

/// The asked channel, and those of its band's rows that lie in a band of some rule set.
google::protobuf::RepeatedPtrField<v1::Channel> usual_channels(const v1::BareRelayCheckQuery& query,
                                                               const v1::Library& library) {
    google::protobuf::RepeatedPtrField<v1::Channel> list;
    *list.Add() = query.channel();
    const auto reference = spectrum::band_reference(spectrum::from_mhz(query.channel().mhz()));
    const auto in_some_set = [&](double mhz) {
        return std::ranges::any_of(library.rule_sets(), [&](const v1::RuleSet& rules) {
            return std::ranges::any_of(rules.allowances(), [&](const v1::Allowance& a) {
                return a.low_mhz() <= mhz - 10 && mhz + 10 <= a.high_mhz();
            });
        });
    };
    for (const auto& row : library.rows())
        for (const auto& channel : row.channels())
            if (in_some_set(channel.mhz()) &&
                spectrum::band_reference(spectrum::from_mhz(channel.mhz())) == reference)
                *list.Add() = channel;
    return list;
}

template <class List>
const auto& named(const List& list, const std::string& name) {
    return *std::ranges::find_if(list, [&](const auto& one) { return one.name() == name; });
}

v1::Mounting mounting(const std::string& antenna, const v1::Library& library) {
    v1::Mounting m;
    m.set_antenna(antenna);
    m.set_polarisation(named(library.antennas(), antenna).circular() ? v1::Polarisation::rhcp
                                                                     : v1::Polarisation::vertical);
    m.set_loss_db(cable_db);
    return m;
}

v1::Transmitter transmitter(const std::string& emission, const std::string& antenna,
                            const v1::Library& library) {
    v1::Transmitter t;
    t.set_emission(emission);
    *t.mutable_mounting() = mounting(antenna, library);
    return t;
}

v1::Receiver goggles(const std::string& receiver, const std::string& antenna,
                     std::string_view hears, const v1::Library& library) {
    v1::Receiver v;
    v.set_name("goggles");
    v.set_receiver(receiver);
    v.set_hears(std::string(hears));
    *v.mutable_mounting() = mounting(antenna, library);
    return v;
}

void add_people(const v1::BareRelayCheckQuery& query, const v1::Library& library,
                v1::DaySheet& sheet) {
    auto& owner = *sheet.add_pilots();
    owner.set_name("the owner");
    owner.set_place("owner");
    *owner.add_receivers() = goggles(query.receiver(), query.antenna(), bare_relay_name, library);

    auto& neighbour = *sheet.add_pilots();
    neighbour.set_name("the neighbour");
    neighbour.set_place("neighbour");
    neighbour.set_area("area");
    *neighbour.mutable_video() = transmitter(query.emission(), query.neighbour_antenna(), library);
    *neighbour.add_receivers() =
        goggles(query.neighbour_receiver(), query.neighbour_antenna(), "video", library);
    auto& claim = *neighbour.mutable_claim();
    *claim.mutable_channel() = query.neighbour_channel();
    claim.set_power_dbm(query.neighbour_power_dbm());
    claim.set_stage(v1::Claim::on_air);

    auto& relay = *sheet.add_relays();
    relay.set_name(std::string(bare_relay_name));
    relay.set_owner("the owner");
    relay.set_place("relay");
    *relay.mutable_transmitter() = transmitter(query.emission(), query.antenna(), library);
    *relay.mutable_transmitter()->mutable_channels() = usual_channels(query, library);
}

std::string ends_text(const char* who, const std::string& emission, const std::string& receiver,
                      const v1::Antenna& antenna) {
    return fmt::format("{}: {} into {}, {}{} at both ends, {} dB of cable", who, emission, receiver,
                       antenna.name(), antenna.circular() ? " of one hand" : "", cable_db);
}

}  // namespace

v1::DaySheet bare_day(const v1::BareRelayCheckQuery& query, const v1::Library& library,
                      std::vector<std::string>& assumed) {
    v1::DaySheet sheet;
    sheet.set_name("one relay and one neighbour");
    lay_out(query, *sheet.mutable_field());
    add_people(query, library, sheet);
    *sheet.mutable_emissions() = library.emissions();
    *sheet.mutable_receiver_profiles() = library.receivers();
    *sheet.mutable_antennas() = library.antennas();
    *sheet.mutable_services() = library.services();
    *sheet.mutable_rows() = library.rows();

    assumed.push_back(ends_text("the relay", query.emission(), query.receiver(),
                                named(library.antennas(), query.antenna())));
    assumed.push_back(ends_text("the neighbour", query.emission(), query.neighbour_receiver(),
                                named(library.antennas(), query.neighbour_antenna())));
    assumed.push_back(fmt::format(
        "the neighbour flies {:.0f} to {:.0f} m out, {:.0f} to {:.0f} m high, with {}", nearest_m,
        query.neighbour_range_m(), low_m, high_m, power_text(query.neighbour_power_dbm())));
    assumed.push_back(
        fmt::format("the relay stands {} m high, goggles are {} m high", relay_m, head_m));
    return sheet;
}

}  // namespace fieldpeg::day
