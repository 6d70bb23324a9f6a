#include "server/day/comparison.h"

#include "server/day/reasons.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::day {
namespace {

LinkName name_of(const Link& link) {
    return {link.owner, link.relay, link.hears};
}

std::vector<v1::Harm> worst_first(std::vector<v1::Harm> harms) {
    std::ranges::stable_sort(harms, {}, &v1::Harm::margin_after_db);
    return harms;
}

}  // namespace

void add_harms(std::vector<v1::Harm> from, std::vector<v1::Harm>& into) {
    if (into.empty()) {
        into = std::move(from);
        return;
    }
    const auto takes_control = [](const v1::Harm& h) {
        return h.after() == v1::Verdict::control_at_risk;
    };
    const auto rank = [&](const v1::Harm& h) {
        return std::pair(!takes_control(h), h.margin_after_db());
    };
    for (auto& harm : from) {
        const auto known = std::ranges::find_if(into, [&](const v1::Harm& h) {
            return h.pilot() == harm.pilot() &&
                   (takes_control(h) || takes_control(harm) ||
                    (h.receiver() == harm.receiver() && h.relay() == harm.relay()));
        });
        if (known == into.end())
            into.push_back(std::move(harm));
        else if (rank(harm) < rank(*known))
            *known = std::move(harm);
    }
    std::ranges::stable_sort(into, {}, rank);
}

bool Change::is_worse() const {
    const bool at_worst = before.worst() - after.worst() >= change_hysteresis;
    return (is_felt() || at_worst) &&
           (spectrum::verdict(after) > spectrum::verdict(before) ||
            spectrum::picture(after) > spectrum::picture(before) || is_harm());
}

Change Change::at_the_range_after() const {
    const auto shift = after.alone_usable - before.alone_usable;
    Change same{after, after};  // the range of afterwards, and what others cost before
    same.before.good = before.good + (after.alone_good - before.alone_good);
    same.before.usable = before.usable + shift;
    same.before.closest = before.closest + shift;
    same.before.sharp = before.sharp + shift;
    return same;
}

Standings standings(const Assessment& a) {
    Standings all;
    for (const auto& pilot : a.sheet().pilots()) {
        const auto& at = a.at_worst_for(pilot);
        if (const auto s = at.standing(pilot)) all.pilots.emplace(pilot.name(), *s);
        if (const auto c = at.control(pilot)) all.controls.emplace(pilot.name(), *c);
    }
    for (const auto& link : a.day_links())
        if (const auto s = a.standing(link)) all.links.emplace(name_of(link), *s);
    return all;
}

Standings standings(const v1::DaySheet& sheet, v1::Basis::Kind basis, Memory& memory) {
    return standings(Assessment(sheet, basis, memory));
}

Standings standings(const v1::DaySheet& sheet, v1::Basis::Kind basis) {
    return standings(Assessment(sheet, basis));
}

Comparison::Comparison(const Standings& before, const Assessment& after) : after_(after) {
    for (const auto& pilot : after.sheet().pilots()) {
        const auto was = before.pilots.find(pilot.name());
        if (was == before.pilots.end()) continue;
        if (const auto is = after.at_worst_for(pilot).standing(pilot))
            pilots_.push_back({&pilot, {was->second, *is}});
    }
    for (const auto& link : after.day_links()) {
        const auto was = before.links.find(name_of(link));
        if (was == before.links.end()) continue;
        if (const auto is = after.standing(link)) links_.push_back({&link, {was->second, *is}});
    }
    for (const auto& pilot : after.sheet().pilots()) {
        const auto was = before.controls.find(pilot.name());
        if (was == before.controls.end()) continue;
        if (const auto is = after.at_worst_for(pilot).control(pilot))
            controls_.push_back({&pilot, {was->second, *is}});
    }
}

std::vector<v1::Harm> Comparison::harms(const Names& exempt) const {
    std::vector<v1::Harm> all;
    Names steered;
    for (const auto& of : controls_) {
        if (!of.change.is_harm() || exempt.contains(of.pilot->name())) continue;
        all.push_back(message(of));
        steered.insert(of.pilot->name());
    }
    std::vector<v1::Harm> seen;
    for (const auto& of : pilots_)
        if (of.change.is_harm() && !exempt.contains(of.pilot->name()) &&
            !steered.contains(of.pilot->name()))
            seen.push_back(message(of));
    for (auto& harm : worst_first(std::move(seen))) all.push_back(std::move(harm));
    return all;
}

std::vector<v1::Harm> Comparison::links_lost(const Names& exempt) const {
    std::vector<v1::Harm> all;
    for (const auto& of : links_) {
        const auto by_pilot = std::ranges::find(pilots_, of.link->owner,
                                                [](const OfPilot& p) { return p.pilot->name(); });
        const bool sees = by_pilot != pilots_.end() && !by_pilot->change.is_harm();
        if (of.change.is_harm() && sees && !exempt.contains(of.link->owner))
            all.push_back(message(of));
    }
    return worst_first(std::move(all));
}

v1::Harm Comparison::message(const OfPilot& of) const {
    return message(*of.pilot, of.change, after_.at_worst_for(*of.pilot).ruling_receiver(*of.pilot));
}

v1::Harm Comparison::message(const OfControl& of) const {
    const auto seen = std::ranges::find(pilots_, of.pilot, &OfPilot::pilot);
    v1::Harm h;
    h.set_pilot(of.pilot->name());
    h.set_before(v1::Verdict::no_picture);
    if (seen != pilots_.end()) {
        h.set_before(word(spectrum::verdict(seen->change.before)));
        h.set_margin_before_db(milli(seen->change.before.good.count()));
        h.set_margin_after_db(milli(seen->change.after.good.count()));
    }
    h.set_after(v1::Verdict::control_at_risk);
    h.set_on_air(!of.pilot->has_claim() || radiates(of.pilot->claim().stage()));
    h.set_through(control_reason(after_.at_worst_for(*of.pilot), *of.pilot, of.change.after));
    return h;
}

v1::Harm Comparison::message(const OfLink& of) const {
    const auto* owner = pilot(after_.sheet(), of.link->owner);
    return message(*owner, of.change, after_.shown_by(*of.link));
}

v1::Harm Comparison::message(const v1::Pilot& pilot, const Change& change,
                             std::optional<std::size_t> receiver) const {
    v1::Harm h;
    h.set_pilot(pilot.name());
    h.set_before(word(spectrum::verdict(change.before)));
    h.set_after(word(spectrum::verdict(change.after)));
    h.set_margin_before_db(milli(change.before.good.count()));
    h.set_margin_after_db(milli(change.after.good.count()));
    h.set_on_air(pilot.has_claim() && radiates(pilot.claim().stage()));
    if (!receiver) return h;
    const auto& at = after_.at_worst_for(pilot);
    const auto& of = at.situation().receivers[*receiver];
    h.set_receiver(of.name);
    h.set_relay(of.relay);
    h.set_kind(at.trouble(*receiver));
    h.set_through(reason(at, *receiver));
    return h;
}

}  // namespace fieldpeg::day
