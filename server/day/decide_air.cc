#include "server/day/deciding.h"

#include "server/day/flights.h"
#include "server/day/power_limit.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/trial.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fieldpeg::day {
namespace {

/// What an unknown transmitter is taken to be where nobody says otherwise [ours: a common one, on
/// the strong side].
constexpr double sighting_power_dbm = 23.01;  // 200 mW
constexpr std::string_view sighting_antenna = "circular-omni";

v1::StageSet stage_set(std::uint32_t subject, v1::Claim::Stage stage) {
    v1::StageSet m;
    m.set_subject(subject);
    m.set_stage(stage);
    return m;
}

Cause cause_of(const Holder& held, const v1::Claim& claim, bool comes_on) {
    Cause cause;
    cause.id = held.id;
    cause.is_relay = held.is_relay;
    cause.comes_on = comes_on;
    cause.channel = claim.channel();
    cause.power_dbm = sent_dbm(*held.gear, claim);
    return cause;
}

/// Only held, so that a list of those who are in the air is not repeated.
std::vector<v1::Harm> not_among(std::vector<v1::Harm> all, const std::vector<v1::Harm>& listed) {
    std::erase_if(all, [&](const v1::Harm& h) {
        return std::ranges::find(listed, h.pilot(), &v1::Harm::pilot) != listed.end();
    });
    return all;
}

/// One who asks to switch on.
class SwitchingOn {
public:
    SwitchingOn(const Given& given, const v1::SwitchOn& asked, const Holder& held)
        : given_(given), asked_(asked), held_(held), claim_(*held.claim) {
        claim_.set_stage(stage());
        reply().set_transmitter(held.name);
        *reply().mutable_channel() = claim_.channel();
        reply().set_power_dbm(milli(sent_dbm(*held.gear, claim_)));
    }

    Decided decide() {
        Trial on_air(given_.sheet(), held_.id, v1::Basis::on_air, {0});
        const auto now = on_air.outcome(claim_);
        Trial held(given_.sheet(), held_.id, v1::Basis::held,
                   flies_with(given_.sheet(), held_.name, claim_.group(), claim_.always()));
        for (const auto& h : now.harms) *reply().add_harms() = h;
        for (const auto& h : now.links_lost) *reply().add_links_lost() = h;
        for (const auto& h : not_among(held.outcome(claim_).harms, now.harms))
            *reply().add_harms_held() = h;
        *reply().mutable_own() = now.own;
        reply().set_look(
            fmt::format("tune to {}: snow or a picture?", channel_text(claim_.channel())));

        if (!now.harms.empty() && asked_.allowed_because().empty()) return wait(now);
        const bool has_leave =
            !asked_.allowed_because().empty() || !claim_.allowed_because().empty();
        if (auto above = above_limit(given_.sheet(), held_, sent_dbm(*held_.gear, claim_));
            above && !has_leave) {
            reply().set_answer(v1::SwitchReply::ask_marshal);
            *reply().mutable_refusal() = *std::move(above);
            return std::move(decided_);
        }
        const bool own_trouble = stage() == v1::Claim::on_air && in_trouble(now.own.verdict());
        if (own_trouble && !asked_.yes_anyway() && asked_.allowed_because().empty())
            return ask_marshal(now);
        return yes(now);
    }

private:
    v1::SwitchReply& reply() { return *decided_.decision.reply.mutable_switched(); }
    v1::Claim::Stage stage() const { return asked_.bench() ? v1::Claim::bench : v1::Claim::on_air; }

    Decided wait(const Trial::Outcome& now) {
        std::vector<std::string> names;
        for (const auto& h : now.harms) {
            names.push_back(h.pilot());
            reply().add_wait_for(h.pilot());
        }
        reply().set_answer(v1::SwitchReply::wait);
        const auto& h = now.harms.front();
        *reply().mutable_refusal() =
            conflict(held_.name,
                     h.after() == v1::Verdict::control_at_risk
                         ? fmt::format("do not switch on: {}: {}", h.pilot(), left_text(h))
                         : fmt::format("do not switch on: {} would be left with {}", h.pilot(),
                                       left_text(h)),
                     fmt::format("wait for {}, or take another channel", fmt::join(names, ", ")));
        return std::move(decided_);
    }

