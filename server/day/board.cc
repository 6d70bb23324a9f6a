#include "server/day/board.h"

#include "server/day/results.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/day/words.h"

namespace fieldpeg::day {
namespace {

v1::BoardRow row(const Holder& held) {
    v1::BoardRow r;
    r.set_transmitter(held.name);
    r.set_owner(held.owner_name);
    r.set_is_relay(held.is_relay);
    r.set_owner_id(held.owner);
    if (!held.claim) return r;
    *r.mutable_channel() = held.claim->channel();
    r.set_power_dbm(milli(held.gear ? sent_dbm(*held.gear, *held.claim) : held.claim->power_dbm()));
    r.set_stage(held.claim->stage());
    r.set_since_ms(held.claim->since_ms());
    r.set_group(held.claim->group());
    r.set_allowed_because(held.claim->allowed_because());
    r.set_unasked(held.claim->unasked());
    return r;
}

v1::BoardRow row(const v1::Sighting& s) {
    v1::BoardRow r;
    r.set_transmitter(sighting_name(s.id()));
    r.set_is_sighting(true);
    *r.mutable_channel() = s.channel();
    r.set_power_dbm(milli(s.power_dbm()));
    r.set_stage(v1::Claim::on_air);
    r.set_since_ms(s.since_ms());
    r.set_unasked(true);
    r.set_note(s.note());
    return r;
}

}  // namespace

v1::BoardReply board(const v1::DayState& state) {
    const auto& sheet = state.sheet();
    const Assessment a(sheet, v1::Basis::on_air);
    v1::BoardReply reply;
    reply.set_day(sheet.name());
    reply.set_version(state.version());
    reply.set_at_ms(state.at_ms());
    reply.set_basis(v1::Basis::on_air);
    for (const auto& p : sheet.pilots()) {
        auto& r = *reply.add_rows() = row(*holder(sheet, p.id()));
        *r.mutable_result() = pilot_result(a, p);
        for (const auto& relay : sheet.relays())
            if (relay.owner_id() == p.id()) *reply.add_rows() = row(*holder(sheet, relay.id()));
    }
    for (const auto& s : sheet.sightings()) *reply.add_rows() = row(s);
    for (const auto& w : state.unacknowledged()) {
        *reply.add_untold() = w;
        reply.add_call_out(call_out(w, sheet));
    }
    reply.set_flying_group(state.flying_group());
    if (state.has_closed()) *reply.mutable_closed() = state.closed();
    for (const auto& p : state.people())
        if (p.awaits_nod()) reply.add_awaiting_nod(p.name());
    return reply;
}

}  // namespace fieldpeg::day
