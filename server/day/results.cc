#include "server/day/results.h"

#include "server/day/reasons.h"
#include "server/day/words.h"

#include <algorithm>
#include <optional>

namespace fieldpeg::day {
namespace {

using spectrum::Geometry;

constexpr std::size_t blockers_named = 3;

/// Of a receiver or of a pilot.
template <class Result>
void set_standing(const std::optional<spectrum::Standing>& standing, Result& r) {
    r.set_verdict(word(spectrum::verdict(standing)));
    r.set_picture(grade(spectrum::picture(standing)));
    if (!standing) return;
    r.set_range(word(spectrum::range(*standing)));
    r.set_interference(word(spectrum::interference(*standing)));
    r.set_margin_ref_db(milli(standing->good.count()));
    r.set_margin_worst_db(milli(standing->worst().count()));
    r.set_margin_usable_db(milli(standing->usable.count()));
    r.set_margin_closest_db(milli(standing->closest.count()));
    r.set_others_cost_db(milli(standing->cost().count()));
}

template <class Result>
void set_shares(const Shares& shares, Result& r) {
    r.set_share(milli(shares.with_others));
    r.set_share_alone(milli(shares.alone));
    r.set_share_sharp(milli(shares.sharp));
}

void set_control(const Assessment& a, const v1::Pilot& pilot,
                 const spectrum::ControlStanding& standing, v1::PilotResult& r) {
    auto& m = *r.mutable_control();
    m.set_word(word(standing.word));
    m.set_lost_share(milli(standing.lost_share));
    m.set_wanted_dbm(milli(standing.wanted.count()));
    m.set_reason(control_reason(a, pilot, standing));
    if (!standing.loss) return;
    m.set_lost_to(a.situation().transmitters[standing.loss->to].name);
    m.set_by(thief(standing.loss->by));
    if (standing.loss->cured_by) m.set_cured_by_db(milli(standing.loss->cured_by->count()));
    r.set_verdict(v1::Verdict::control_at_risk);
    r.set_reason(m.reason());
}

}  // namespace

v1::Contribution message(const Situation& situation, const spectrum::Contribution& contribution) {
    v1::Contribution m;
    m.set_kind(kind(contribution.kind));
    for (const auto t : contribution.from) {
        m.add_from(situation.transmitters[t].name);
        m.add_from_mhz(milli(situation.transmitters[t].channel.mhz()));
    }
    if (contribution.product) m.set_product_mhz(milli(spectrum::mhz(*contribution.product)));
    m.set_level_dbm(milli(contribution.level.count()));
    return m;
}

v1::ReceiverResult receiver_result(const Assessment& a, std::size_t v, std::size_t contributions) {
    const auto& of = a.situation().receivers[v];
    v1::ReceiverResult r;
    r.set_owner(of.owner);
    r.set_receiver(of.name);
    r.set_relay(of.relay);
    r.set_hears(of.hears);
    if (const auto heard = a.situation().transmitter(of.hears)) {
        const auto& channel = a.situation().transmitters[*heard].channel;
        r.set_channel(channel.name());
        r.set_channel_mhz(milli(channel.mhz()));
        r.set_sent_dbm(milli(a.situation().scene.transmitters[*heard].power.count()));
    }
    const auto standing = a.standing(v);
    set_standing(standing, r);
    if (!standing) {
        r.set_reason(reason(a, v));
        return r;
    }
    set_shares(*a.shares(v), r);
    r.set_reason(reason(a, v));

    const auto& reception = *a.reception(v);
    const auto& usual = reception.budget(Geometry::usual);
    r.set_wanted_dbm(milli(reception.wanted(spectrum::good_share).count()));
    r.set_wanted_usable_dbm(milli(reception.wanted(spectrum::usable_share).count()));
    r.set_noise_dbm(milli(reception.noise.count()));
    r.set_desense_db(milli(usual.desensitisation.count()));
    if (usual.interference_mw() > 0)
        r.set_interference_dbm(milli(spectrum::dbm(usual.interference_mw()).count()));
    if (usual.blockers) r.set_blocker_dbm(milli(usual.blockers->count()));
    if (contributions > 0)
        for (const auto& term : a.contributions(v, Geometry::usual, contributions))
            *r.add_contributions() = message(a.situation(), term);
    for (const auto& s : a.front_end_signals(v, Geometry::usual, blockers_named)) {
        auto* blocker = r.add_blockers();
        blocker->set_from(a.situation().transmitters[s.transmitter].name);
        blocker->set_level_dbm(milli(s.level.count()));
    }
    return r;
}

v1::PilotResult pilot_result(const Assessment& assessment, const v1::Pilot& pilot) {
    const auto& a = assessment.at_worst_for(pilot);
    v1::PilotResult r;
    const auto standing = a.standing(pilot);
    r.set_pilot(pilot.name());
    set_standing(standing, r);
    r.set_reason(reason(a, pilot));
    if (standing) set_shares(*a.shares(pilot), r);
    r.set_picture_verdict(r.verdict());
    if (const auto control = a.control(pilot)) set_control(a, pilot, *control, r);
    return r;
}

}  // namespace fieldpeg::day
