#include "server/day/decide.h"

#include "server/day/apply.h"
#include "server/day/assessment.h"
#include "server/day/deciding.h"
#include "server/day/line.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <utility>

namespace fieldpeg::day {
namespace {

Decided told_all(const Given& given) {
    if (!given.is_marshal()) return refused(not_permitted("only the marshal tells everybody"));
    if (given.state.unacknowledged().empty()) return done("there is nothing to be told");
    auto decided = done(given.state.unacknowledged_size() == 1
                            ? std::string("told")
                            : fmt::format("told: all {}", given.state.unacknowledged_size()));
    for (const auto& w : given.state.unacknowledged())
        decided.decision.events.emplace_back().mutable_warning_acknowledged()->set_warning(
            w.version());
    return decided;
}

/// Said by whoever caused it, or by the marshal for them. It ends nothing.
Decided cause_answers(const Given& given, const v1::Warning& w) {
    const auto cause = w.cause_is_sighting() ? std::nullopt : holder(given.sheet(), w.cause());
    if (!cause) return refused(conflict("warning", "nobody knows whose it is", "tell the marshal"));
    if (!given.may_act_for(*cause))
        return refused(
            not_permitted(fmt::format("only {} or the marshal says that {} cannot be reached",
                                      cause->owner_name, cause->name)));
    auto told = w;
    told.set_cause_answer(v1::Warning::cannot_reach);
    auto decided = done(fmt::format("the marshal is told: {} cannot reach it", cause->owner_name));
    auto& event = *decided.decision.events.emplace_back().mutable_cause_answered();
    event.set_warning(w.version());
    event.set_cannot_reach(true);
    if (auto text = call_out_cause(told, given.sheet()); !text.empty())
        decided.decision.reply.add_call_out(std::move(text));
    return decided;
}

Decided decide_acknowledge(const Given& given, const v1::AcknowledgeWarning& asked) {
    if (asked.all()) return told_all(given);
    for (const auto& w : given.state.unacknowledged()) {
        if (w.version() != asked.warning()) continue;
        if (asked.cannot_reach()) return cause_answers(given, w);
        if (!given.is_marshal() && w.pilot() != given.actor.id)
            return refused(
                not_permitted("a warning is told by the marshal, or by whom it concerns"));
        auto decided = done(fmt::format("told: {}", call_out(w, given.sheet())));
        decided.decision.events.emplace_back().mutable_warning_acknowledged()->set_warning(
            w.version());
        return decided;
    }
    if (asked.warning() > given.state.version())
        return refused(not_found("warning",
                                 fmt::format("there is no entry {} in the log", asked.warning()),
                                 "'board' shows the numbers"));
    return done("that warning is not on the board, or no longer");
}

/// What somebody is who hands over: a pilot, if they fly.
v1::Role::Kind role_after(const Given& given) {
    return pilot(given.sheet(), given.actor.id) ? v1::Role::pilot : v1::Role::onlooker;
}

/// Tickets are the service's: the log knows no secrets.
Decided decide_renewal(const Given& given) {
    if (!given.is_marshal()) return refused(not_permitted("only the marshal makes tickets"));
    return done("");
}

/// Who decides what. One for each kind of command there is.
struct Decide {
    const Given& given;