    Decided ask_marshal(const Trial::Outcome& now) {
        reply().set_answer(v1::SwitchReply::ask_marshal);
        *reply().mutable_refusal() = conflict(
            held_.name, own_text(now.own), "ask the marshal, take another channel, or say --yes");
        return std::move(decided_);
    }

    Decided yes(const Trial::Outcome& now) {
        reply().set_answer(v1::SwitchReply::switch_on);
        reply().set_valid_until_ms(given_.now_ms + yes_valid_ms);
        auto set = stage_set(held_.id, stage());
        auto cause = cause_of(held_, claim_, true);
        if (is_above_limit(given_.sheet(), claim_.power_dbm()))
            set.set_allowed_because(asked_.allowed_because());
        if (!now.harms.empty()) {
            set.set_allowed_because(asked_.allowed_because());
            cause.allowed = true;
        }
        *decided_.decision.events.emplace_back().mutable_stage_set() = std::move(set);
        decided_.cause = std::move(cause);
        return std::move(decided_);
    }

    const Given& given_;
    const v1::SwitchOn& asked_;
    const Holder& held_;
    v1::Claim claim_;
    Decided decided_;
};

/// A closed field, or another group's turn. Facts are noted as ever.
std::optional<v1::Refusal> not_in_turn(const Given& given, const v1::SwitchOn& asked,
                                       const Holder& held) {
    const auto& state = given.state;
    if (state.has_closed())
        return conflict("field", fmt::format("is closed: {}", state.closed().because()),
                        "do not switch on: wait until the marshal opens it");
    if (asked.out_of_turn() && !given.is_marshal())
        return not_permitted("only the marshal lets somebody fly out of turn", "ask the marshal");
    const auto called = state.flying_group();
    const bool is_in_turn = called == 0 || !held.claim || !is_of_one_group(*held.claim) ||
                            held.claim->group() == called;
    if (is_in_turn || asked.out_of_turn()) return std::nullopt;
    return conflict(held.name,
                    fmt::format("is of group {}, and group {} flies", held.claim->group(), called),
                    given.is_marshal() ? "wait for your turn, or say --anyway"
                                       : "do not switch on: wait until your group is called");
}

/// What radiates is recorded, whoever said yes or no.
Decided fact(const Given& given, const v1::SwitchOn& asked, const Holder& held) {
    v1::Claim claim = held.claim ? *held.claim : v1::Claim();
    if (asked.has_channel()) *claim.mutable_channel() = asked.channel();
    if (asked.has_power_dbm()) claim.set_power_dbm(asked.power_dbm());
    if (claim.channel().mhz() == 0)
        return refused(message({Refusal::Kind::malformed, held.name,
                                "holds no channel, and none was said", "say which: --channel R3"}));
    if (!held.claim && !asked.has_power_dbm()) {
        const auto& steps = held.gear->power_dbm();
        claim.set_power_dbm(steps.empty() ? sighting_power_dbm : *std::ranges::max_element(steps));
    }
    const auto stage = asked.bench() ? v1::Claim::bench : v1::Claim::on_air;
    Decided decided;
    auto& reply = *decided.decision.reply.mutable_switched();
    reply.set_transmitter(held.name);
    reply.set_answer(v1::SwitchReply::noted);
    reply.set_stage(stage);
    if (held.claim && held.claim->channel().mhz() != claim.channel().mhz())
        *reply.mutable_held() = held.claim->channel();
    *reply.mutable_channel() = claim.channel();
    reply.set_power_dbm(milli(claim.power_dbm()));
    if (is_above_limit(given.sheet(),
                       asked.bench() ? sent_dbm(*held.gear, claim) : claim.power_dbm()))
        reply.set_power_limit_dbm(milli(given.sheet().power_limit_dbm()));
    const bool is_new = !held.claim || asked.has_channel() || asked.has_power_dbm();
    if (is_new) {
        claim.set_stage(v1::Claim::held);
        claim.set_since_ms(given.now_ms);
        claim.set_unasked(true);
        auto& event = *decided.decision.events.emplace_back().mutable_claimed();
        event.set_subject(held.id);
        *event.mutable_claim() = claim;
    } else if (held.claim->stage() == stage) {
        return decided;
    }
    auto set = stage_set(held.id, stage);
    set.set_unasked(true);
    *decided.decision.events.emplace_back().mutable_stage_set() = std::move(set);
    decided.cause = cause_of(held, claim, true);
    return decided;
}

/// Whose aircraft it carries the picture of, in the air or down somewhere; empty: nobody's.
std::string carried(const v1::DaySheet& sheet, const Holder& held) {
    const auto* r = relay(sheet, held.id);
    const auto* owner = r ? pilot(sheet, r->owner_id()) : nullptr;
    if (!owner || !owner->has_claim()) return "";
    if (owner->claim().stage() == v1::Claim::on_air)
        return fmt::format(
            "carries {}'s picture, which is in the air: switching it off takes that "
            "picture away",
            owner->name());
    if (owner->claim().stage() == v1::Claim::down)
        return fmt::format(
            "carries the picture of {}'s aircraft, which is down: it may be what "
            "finds it",
            owner->name());
    return "";
}

Decided switch_off(const Holder& held, v1::Claim::Stage to) {
    Decided decided;
    auto& reply = *decided.decision.reply.mutable_switched();
    reply.set_transmitter(held.name);
    reply.set_answer(v1::SwitchReply::switched_off);
    reply.set_stage(to);
    *reply.mutable_channel() = held.claim->channel();
    reply.set_power_dbm(milli(held.claim->power_dbm()));
    if (held.claim->stage() == to) return decided;
    *decided.decision.events.emplace_back().mutable_stage_set() = stage_set(held.id, to);
    decided.cause = cause_of(held, *held.claim, false);
    return decided;
}

v1::Sighting sighting(const Given& given, const v1::See& asked) {
    v1::Sighting s;
    s.set_id(given.state.last_id() + 1);
    s.set_since_ms(given.now_ms);
    *s.mutable_channel() = asked.channel();
    s.set_power_dbm(asked.has_power_dbm() ? asked.power_dbm() : sighting_power_dbm);
    if (!asked.has_power_dbm())
        s.add_assumed(fmt::format("power {}", power_text(sighting_power_dbm)));
    s.mutable_transmitter()->set_emission(asked.emission());
    auto& mounting = *s.mutable_transmitter()->mutable_mounting();
    mounting.set_antenna(std::string(sighting_antenna));
    mounting.set_polarisation(v1::Polarisation::rhcp);
    s.set_place(asked.place());
    s.set_area(asked.area());
    s.set_note(asked.note());
    const auto& field = given.sheet().field();
    if (s.place().empty() && s.area().empty()) {
        if (!field.areas().empty())
            s.set_area(std::ranges::max_element(field.areas(), {}, &v1::Area::radius_m)->name());
        else if (!field.places().empty())
            s.set_place(field.places(0).name());
        s.add_assumed(s.area().empty() ? "stands at " + s.place() : "flies in " + s.area());
    }
    return s;
}

}  // namespace

