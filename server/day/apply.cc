#include "server/day/apply.h"

#include "server/day/line.h"
#include "server/day/state.h"

#include <boost/assert.hpp>

#include <algorithm>

namespace fieldpeg::day {
namespace {

/// Puts one in the place of that with the same key, or at the end.
template <class List, class One, class Same>
void put(List* list, const One& one, Same same) {
    for (auto& other : *list) {
        if (!same(other)) continue;
        other = one;
        return;
    }
    *list->Add() = one;
}

template <class List>
void put_named(const List& from, List* into) {
    for (const auto& one : from)
        put(into, one, [&](const auto& other) { return other.name() == one.name(); });
}

template <class List, class Which>
void erase_if(List* list, Which which) {
    list->erase(std::remove_if(list->begin(), list->end(), which), list->end());
}

void put_gear(const v1::Gear& gear, v1::DaySheet& sheet) {
    put_named(gear.emissions(), sheet.mutable_emissions());
    put_named(gear.receiver_profiles(), sheet.mutable_receiver_profiles());
    put_named(gear.antennas(), sheet.mutable_antennas());
    put_named(gear.control_links(), sheet.mutable_control_links());
    put_named(gear.positioning_receivers(), sheet.mutable_positioning_receivers());
}

void put_parts(const v1::PartsPut& parts, v1::DayState& state) {
    auto& sheet = *state.mutable_sheet();
    put_named(parts.places(), sheet.mutable_field()->mutable_places());
    put_named(parts.areas(), sheet.mutable_field()->mutable_areas());
    put_gear(parts.gear(), sheet);
    put_named(parts.kits(), sheet.mutable_kits());
    const auto put_by_id = [&](const auto& one, auto* into) {
        put(into, one, [&](const auto& other) { return other.id() == one.id(); });
        state.set_last_id(std::max(state.last_id(), one.id()));
    };
    for (const auto& p : parts.pilots()) put_by_id(p, sheet.mutable_pilots());
    for (const auto& r : parts.relays()) put_by_id(r, sheet.mutable_relays());
    for (const auto& e : parts.emitters()) put_by_id(e, sheet.mutable_field()->mutable_emitters());
}

void take_parts(const v1::PartsGone& gone, v1::DaySheet& sheet) {
    const auto is_gone = [&](const auto& one) {
        return std::ranges::find(gone.ids(), one.id()) != gone.ids().end();
    };
    erase_if(sheet.mutable_pilots(), is_gone);
    erase_if(sheet.mutable_relays(), is_gone);
    erase_if(sheet.mutable_field()->mutable_emitters(), is_gone);
    const auto erase_named = [](const auto& names, auto* list) {
        erase_if(list, [&](const auto& one) {
            return std::ranges::find(names, one.name()) != names.end();
        });
    };
    erase_named(gone.places(), sheet.mutable_field()->mutable_places());
    erase_named(gone.areas(), sheet.mutable_field()->mutable_areas());
    erase_named(gone.kits(), sheet.mutable_kits());
}

void set_head(const v1::HeadSet& head, v1::DaySheet& sheet) {
    sheet.set_name(head.name());
    sheet.set_date(head.date());
    auto& field = *sheet.mutable_field();
    field.set_name(head.field_name());
    field.clear_latitude_deg();
    field.clear_longitude_deg();
    if (head.has_latitude_deg()) field.set_latitude_deg(head.latitude_deg());
    if (head.has_longitude_deg()) field.set_longitude_deg(head.longitude_deg());
    sheet.clear_power_limit_dbm();
    if (head.has_power_limit_dbm()) sheet.set_power_limit_dbm(head.power_limit_dbm());
    sheet.set_usual_minutes(head.usual_minutes());
    sheet.set_lost_picture(head.lost_picture());
    *sheet.mutable_services() = head.services();
}

/// A floor replaces those that it overlaps: what was measured last counts.
void put_floor(const v1::NoiseFloor& floor, v1::DaySheet& sheet) {
    erase_if(sheet.mutable_floors(), [&](const v1::NoiseFloor& other) {
        return other.low_mhz() < floor.high_mhz() && floor.low_mhz() < other.high_mhz();
    });
    *sheet.add_floors() = floor;
}

void sweep(const v1::Swept& swept, v1::DaySheet& sheet) {
    *sheet.mutable_sweep() = swept.sweep();
    if (swept.has_floor()) put_floor(swept.floor(), sheet);
}

void set_up(const v1::DaySheet& sheet, v1::DayState& state) {
    *state.mutable_sheet() = sheet;
    for (const auto& p : sheet.pilots()) state.set_last_id(std::max(state.last_id(), p.id()));
    for (const auto& r : sheet.relays()) state.set_last_id(std::max(state.last_id(), r.id()));
    for (const auto& e : sheet.field().emitters())
        state.set_last_id(std::max(state.last_id(), e.id()));
}

/// A warning is of no use once what caused it is off: nobody is to be called for it.
void forget_warnings(v1::DayState& state, std::uint32_t cause, bool is_sighting) {
    erase_if(state.mutable_unacknowledged(), [&](const v1::Warning& w) {
        return w.cause() == cause && w.cause_is_sighting() == is_sighting &&
               w.kind() != v1::Warning::source_off && w.kind() != v1::Warning::moved;
    });
}

/// Whoever has a channel anew, or was let on the air on it, need not be told of it.
void forget_moves(v1::DayState& state, std::uint32_t transmitter) {
    erase_if(state.mutable_unacknowledged(), [&](const v1::Warning& w) {
        return w.kind() == v1::Warning::moved && w.cause() == transmitter;
    });
}

/// Nothing is to be called any more because of a transmitter that is gone or elsewhere.
void forget(v1::DayState& state, std::uint32_t transmitter) {
    forget_warnings(state, transmitter, false);
    forget_moves(state, transmitter);
}

/// A group that was kept is that of the claim now.
void claim(const v1::Claimed& claimed, v1::DaySheet& sheet) {
    claim_of(sheet, claimed.subject()) = claimed.claim();
    for_each_holder(sheet, [&](auto& one) {
        if (one.id() == claimed.subject()) one.clear_last_group();
    });
}

/// Closed once more, it is closed since when it was.
void close(const v1::Event& event, v1::DayState& state) {
    auto& closed = *state.mutable_closed();
    if (closed.since_ms() == 0) closed.set_since_ms(event.at_ms());
    closed.set_because(event.field_closed().because());
    closed.set_now(event.field_closed().now());
    closed.set_by_id(event.actor());
}

/// Called once more, it flies since when it did.
void call(std::uint32_t group, std::int64_t at_ms, v1::DayState& state) {
    if (group == 0)
        state.clear_flying_since_ms();
    else if (group != state.flying_group())
        state.set_flying_since_ms(at_ms);
    state.set_flying_group(group);
}

/// For what is claimed next.
void keep_group(v1::DaySheet& sheet, std::uint32_t subject) {
    for_each_holder(sheet, [&](auto& one) {
        if (one.id() == subject && one.has_claim()) one.set_last_group(one.claim().group());
    });
}

v1::Waiting* waiting(v1::DayState& state, std::uint32_t subject) {
    for (auto& one : *state.mutable_line())
        if (one.subject() == subject) return &one;
    return nullptr;
}

void leave_line(v1::DayState& state, std::uint32_t subject) {
    erase_if(state.mutable_line(), [&](const auto& one) { return one.subject() == subject; });
}

/// Unanswered, they let the next one pass.
void lapse(const v1::CallLapsed& call, v1::DayState& state) {
    auto& line = *state.mutable_line();
    for (int i = 0; i < line.size(); ++i) {
        if (line[i].subject() != call.subject()) continue;
        line[i].clear_called_ms();
        if (call.taken_back()) return;
        line[i].set_unanswered(line[i].unanswered() + 1);
        if (i + 1 < line.size()) line.SwapElements(i, i + 1);
        return;
    }
}

void move_in_line(const v1::LineMoved& to, v1::DayState& state) {
    auto& line = *state.mutable_line();
    auto at = std::ranges::find(line, to.subject(), &v1::Waiting::subject);
    if (at == line.end()) return;
    const auto place =
        std::clamp<std::ptrdiff_t>(static_cast<std::ptrdiff_t>(to.place()) - 1, 0, line.size() - 1);
    const auto into = line.begin() + place;
    if (at < into)
        std::rotate(at, at + 1, into + 1);
    else
        std::rotate(into, at, at + 1);
}

void end_walk(v1::DayState& state, std::uint32_t subject) {
    auto& walks = *state.mutable_walks();
    walks.erase(std::remove(walks.begin(), walks.end(), subject), walks.end());
}

bool is_anything_unconfirmed(const v1::DaySheet& sheet) {
    bool is = false;
    for_each_holder(sheet, [&](const auto& one) { is = is || one.claim().unconfirmed(); });
    return is;
}

/// Nobody has said since then that it is still so.
void restart(std::int64_t at_ms, v1::DayState& state) {
    for_each_holder(*state.mutable_sheet(), [&](auto& one) {
        if (one.has_claim() && radiates(one.claim().stage()) && !one.claim().always() &&
            one.claim().stage() != v1::Claim::down)
            one.mutable_claim()->set_unconfirmed(true);
    });
    if (is_anything_unconfirmed(state.sheet())) state.set_restarted_ms(at_ms);
}

void set_stage(const v1::StageSet& to, std::int64_t at_ms, v1::DayState& state) {
    if (is_in_the_air(to.stage()) && !to.unasked()) forget_moves(state, to.subject());
    if (!radiates(to.stage())) forget_warnings(state, to.subject(), false);
    if (radiates(to.stage())) leave_line(state, to.subject());
    if (to.undoable()) state.set_calls_after_ms(at_ms + undo_valid_ms);
    auto& claim = claim_of(*state.mutable_sheet(), to.subject());
    // A flight counts from the yes.
    const bool goes_on = claim.stage() == v1::Claim::told_on && to.stage() == v1::Claim::on_air;
    if (!goes_on && to.stage() != claim.stage()) claim.set_since_ms(at_ms);
    claim.set_stage(to.stage());
    claim.set_unconfirmed(to.unconfirmed());
    if (to.stage() == v1::Claim::down)
        claim.set_lies(to.lies());
    else
        claim.clear_lies();
    if (to.stage() != v1::Claim::down) end_walk(state, to.subject());
    if (!is_anything_unconfirmed(state.sheet())) state.clear_restarted_ms();
    claim.set_unasked(to.unasked());
    if (!to.allowed_because().empty()) claim.set_allowed_because(to.allowed_because());
}

void see(const v1::Seen& seen, std::uint32_t by, v1::DayState& state) {
    auto& sheet = *state.mutable_sheet();
    put_gear(seen.gear(), sheet);
    auto& sighting = *sheet.add_sightings() = seen.sighting();
    sighting.set_reported_by(by);
    state.set_last_id(std::max(state.last_id(), seen.sighting().id()));
}

void unsee(std::uint32_t sighting, v1::DayState& state) {
    forget_warnings(state, sighting, true);
    erase_if(state.mutable_sheet()->mutable_sightings(),
             [&](const auto& s) { return s.id() == sighting; });
}

/// Its cause says that they cannot do what would end it.
void answer(const v1::CauseAnswered& of, v1::DayState& state) {
    for (auto& w : *state.mutable_unacknowledged())
        if (w.version() == of.warning())
            w.set_cause_answer(of.cannot_reach() ? v1::Warning::cannot_reach
                                                 : v1::Warning::no_answer);
}

/// Nobody is to be called any more: it was done.
void tell(std::uint64_t warning, v1::DayState& state) {
    erase_if(state.mutable_unacknowledged(), [&](const auto& w) { return w.version() == warning; });
}

void release(const v1::Released& released, v1::DayState& state) {
    auto& sheet = *state.mutable_sheet();
    if (released.keeps_group()) keep_group(sheet, released.subject());
    leave_line(state, released.subject());
    drop_claim(sheet, released.subject());
    forget(state, released.subject());
}

void set_rules(const v1::RulesSet& to, v1::DaySheet& sheet) {
    sheet.clear_rules();
    if (to.has_rules()) *sheet.mutable_rules() = to.rules();
}

template <class Change>
void change_person(v1::DayState& state, std::uint32_t id, Change change) {
    for (auto& person : *state.mutable_people())
        if (person.id() == id) change(person);
}

void apply_to_line(const v1::Event& event, v1::DayState& state) {
    switch (event.what_case()) {
        case v1::Event::kQueued: {
            auto& one = *state.add_line();
            one.set_subject(event.queued().subject());
            one.set_since_ms(event.at_ms());
            break;
        }
        case v1::Event::kLeftLine:
            leave_line(state, event.left_line().subject());
            break;
        case v1::Event::kCalledUp:
            if (auto* one = waiting(state, event.called_up().subject()))
                one->set_called_ms(event.at_ms());
            break;
        case v1::Event::kCallLapsed:
            lapse(event.call_lapsed(), state);
            break;
        case v1::Event::kPassedOver:
            if (auto* one = waiting(state, event.passed_over().subject()))
                one->set_passed_over(one->passed_over() + 1);
            break;
        case v1::Event::kLineMoved:
            move_in_line(event.line_moved(), state);
            break;
        default:
            break;
    }
}

void join(const v1::Person& who, v1::DayState& state) {
    put(state.mutable_people(), who, [&](const auto& other) { return other.id() == who.id(); });
    state.set_last_id(std::max(state.last_id(), who.id()));
}

/// Who is here already goes on; whoever knocked as them is them.
void nod(std::uint32_t id, v1::DayState& state) {
    const auto* who = person(state, id);
    const auto as = who ? who->claims() : 0;
    if (as == 0) return change_person(state, id, [](auto& one) { one.set_awaits_nod(false); });
    erase_if(state.mutable_people(), [&](const auto& one) { return one.id() == id; });
    change_person(state, as, [](auto& one) { one.set_withdrawn(false); });
}

/// Who was here before is known; who never was, is gone.
void refuse_nod(std::uint32_t id, v1::DayState& state) {
    erase_if(state.mutable_people(), [&](const v1::Person& one) {
        return one.id() == id && (one.claims() != 0 || !one.joined_before());
    });
    change_person(state, id, [](auto& one) {
        one.set_awaits_nod(false);
        one.set_withdrawn(true);
    });
}

/// What the day is: its people's gear, its field, its rules.
void apply_to_sheet(const v1::Event& event, v1::DayState& state) {
    auto& sheet = *state.mutable_sheet();
    if (event.has_day_set_up()) set_up(event.day_set_up().sheet(), state);
    if (event.has_parts_put()) put_parts(event.parts_put(), state);
    if (event.has_rules_set()) set_rules(event.rules_set(), sheet);
    if (event.has_swept()) sweep(event.swept(), sheet);
    if (event.has_head_set()) set_head(event.head_set(), sheet);
    if (!event.has_parts_gone()) return;
    take_parts(event.parts_gone(), sheet);
    for (const auto id : event.parts_gone().ids()) {
        forget(state, id);
        leave_line(state, id);
        end_walk(state, id);
    }
}

/// Who is who.
void apply_to_people(const v1::Event& event, v1::DayState& state) {
    if (event.has_joined()) join(event.joined().person(), state);
    if (event.has_nodded()) nod(event.nodded().person(), state);
    if (event.has_nod_refused()) refuse_nod(event.nod_refused().person(), state);
    if (event.has_key_withdrawn())
        change_person(state, event.key_withdrawn().person(),
                      [](auto& person) { person.set_withdrawn(true); });
    if (event.has_role_given())
        change_person(state, event.role_given().person(),
                      [&](auto& person) { person.set_role(event.role_given().role()); });
}

/// What concerns the whole field.
void apply_to_field(const v1::Event& event, v1::DayState& state) {
    if (event.has_group_called()) call(event.group_called().group(), event.at_ms(), state);
    if (event.has_field_closed()) close(event, state);
    if (event.has_field_opened()) state.clear_closed();
    if (event.has_restarted()) restart(event.at_ms(), state);
    if (event.has_walk_ended()) end_walk(state, event.walk_ended().subject());
    if (event.has_walk_begun()) {
        end_walk(state, event.walk_begun().subject());
        state.add_walks(event.walk_begun().subject());
    }
}

}  // namespace

bool fits(const v1::DayState& state, const v1::Event& event) {
    if (event.version() != state.version() + 1) return false;
    const auto is_there = [&](std::uint32_t subject) {
        return holder(state.sheet(), subject).has_value();
    };
    if (event.has_claimed()) return is_there(event.claimed().subject());
    return !event.has_stage_set() || is_there(event.stage_set().subject());
}

void apply(v1::DayState& state, const v1::Event& event) {
    BOOST_ASSERT(event.version() == state.version() + 1);
    state.set_version(event.version());
    state.set_at_ms(event.at_ms());
    switch (event.what_case()) {
        case v1::Event::kDaySetUp:
        case v1::Event::kPartsPut:
        case v1::Event::kPartsGone:
        case v1::Event::kRulesSet:
        case v1::Event::kSwept:
        case v1::Event::kHeadSet:
            apply_to_sheet(event, state);
            break;
        case v1::Event::kClaimed:
            forget(state, event.claimed().subject());
            claim(event.claimed(), *state.mutable_sheet());
            break;
        case v1::Event::kReleased:
            release(event.released(), state);
            break;
        case v1::Event::kStageSet:
            set_stage(event.stage_set(), event.at_ms(), state);
            break;
        case v1::Event::kSeen:
            see(event.seen(), event.actor(), state);
            break;
        case v1::Event::kSightingGone:
            unsee(event.sighting_gone().id(), state);
            break;
        case v1::Event::kJoined:
        case v1::Event::kNodded:
        case v1::Event::kNodRefused:
        case v1::Event::kKeyWithdrawn:
        case v1::Event::kRoleGiven:
            apply_to_people(event, state);
            break;
        case v1::Event::kWarning:
            *state.add_unacknowledged() = event.warning();
            break;
        case v1::Event::kWarningAcknowledged:
            tell(event.warning_acknowledged().warning(), state);
            break;
        case v1::Event::kCauseAnswered:
            answer(event.cause_answered(), state);
            break;
        case v1::Event::kGroupCalled:
        case v1::Event::kFieldClosed:
        case v1::Event::kFieldOpened:
        case v1::Event::kRestarted:
        case v1::Event::kWalkBegun:
        case v1::Event::kWalkEnded:
            apply_to_field(event, state);
            break;
        case v1::Event::kQueued:
        case v1::Event::kLeftLine:
        case v1::Event::kCalledUp:
        case v1::Event::kCallLapsed:
        case v1::Event::kPassedOver:
        case v1::Event::kLineMoved:
            apply_to_line(event, state);
            break;
        case v1::Event::kClockJumped:
        case v1::Event::WHAT_NOT_SET:
            break;
    }
}

}  // namespace fieldpeg::day
