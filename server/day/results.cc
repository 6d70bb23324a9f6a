#include "server/day/results.h"

#include "server/day/reasons.h"
#include "server/day/words.h"

#include <algorithm>
#include <optional>

namespace fieldpeg::day {
namespace {

using spectrum::Geometry;

constexpr std::size_t blockers_named = 3;

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
    r.set_verdict(word(spectrum::verdict(standing)));
    r.set_picture(grade(spectrum::picture(standing)));
    if (!standing) {
        r.set_reason(reason(a, v, std::nullopt));
        return r;
    }
    const auto terms = a.contributions(v, Geometry::ref, std::max<std::size_t>(contributions, 1));
    r.set_reason(reason(a, v, terms.empty() ? std::nullopt : std::optional(terms.front())));

    const auto& ref = (*a.budgets(v))[0];
    r.set_margin_ref_db(milli(standing->ref.count()));
    r.set_margin_worst_db(milli(standing->reported_worst().count()));
    r.set_wanted_dbm(milli(ref.wanted.count()));
    r.set_noise_dbm(milli(ref.noise.count()));
    if (ref.interference_mw() > 0)
        r.set_interference_dbm(milli(spectrum::dbm(ref.interference_mw()).count()));
    if (ref.blockers) r.set_blocker_dbm(milli(ref.blockers->count()));
    for (std::size_t i = 0; i < std::min(contributions, terms.size()); ++i)
        *r.add_contributions() = message(a.situation(), terms[i]);
    for (const auto& s : spectrum::front_end_signals(a.situation().scene, a.links(), v,
                                                     Geometry::ref, blockers_named)) {
        auto* blocker = r.add_blockers();
        blocker->set_from(a.situation().transmitters[s.transmitter].name);
        blocker->set_level_dbm(milli(s.level.count()));
    }
    return r;
}

v1::PilotResult pilot_result(const Assessment& a, const v1::Pilot& pilot) {
    v1::PilotResult r;
    const auto standing = a.standing(pilot);
    r.set_pilot(pilot.name());
    r.set_verdict(word(spectrum::verdict(standing)));
    r.set_picture(grade(spectrum::picture(standing)));
    if (!standing) return r;
    r.set_margin_ref_db(milli(standing->ref.count()));
    r.set_margin_worst_db(milli(standing->reported_worst().count()));
    return r;
}

}  // namespace fieldpeg::day