Decided decide_on(const Given& given, const v1::SwitchOn& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held || !held->gear)
        return refused(not_found(
            "transmitter", fmt::format("'{}' has no transmitter on this day", asked.transmitter()),
            "to report something unknown on the air: 'seen CHANNEL'"));
    if (!given.may_act_for(*held))
        return refused(not_permitted(
            fmt::format("only {} or the marshal switches {} on", held->owner_name, held->name),
            "report what you saw with 'seen CHANNEL'"));
    if (!asked.allowed_because().empty() && !given.is_marshal())
        return refused(
            not_permitted("only the marshal allows what harms somebody", "ask the marshal"));
    if (asked.already()) return fact(given, asked, *held);
    if (auto not_now = not_in_turn(given, asked, *held)) return refused(*std::move(not_now));
    if (!held->claim)
        return refused(conflict(held->name, "holds no channel: do not switch on",
                                "claim one first, or ask the marshal"));
    if (held->claim->stage() == (asked.bench() ? v1::Claim::bench : v1::Claim::on_air))
        return done(fmt::format("{} is {} already, on {}", held->name,
                                stage_name(held->claim->stage()),
                                channel_text(held->claim->channel())));
    if (held->claim->stage() == v1::Claim::down)
        return refused(conflict(held->name, "is down and perhaps still radiating",
                                "when it is known to be silent: off --silent"));
    return SwitchingOn(given, asked, *held).decide();
}