    Decided operator()(const PutParts& put) const { return decide_put(given, put); }
    Decided operator()(const ChangePilot& change) const { return decide_change(given, change); }
    Decided operator()(const TakeDay& take) const { return decide_take(given, take); }
    Decided operator()(const v1::Remove& asked) const { return decide_remove(given, asked); }
    Decided operator()(const HoldAgainst& asked) const { return decide_rules(given, asked); }
    Decided operator()(const v1::ClaimChannel& asked) const { return decide_claim(given, asked); }
    Decided operator()(const v1::Release& asked) const { return decide_release(given, asked); }
    Decided operator()(const v1::SwitchOn& asked) const { return decide_on(given, asked); }
    Decided operator()(const v1::SwitchOff& asked) const { return decide_off(given, asked); }
    Decided operator()(const NoteSighting& seen) const { return decide_see(given, seen); }
    Decided operator()(const v1::Unsee& asked) const { return decide_unsee(given, asked); }
    Decided operator()(const v1::AcknowledgeWarning& asked) const {
        return decide_acknowledge(given, asked);
    }
    Decided operator()(const v1::Nod& asked) const { return decide_nod(given, asked); }
    Decided operator()(const v1::WithdrawKey& asked) const { return decide_withdraw(given, asked); }
    Decided operator()(const v1::RenewTicket&) const { return decide_renewal(given); }
    Decided operator()(const v1::Assign& asked) const { return decide_assign(given, asked); }
    Decided operator()(const v1::EnterSweep& asked) const { return decide_sweep(given, asked); }
    Decided operator()(const v1::CallGroup& asked) const { return decide_group(given, asked); }
    Decided operator()(const v1::CloseField& asked) const { return decide_close(given, asked); }
    Decided operator()(const v1::OpenField&) const { return decide_open(given); }
    Decided operator()(const v1::LeaveLine& asked) const { return decide_line(given, asked); }
    Decided operator()(const v1::MoveInLine& asked) const { return decide_line(given, asked); }
    Decided operator()(const v1::HandOver& asked) const { return decide_hand_over(given, asked); }
    Decided operator()(const v1::Walk& asked) const { return decide_walk(given, asked); }
    Decided operator()(const v1::RecordMeasurement& asked) const {
        return decide_measurement(given, asked);
    }
};

/// The same, and the state after all events.
v1::DayState stamped(const v1::DayState& state, const Actor& actor, std::int64_t now_ms,
                     std::vector<v1::Event>& events) {
    stamp(state.version(), actor, now_ms, events);
    v1::DayState after = state;
    for (const auto& event : events) apply(after, event);
    return after;
}

/// What the line makes of it.
void call_up(Decision& decision, v1::DayState& after, std::int64_t now_ms, Memory& memory) {
    auto events = calls(after, now_ms, &memory);
    after = stamped(after, Actor{}, now_ms, events);
    for (auto& event : events) {
        for (auto& text : call_outs(event, after)) decision.reply.add_call_out(std::move(text));
        decision.events.push_back(std::move(event));
    }
}

}  // namespace

Decided decide_hand_over(const Given& given, const v1::HandOver& asked) {
    if (!given.is_marshal()) return refused(not_permitted("only the marshal hands over"));
    const auto* who = person(given.state, asked.name());
    if (!who || who->withdrawn() || who->awaits_nod())
        return refused(not_found("name", fmt::format("nobody called '{}' has joined", asked.name()),
                                 "they join first, with any ticket"));
    if (who->id() == given.actor.id) return refused(conflict("name", "that is you"));
    auto decided = done(fmt::format("{} is the marshal from now on", who->name()));
    const auto give = [&](std::uint32_t id, v1::Role::Kind role) {
        auto& given_role = *decided.decision.events.emplace_back().mutable_role_given();
        given_role.set_person(id);
        given_role.set_role(role);
    };
    if (who->role() != v1::Role::marshal) give(who->id(), v1::Role::marshal);
    if (given.actor.id != 0) give(given.actor.id, role_after(given));
    decided.decision.reply.add_call_out(fmt::format("{} is the marshal now", who->name()));
    return decided;
}

std::uint64_t stamp(std::uint64_t version, const Actor& actor, std::int64_t now_ms,
                    std::vector<v1::Event>& events) {
    for (auto& event : events) {
        event.set_version(++version);
        event.set_at_ms(now_ms);
        event.set_actor(actor.id);
        event.set_model(std::string(model_name));
    }
    return version;
}

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

v1::DayState after(const Given& given, const std::vector<v1::Event>& events) {
    auto stamped_ones = events;
    return stamped(given.state, given.actor, given.now_ms, stamped_ones);
}

bool Given::may_act_for(const Holder& holder) const {
    if (is_marshal()) return true;
    return actor.role == v1::Role::pilot && holder.owner == actor.id;
}

v1::Refusal conflict(std::string where, std::string why, std::string next) {
    return message({Refusal::Kind::conflict, std::move(where), std::move(why), std::move(next)});
}

v1::Refusal not_found(std::string where, std::string why, std::string next) {
    return message({Refusal::Kind::not_found, std::move(where), std::move(why), std::move(next)});
}

v1::Refusal not_permitted(std::string why, std::string next) {
    return message({Refusal::Kind::not_permitted, "", std::move(why), std::move(next)});
}

Decided refused(v1::Refusal refusal) {
    Decided decided;
    *decided.decision.reply.mutable_refusal() = std::move(refusal);
    return decided;
}

Decided done(std::string text) {
    Decided decided;
    decided.decision.reply.mutable_done()->set_text(std::move(text));
    return decided;
}

Decision decide(const v1::DayState& state, const Actor& actor, const Command& command,
                std::int64_t now_ms) {
    Memory nothing;
    return decide(state, actor, command, now_ms, nothing);
}

Decision decide(const v1::DayState& state, const Actor& actor, const Command& command,
                std::int64_t now_ms, Memory& memory) {
    const Given given{state, actor, now_ms, &memory};
    auto [decision, cause, held_against] = std::visit(Decide{given}, command);
    decision.reply.set_version(state.version());
    if (decision.events.empty()) return std::move(decision);

    const bool has_line = !state.line().empty() || decision.events.front().has_queued();
    if (!cause && held_against.empty() && !has_line) {
        decision.reply.set_version(stamp(state.version(), actor, now_ms, decision.events));
        return std::move(decision);
    }
    auto after = stamped(state, actor, now_ms, decision.events);
    if (cause) {
        cause->by = actor.id;
        for (auto& warning : warnings(state, after, *cause, memory))
            held_against.push_back(std::move(warning));
    }
    if (!held_against.empty()) {
        std::vector<v1::Event> told;
        for (auto& warning : held_against) {
            warning.set_version(after.version() + told.size() + 1);
            *decision.reply.add_warnings() = warning;
            auto& event = told.emplace_back();
            *event.mutable_warning() = std::move(warning);
            for (auto& text : call_outs(event, after)) decision.reply.add_call_out(std::move(text));
        }
        after = stamped(after, Actor{}, now_ms, told);
        for (auto& event : told) decision.events.push_back(std::move(event));
    }
    if (has_line) call_up(decision, after, now_ms, memory);
    decision.reply.set_version(after.version());
    return std::move(decision);
}

std::optional<v1::Refusal> refused_unread(const Actor& actor, v1::Command::AskCase kind) {
    const bool may_enter_gear = actor.role == v1::Role::marshal || actor.role == v1::Role::pilot;
    if (kind == v1::Command::kPut && !may_enter_gear)
        return not_permitted("onlookers change nothing", "ask the marshal");
    if (kind == v1::Command::kTakeDay && actor.role != v1::Role::marshal)
        return not_permitted("only the marshal takes a day file over", "ask the marshal");
    if (kind == v1::Command::kAssign && actor.role != v1::Role::marshal)
        return not_permitted("only the marshal gives out a plan");
    return std::nullopt;
}

Decision set_up(const v1::DayState& empty, v1::DaySheet sheet, std::int64_t now_ms) {
    Decision decision;
    std::uint32_t last_id = 0;
    sheet = with_ids(std::move(sheet), last_id);
    for_each_holder(sheet, [&](auto& one) {
        if (one.has_claim()) one.mutable_claim()->set_since_ms(now_ms);
    });
    *decision.events.emplace_back().mutable_day_set_up()->mutable_sheet() = std::move(sheet);
    decision.reply.set_version(stamp(empty.version(), Actor{}, now_ms, decision.events));
    return decision;
}

Decision restarted(const v1::DayState& state, std::int64_t now_ms) {
    Decision decision;
    bool radiates = false;
    for_each_holder(state.sheet(), [&](const auto& one) {
        const auto stage = one.claim().stage();
        radiates = radiates || (one.has_claim() && day::radiates(stage) &&
                                stage != v1::Claim::down && !one.claim().always());
    });
    if (!radiates || state.version() <= 1) return decision;  // as the day file has it
    decision.events.emplace_back().mutable_restarted();
    stamp(state.version(), Actor{}, now_ms, decision.events);
    return decision;
}

Decision clock_jumped(const v1::DayState& state, std::int64_t by_ms, std::int64_t now_ms) {
    Decision decision;
    decision.events.emplace_back().mutable_clock_jumped()->set_by_ms(by_ms);
    decision.reply.set_version(stamp(state.version(), Actor{}, now_ms, decision.events));
    return decision;
}

}  // namespace fieldpeg::day
