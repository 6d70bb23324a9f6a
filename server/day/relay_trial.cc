#include "server/day/relay_trial.h"

#include <algorithm>

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

}  // namespace

RelayTrial::RelayTrial(const v1::DaySheet& sheet, const v1::Relay& relay, const v1::Claim& claim,
                       v1::Basis::Kind basis)
    : relay_(relay),
      claim_(claim),
      with_sheet_(changed(sheet, relay.name(), &claim)),
      before_(standings(changed(sheet, relay.name(), nullptr), basis)),
      with_(with_sheet_, basis),
      t_(*with_.situation().transmitter(relay.name())),
      usual_(window(Geometry::usual)),
      worst_(window(Geometry::closest)) {
    const auto comparison = compared(with_);
    harms_ = comparison.harms({relay.owner()});
    own_harms_ = own_harms(comparison);
    links_lost_ = comparison.links_lost({relay.owner()});
}

spectrum::PowerWindow RelayTrial::window(Geometry geometry) const {
    return spectrum::with_controls(spectrum::relay_window(scene(), with_.links(), t_, geometry),
                                   scene(), with_.gains().controls, t_);
}

bool RelayTrial::nobody_listens() const {
    return std::ranges::none_of(with_.situation().receivers,
                                [&](const ReceiverOf& of) { return of.hears == relay_.name(); });
}

bool RelayTrial::none_can_tune() const {
    return !nobody_listens() &&
           std::ranges::none_of(scene().receivers, [&](const auto& v) { return v.hears == t_; });
}

bool RelayTrial::none_can_show() const {
    return !nobody_listens() &&
           std::ranges::none_of(with_.situation().receivers, [&](const ReceiverOf& of) {
               return of.hears == relay_.name() && of.can_show;
           });
}

bool RelayTrial::overloads_its_own() const {
    bool any = false;
    for (std::size_t v = 0; v < scene().receivers.size(); ++v) {
        if (scene().receivers[v].hears != t_) continue;
        any = true;
        if (with_.reception(v)->closeness(spectrum::good_share) >= spectrum::Decibel(0))
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

bool RelayTrial::harms_on(const v1::DaySheet& sheet) const {
    const Assessment with(sheet, with_.basis());
    const auto comparison = compared(with);
    return !comparison.harms({relay_.owner()}).empty() || !own_harms(comparison).empty();
}

bool RelayTrial::harms_with(const v1::Claim& claim) const {
    return harms_on(changed(with_sheet_, relay_.name(), &claim));
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
    auto sheet = with_sheet_;
    auto* place = sheet.mutable_field()->add_places();
    place->set_name("moved to");
    place->set_east_m(point.x_m);
    place->set_north_m(point.y_m);
    place->set_height_m(point.z_m);
    for (auto& relay : *sheet.mutable_relays()) {
        if (relay.name() != relay_.name()) continue;
        for (auto& v : *relay.mutable_receivers())
            if (v.place().empty()) v.set_place(relay.place());
        relay.set_place(place->name());
    }
    return harms_on(sheet);
}

}  // namespace fieldpeg::day
