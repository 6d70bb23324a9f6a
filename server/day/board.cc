#include "server/day/board.h"

#include "server/day/flights.h"
#include "server/day/line.h"
#include "server/day/results.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/day/words.h"

namespace fieldpeg::day {
namespace {

/// Where it is: an aircraft's pilot stands somewhere and flies somewhere else.
void set_standing(const Holder& held, const v1::DaySheet& sheet, v1::BoardRow& r) {
    if (held.is_relay) return r.set_place(relay(sheet, held.id)->place());
    r.set_place(pilot(sheet, held.id)->place());
    r.set_area(pilot(sheet, held.id)->area());
}

v1::BoardRow row(const Holder& held, const v1::DaySheet& sheet) {
    v1::BoardRow r;
    r.set_transmitter(held.name);
    r.set_owner(held.owner_name);
    r.set_is_relay(held.is_relay);
    r.set_owner_id(held.owner);
    r.set_id(held.id);
    set_standing(held, sheet, r);
    if (!held.claim) return r;
    *r.mutable_channel() = held.claim->channel();
    r.set_power_dbm(milli(held.gear ? sent_dbm(*held.gear, *held.claim) : held.claim->power_dbm()));
    r.set_stage(held.claim->stage());
    r.set_since_ms(held.claim->since_ms());
    r.set_group(held.claim->group());
    r.set_allowed_because(held.claim->allowed_because());
    r.set_unasked(held.claim->unasked());
    r.set_unconfirmed(held.claim->unconfirmed());
    r.set_note(held.claim->lies());
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
    r.set_place(s.place());
    r.set_area(s.area());
    r.set_id(s.id());
    r.set_reported_by(s.reported_by());
    return r;
}

/// What they would hear if they asked now.
v1::InLine in_line(const v1::DayState& state, const v1::Waiting& one) {
    const auto held = *holder(state.sheet(), one.subject());
    v1::InLine m;
    m.set_transmitter(held.name);
    m.set_owner(held.owner_name);
    m.set_owner_id(held.owner);
    m.set_since_ms(one.since_ms());
    m.set_passed_over(one.passed_over());
    if (one.called_ms() != 0) m.set_called_until_ms(one.called_ms() + call_valid_ms);
    if (!held.claim) return m;
    *m.mutable_channel() = held.claim->channel();
    m.set_power_dbm(milli(held.claim->power_dbm()));
    const auto reply = as_if_asked(state, held, state.at_ms());
    *m.mutable_wait_for() = reply.switched().wait_for();
    m.set_why(reply.has_refusal() ? reply.refusal().where() + " " + reply.refusal().why()
                                  : reply.switched().refusal().why());
    return m;
}

/// Who flies, and whether anybody may.
void add_field(const v1::DayState& state, v1::BoardReply& reply) {
    reply.set_flying_group(state.flying_group());
    reply.set_flying_since_ms(state.flying_since_ms());
    for (const auto group : flight_groups(state.sheet()))
        if (group != 0) reply.add_groups(group);
    reply.set_lost_picture(state.sheet().lost_picture());
    if (!state.has_closed()) return;
    *reply.mutable_closed() = state.closed();
    if (const auto by = state.closed().by_id(); by != 0)
        reply.mutable_closed()->set_by(name_of(state, by));
}

void add_people(const v1::DayState& state, v1::BoardReply& reply) {
    for (const auto& p : state.people()) {
        if (p.role() == v1::Role::marshal && !p.withdrawn() && !p.awaits_nod())
            reply.add_marshals(p.name());
        if (!is_waiting(p)) continue;
        reply.add_awaiting_nod(p.name());
        auto& awaits = *reply.add_awaiting();
        awaits.set_name(p.name());
        awaits.set_is_known(p.joined_before() || pilot(state.sheet(), p.name()));
    }
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
        auto& r = *reply.add_rows() = row(*holder(sheet, p.id()), sheet);
        r.set_usual_minutes(static_cast<std::uint32_t>(usual_ms(sheet, p.id()) / 60'000));
        *r.mutable_result() = pilot_result(a, p);
        for (const auto& relay : sheet.relays())
            if (relay.owner_id() == p.id())
                *reply.add_rows() = row(*holder(sheet, relay.id()), sheet);
    }
    for (const auto& s : sheet.sightings()) *reply.add_rows() = row(s);
    for (const auto& w : state.unacknowledged()) {
        *reply.add_untold() = w;
        reply.mutable_untold()->rbegin()->set_remedy(remedy_now(w, sheet));
        reply.add_call_out(call_out(w, sheet));
        reply.add_call_out_cause(call_out_cause(w, sheet));
    }
    add_field(state, reply);
    for (const auto& one : state.line()) *reply.add_line() = in_line(state, one);
    reply.set_restarted_ms(state.restarted_ms());
    for (const auto subject : state.walks()) {
        const auto lost = *holder(sheet, subject);
        auto& search = *reply.add_searches();
        search.set_transmitter(lost.name);
        search.set_lies(lost.claim->lies());
    }
    add_people(state, reply);
    return reply;
}

}  // namespace fieldpeg::day
