#include "server/day/explain.h"

#include "server/day/outlooks.h"
#include "server/day/remarks.h"
#include "server/day/results.h"
#include "server/day/words.h"

#include <set>
#include <string>

namespace fieldpeg::day {
namespace {

using spectrum::Aim;
using spectrum::Air;
using spectrum::Demand;
using spectrum::Geometry;

v1::Budget budget_message(const Assessment& a, std::size_t v, Geometry geometry,
                          std::size_t contributions) {
    const auto& reception = *a.reception(v);
    const auto& budget = reception.budget(geometry);
    const bool is_usual = geometry == Geometry::usual;
    const double share = is_usual ? spectrum::good_share : spectrum::usable_share;
    const Air air = is_usual ? Air::usual : Air::closest;
    const auto margin = [&](const Aim& aim) {
        return milli(spectrum::margin(reception, aim).count());
    };
    v1::Budget m;
    m.set_wanted_dbm(milli(reception.wanted(share).count()));
    m.set_wanted_strongest_dbm(
        milli((reception.profile->strongest_wanted - reception.closeness(share)).count()));
    m.set_noise_dbm(milli(reception.noise.count()));
    if (budget.interference_mw() > 0)
        m.set_interference_dbm(milli(spectrum::dbm(budget.interference_mw()).count()));
    if (budget.blockers) m.set_blocker_dbm(milli(budget.blockers->count()));
    m.set_desensitisation_db(milli(budget.desensitisation.count()));
    m.set_cni_db(milli((reception.wanted(share) - reception.floor(air)).count()));
    m.set_noise_and_interference_margin_db(margin({Demand::watchable, share, air, false}));
    m.set_own_too_strong_margin_db(milli(reception.closeness(share).count()));
    m.set_closeness_margin_db(margin({Demand::watchable, spectrum::usable_share, Air::closest}));
    m.set_margin_db(margin({Demand::watchable, share, air}));
    m.set_sharp_margin_db(margin({Demand::sharp, spectrum::usable_share, air}));
    for (const auto& c : a.contributions(v, geometry, contributions))
        *m.add_contributions() = message(a.situation(), c);
    return m;
}

v1::ReceiverExplained receiver_explained(const Assessment& a, std::size_t v,
                                         std::size_t contributions) {
    v1::ReceiverExplained e;
    const auto& scene = a.situation().scene;
    const auto& receiver = scene.receivers[v];
    *e.mutable_result() = receiver_result(a, v, contributions);
    e.set_hears(a.situation().receivers[v].hears);
    const auto& profile = scene.profiles[receiver.profile];
    e.set_required_watchable_db(milli(profile.watchable.count()));
    e.set_required_sharp_db(milli(profile.sharp.count()));
    if (!receiver.hears) return e;

    e.set_sent_dbm(milli(scene.transmitters[*receiver.hears].power.count()));
    e.set_link_gain_db(milli(a.reception(v)->gain->exceeded(spectrum::good_share).count()));
    *e.mutable_ref() = budget_message(a, v, Geometry::usual, contributions);
    *e.mutable_worst() = budget_message(a, v, Geometry::closest, contributions);
    e.set_alone_margin_db(milli(a.standing(v)->alone_good.count()));
    for (const auto& f : spectrum::fifth_order(scene, v, contributions)) {
        auto* entry = e.add_fifth_order();
        entry->add_from(a.situation().transmitters[f.a].name);
        entry->add_from(a.situation().transmitters[f.b].name);
        entry->set_product_mhz(milli(spectrum::mhz(f.product)));
        entry->set_offset_mhz(milli(spectrum::mhz(f.offset)));
    }
    return e;
}

template <class List>
void add_assumptions(const List& gear, const std::set<std::string>& used, v1::ExplainReply& reply) {
    for (const auto& one : gear) {
        if (!used.contains(one.name())) continue;
        for (const auto& p : one.provenance()) {
            if (p.kind() != v1::Provenance::assumed) continue;
            auto* entry = reply.add_assumptions();
            entry->set_gear(one.name());
            entry->set_key(p.key());
            entry->set_kind(p.kind());
            entry->set_source(p.source());
            entry->set_range(range_text(one, p.key()));
        }
    }
}

/// The gear of every link that leads to a pilot.
void add_gear_of(const Assessment& a, const v1::Pilot& pilot, v1::ExplainReply& reply) {
    std::set<std::string> emissions, receivers, antennas;
    for (const auto& of : a.situation().receivers) {
        if (of.owner != pilot.name()) continue;
        receivers.insert(of.gear->receiver());
        antennas.insert(of.gear->mounting().antenna());
    }
    for (const auto& of : a.situation().transmitters) {
        if (of.owner != pilot.name()) continue;
        emissions.insert(of.gear->emission());
        antennas.insert(of.gear->mounting().antenna());
    }
    for (const auto& of : a.situation().transmitters) {
        if (of.owner != pilot.name() || of.gear->has_second_harmonic_db()) continue;
        if (of.source == Source::handset) continue;  // what hops is reckoned with none
        auto* entry = reply.add_assumptions();
        entry->set_gear(of.name);
        entry->set_key("harmonics_db");
        entry->set_kind(v1::Provenance::assumed);
        entry->set_source("second and third 40 and 50 dB below it, its output stage alone");
    }
    add_assumptions(a.sheet().emissions(), emissions, reply);
    add_assumptions(a.sheet().receiver_profiles(), receivers, reply);
    add_assumptions(a.sheet().antennas(), antennas, reply);
}

}  // namespace

v1::ExplainReply explain(const v1::DaySheet& sheet, const v1::Pilot& pilot, v1::Basis::Kind basis,
                         std::size_t contributions, const Asked& asked) {
    const Flights flights(sheet, basis, asked);
    const auto& assessment = flights.of(pilot).assessment;
    const auto& a = assessment.at_worst_for(pilot);
    v1::ExplainReply reply;
    reply.set_basis(basis);
    reply.set_model(std::string(model_name));
    *reply.mutable_pilot() = pilot_result(a, pilot);
    if (flights.are_groups()) reply.mutable_pilot()->set_group(flights.of(pilot).group);
    if (auto outlook = Outlooks(a).of(pilot))
        *reply.mutable_pilot()->mutable_outlook() = *std::move(outlook);
    for (std::size_t v = 0; v < a.situation().receivers.size(); ++v)
        if (a.situation().receivers[v].owner == pilot.name())
            *reply.add_receivers() = receiver_explained(a, v, contributions);
    for (const auto& text : pilot.defaults()) reply.add_defaults(text);
    for (const auto& relay : sheet.relays())
        if (relay.owner() == pilot.name())
            for (const auto& text : relay.defaults())
                reply.add_defaults(relay.name() + ", " + text);
    add_gear_of(a, pilot, reply);
    for (std::size_t t = 0; t < a.situation().transmitters.size(); ++t)
        if (a.situation().transmitters[t].owner == pilot.name())
            for (auto& remark : remarks(a.situation(), t, sheet)) *reply.add_remarks() = remark;
    for (const auto& caution : cautions(assessment))
        if (caution.concerns.contains(pilot.name())) reply.add_cautions(caution.text);
    return reply;
}

}  // namespace fieldpeg::day