Decided decide_off(const Given& given, const v1::SwitchOff& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held)
        return refused(
            not_found("transmitter", fmt::format("nobody is called '{}'", asked.transmitter())));
    if (!given.may_act_for(*held))
        return refused(not_permitted(fmt::format("only {} or the marshal says that {} is off",
                                                 held->owner_name, held->name)));
    if (!held->claim)
        return done(fmt::format("{} holds no channel and is not on the air", held->name));
    if (asked.down()) return switch_off(*held, v1::Claim::down);
    if (held->claim->stage() == v1::Claim::down && !asked.silent())
        return refused(conflict(held->name,
                                "is down: it keeps its channel until it is known to be silent",
                                "when it is: off --silent"));
    if (!held->radiates()) return done(fmt::format("{} is not on the air", held->name));
    if (auto why = held->is_relay && !asked.yes_anyway() ? carried(given.sheet(), *held) : "";
        !why.empty())
        return refused(
            conflict(held->name, std::move(why),
                     "land first, or say --yes; a relay that is off already: --yes too"));
    return switch_off(*held, v1::Claim::off_air);
}

Decided decide_see(const Given& given, const NoteSighting& seen) {
    if (given.actor.role == v1::Role::onlooker || given.actor.role == v1::Role::unknown)
        return refused(not_permitted("onlookers enter nothing", "tell the marshal"));
    const auto& field = given.sheet().field();
    if (field.areas().empty() && field.places().empty())
        return refused(
            conflict("field", "has no place where it could be", "enter a place first: field put"));
    auto s = sighting(given, seen.asked);
    Decided decided = done(
        fmt::format("noted as {}: {} at {}; it counts in every calculation from now on",
                    sighting_name(s.id()), channel_text(s.channel()), power_text(s.power_dbm())));
    decided.decision.reply.mutable_done()->set_id(s.id());
    Cause cause;
    cause.id = s.id();
    cause.is_sighting = true;
    cause.comes_on = true;
    cause.channel = s.channel();
    cause.power_dbm = s.power_dbm();
    auto& event = *decided.decision.events.emplace_back().mutable_seen();
    *event.mutable_gear() = seen.gear;
    *event.mutable_sighting() = std::move(s);
    decided.cause = std::move(cause);
    return decided;
}

Decided decide_unsee(const Given& given, const v1::Unsee& asked) {
    if (!given.is_marshal())
        return refused(not_permitted("only the marshal takes a sighting back", "tell the marshal"));
    for (const auto& s : given.sheet().sightings()) {
        if (s.id() != asked.sighting()) continue;
        auto decided =
            done(fmt::format("{} on {} is gone", sighting_name(s.id()), channel_text(s.channel())));
        decided.decision.events.emplace_back().mutable_sighting_gone()->set_id(s.id());
        return decided;
    }
    return refused(not_found("sighting", fmt::format("there is no sighting {}", asked.sighting()),
                             "'board' lists them"));
}

}  // namespace fieldpeg::day
