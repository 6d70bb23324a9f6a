#include "server/day/relay_trial.h"

#include "server/day/state.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::day {
namespace {

using spectrum::Geometry;

v1::DaySheet changed(v1::DaySheet sheet, const std::string& relay, const v1::Claim* claim) {
    for (auto& r : *sheet.mutable_relays()) {
        if (r.name() != relay) continue;
        if (claim)
            *r.mutable_claim() = *claim;
        else
            r.clear_claim();
    }
    return sheet;
}

/// The relay elsewhere, its receivers where they were.
v1::DaySheet moved(v1::DaySheet sheet, const std::string& name, const spectrum::Point& point) {
    auto* place = sheet.mutable_field()->add_places();
    place->set_name("moved to");
    place->set_east_m(point.x_m);
    place->set_north_m(point.y_m);
    place->set_height_m(point.z_m);
    for (auto& relay : *sheet.mutable_relays()) {
        if (relay.name() != name) continue;
        for (auto& v : *relay.mutable_receivers())
            if (v.place().empty()) v.set_place(relay.place());
        relay.set_place(place->name());
    }
    return sheet;
}

}  // namespace

RelayTrial::Flight::Flight(std::uint32_t of, const v1::DaySheet& day, const v1::Relay& relay,
                           const v1::Claim& claim, v1::Basis::Kind basis)
    : group(of),
      sheet(changed(day, relay.name(), &claim)),
      before(standings(changed(day, relay.name(), nullptr), basis)),
      with(sheet, basis),
      transmitter(*with.situation().transmitter(relay.name())) {}

spectrum::PowerWindow RelayTrial::Flight::window(Geometry geometry) const {
    const auto& scene = with.situation().scene;
    return spectrum::with_controls(
        spectrum::relay_window(scene, with.links(), transmitter, geometry), scene,
        with.gains().controls, transmitter);
}

RelayTrial::RelayTrial(const v1::DaySheet& sheet, const v1::Relay& relay, const v1::Claim& claim,
                       v1::Basis::Kind basis, const std::vector<std::uint32_t>& groups)
    : relay_(relay), claim_(claim) {
    for (const auto group : groups)
        flights_.push_back(
            std::make_unique<Flight>(group, of_group(sheet, group), relay, claim, basis));
    usual_ = window(Geometry::usual);
    worst_ = window(Geometry::closest);
    main_ = std::ranges::find_if(flights_, [&](const auto& one) {
                return &one->with.situation() == usual_.limited_in;
            })->get();
    for (const auto& flight : flights_) {
        const auto comparison = flight->compared(flight->with);
        add_harms(comparison.harms({relay.owner()}), harms_);
        add_harms(own_harms(comparison), own_harms_);
        add_harms(comparison.links_lost({relay.owner()}), links_lost_);
    }
}

RelayTrial::Window RelayTrial::window(Geometry geometry) const {
    Window all;
    for (const auto& flight : flights_) {
        const auto one = flight->window(geometry);
        const bool is_first = all.limited_in == nullptr;
        const bool is_less =
            is_first || (all.ceiling && (!one.ceiling || *one.ceiling < *all.ceiling));
        all.floor = is_first                 ? one.floor
                    : all.floor && one.floor ? std::optional(std::max(*all.floor, *one.floor))
                                             : std::nullopt;
        for (const auto v : one.below_before)
            if (std::ranges::find(all.below_before, v) == all.below_before.end())
                all.below_before.push_back(v);
        if (!is_less) continue;
        all.ceiling = one.ceiling;
        all.limited_by = one.limited_by;
        all.limited_in = &flight->with.situation();
    }
    return all;
}

v1::RelayCheckReply::Answer RelayTrial::answer() const {
    const bool no_floor = !usual_.floor && !nobody_listens();
    const bool closed =
        !usual_.ceiling || no_floor || (usual_.floor && *usual_.floor > *usual_.ceiling);
    if (!harms_.empty() || !own_harms_.empty() || overloads_its_own())
        return closed ? v1::RelayCheckReply::no_window : v1::RelayCheckReply::too_strong;
    if (no_floor) return v1::RelayCheckReply::no_window;
    if (usual_.floor && asked() < *usual_.floor) return v1::RelayCheckReply::too_weak;
    return v1::RelayCheckReply::fits;
}

bool RelayTrial::nobody_listens() const {
    return std::ranges::none_of(with().situation().receivers,
                                [&](const ReceiverOf& of) { return of.hears == relay_.name(); });
}

bool RelayTrial::none_can_tune() const {
    return !nobody_listens() && std::ranges::none_of(scene().receivers, [&](const auto& v) {
        return v.hears == transmitter();
    });
}

bool RelayTrial::none_can_show() const {
    return !nobody_listens() &&
           std::ranges::none_of(with().situation().receivers, [&](const ReceiverOf& of) {
               return of.hears == relay_.name() && of.can_show;
           });
}

bool RelayTrial::overloads_its_own() const {
    bool any = false;
    for (std::size_t v = 0; v < scene().receivers.size(); ++v) {
        if (scene().receivers[v].hears != transmitter()) continue;
        any = true;
        if (with().reception(v)->closeness(spectrum::good_share) >= spectrum::Decibel(0))
            return false;
    }
    return any;
}

std::vector<v1::Harm> RelayTrial::own_harms(const Comparison& comparison) const {
    std::vector<v1::Harm> own;
    for (const auto& of : comparison.links())
        if (of.link->owner == relay_.owner() && of.link->hears != relay_.name() &&
            of.change.is_harm())
            own.push_back(comparison.message(of));
    return own;
}

bool RelayTrial::harms_on(const Flight& flight, const v1::DaySheet& sheet) const {
    const Assessment with(sheet, flight.with.basis());
    const auto comparison = flight.compared(with);
    return !comparison.harms({relay_.owner()}).empty() || !own_harms(comparison).empty();
}

bool RelayTrial::harms_with(const v1::Claim& claim) const {
    return std::ranges::any_of(flights_, [&](const auto& flight) {
        return harms_on(*flight, changed(flight->sheet, relay_.name(), &claim));
    });
}

bool RelayTrial::harms_at(double power_dbm) const {
    return harms_on(claim_.channel(), power_dbm);
}

bool RelayTrial::harms_on(const v1::Channel& channel, double power_dbm) const {
    auto claim = claim_;
    *claim.mutable_channel() = channel;
    claim.set_power_dbm(power_dbm);
    return harms_with(claim);
}

bool RelayTrial::harms_at(const spectrum::Point& point) const {
    return std::ranges::any_of(flights_, [&](const auto& flight) {
        return harms_on(*flight, moved(flight->sheet, relay_.name(), point));
    });
}

}  // namespace fieldpeg::day
