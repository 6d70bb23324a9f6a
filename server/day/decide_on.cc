#include "server/day/deciding.h"
#include "server/day/flights.h"
#include "server/day/line.h"
#include "server/day/power_limit.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/trial.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

/// Switching on: whether one may, what was said about it, and what is so anyway.
namespace fieldpeg::day {
namespace {

/// Where nobody says it and the transmitter has no steps [ours: a common one, on the strong side].
constexpr double unknown_power_dbm = 23.01;  // 200 mW

/// Only held, so that a list of those who are in the air is not repeated.
std::vector<v1::Harm> not_among(std::vector<v1::Harm> all, const std::vector<v1::Harm>& listed) {
    std::erase_if(all, [&](const v1::Harm& h) {
        return std::ranges::find(listed, h.pilot(), &v1::Harm::pilot) != listed.end();
    });
    return all;
}

/// Takes a place in the line, whatever was in the way of a yes.
Decided queued(const Given& given, const Holder& held, v1::SwitchReply reply) {
    Decided decided;
    reply.set_transmitter(held.name);
    reply.set_answer(v1::SwitchReply::in_line);
    reply.set_place(static_cast<std::uint32_t>(given.state.line_size()) + 1);
    *reply.mutable_channel() = held.claim->channel();
    reply.set_power_dbm(milli(sent_dbm(*held.gear, *held.claim)));
    *decided.decision.reply.mutable_switched() = std::move(reply);
    decided.decision.events.emplace_back().mutable_queued()->set_subject(held.id);
    return decided;
}

/// One who asks to switch on.
class SwitchingOn {
public:
    SwitchingOn(const Given& given, const v1::SwitchOn& asked, const Holder& held)
        : given_(given),
          asked_(asked),
          held_(held),
          claim_(*held.claim),
          sheet_(with_called(given.state, held.id)) {
        claim_.set_stage(stage());
        reply().set_transmitter(held.name);
        *reply().mutable_channel() = claim_.channel();
        reply().set_power_dbm(milli(sent_dbm(*held.gear, claim_)));
    }

    Decided decide() {
        const auto now = outcome(sheet_);
        Trial held(given_.sheet(), held_.id, v1::Basis::held,
                   flies_with(given_.sheet(), held_.name, claim_.group(), claim_.always()),
                   given_.memory);
        for (const auto& h : now.harms) *reply().add_harms() = h;
        for (const auto& h : now.links_lost) *reply().add_links_lost() = h;
        for (const auto& h : not_among(held.outcome(claim_).harms, now.harms))
            *reply().add_harms_held() = h;
        *reply().mutable_own() = now.own;
        reply().set_look(
            fmt::format("tune to {}: snow or a picture?", channel_text(claim_.channel())));

        const bool is_allowed = !asked_.allowed_because().empty();
        if (!is_allowed)
            if (auto who = called_in_the_way(now)) return wait_for_call(*who);
        if (!now.harms.empty() && !is_allowed) return wait(now);
        if (auto above = above_limit(given_.sheet(), held_, sent_dbm(*held_.gear, claim_));
            above && !is_allowed && claim_.allowed_because().empty())
            return no(v1::SwitchReply::ask_marshal, *std::move(above));
        const bool own_trouble = stage() == v1::Claim::on_air && in_trouble(now.own.verdict());
        if (own_trouble && !asked_.yes_anyway() && !is_allowed) return ask_marshal(now);
        const auto blocked = blocked_in_line(given_.state, held_, given_.memory);
        if (!is_allowed)
            if (auto who = next_before(blocked)) return wait_for_turn(*who);
        return yes(now, blocked);
    }

private:
    v1::SwitchReply& reply() { return *decided_.decision.reply.mutable_switched(); }
    v1::Claim::Stage stage() const { return asked_.bench() ? v1::Claim::bench : v1::Claim::on_air; }

    Trial::Outcome outcome(const v1::DaySheet& sheet) const {
        return Trial(sheet, held_.id, v1::Basis::on_air, {0}, given_.memory).outcome(claim_);
    }

    /// Whoever is called and would lose by it, or takes it.
    const v1::Waiting* called_in_the_way(const Trial::Outcome& now) const {
        for (const auto& one : given_.state.line()) {
            const auto who = holder(sheet_, one.subject());
            if (one.called_ms() == 0 || one.subject() == held_.id || !who) continue;
            if (std::ranges::find(now.harms, who->owner_name, &v1::Harm::pilot) != now.harms.end())
                return &one;
            if (!in_trouble(now.own.verdict())) continue;
            auto without = sheet_;
            claim_of(without, one.subject()).set_stage(v1::Claim::held);
            if (!in_trouble(outcome(without).own.verdict())) return &one;
        }
        return nullptr;
    }

    /// Of those whom it would block, one who was passed over too often.
    std::optional<Holder> next_before(const std::vector<std::uint32_t>& blocked) const {
        for (const auto& one : given_.state.line()) {
            if (one.passed_over() < passed_over_max ||
                std::ranges::find(blocked, one.subject()) == blocked.end())
                continue;
            auto who = holder(given_.sheet(), one.subject());
            if (could_fly(given_.state, *who, given_.now_ms, given_.memory)) return who;
        }
        return std::nullopt;
    }

    Decided no(v1::SwitchReply::Answer answer, v1::Refusal why) {
        reply().set_answer(answer);
        if (asked_.when_free()) return queued(given_, held_, reply());
        *reply().mutable_refusal() = std::move(why);
        return std::move(decided_);
    }

    /// "Ben (14 minutes, may have landed)" of one who is longer in the air than is usual.
    std::string waited_for(const std::string& pilot) const {
        std::string text = pilot;
        for_each_holder(given_.sheet(), [&](const auto& one) {
            const auto other = *holder(given_.sheet(), one.id());
            if (other.owner_name != pilot || other.is_relay || !other.is_in_the_air()) return;
            if (given_.now_ms - other.claim->since_ms() > usual_ms(given_.sheet(), other.owner))
                text = fmt::format("{} ({}, may have landed)", pilot,
                                   minutes_text(given_.now_ms - other.claim->since_ms()));
        });
        return text;
    }

    Decided wait(const Trial::Outcome& now) {
        std::vector<std::string> names;
        for (const auto& h : now.harms) {
            names.push_back(waited_for(h.pilot()));
            reply().add_wait_for(h.pilot());
        }
        const auto& h = now.harms.front();
        return no(
            v1::SwitchReply::wait,
            conflict(held_.name,
                     h.after() == v1::Verdict::control_at_risk
                         ? fmt::format("do not switch on: {}: {}", h.pilot(), left_text(h))
                         : fmt::format("do not switch on: {} would be left with {}", h.pilot(),
                                       left_text(h)),
                     fmt::format("wait for {}, or take another channel", fmt::join(names, ", "))));
    }

    Decided wait_for_call(const v1::Waiting& call) {
        const auto who = holder(given_.sheet(), call.subject());
        reply().add_wait_for(who->owner_name);
        constexpr std::int64_t second_ms = 1000;
        const auto left_s = (call.called_ms() + call_valid_ms - given_.now_ms) / second_ms;
        return no(v1::SwitchReply::wait,
                  conflict(held_.name,
                           fmt::format("do not switch on: {} is called, {} s", who->name, left_s),
                           fmt::format("wait for {}", who->name)));
    }

    Decided wait_for_turn(const Holder& who) {
        reply().add_wait_for(who.owner_name);
        return no(v1::SwitchReply::wait,
                  conflict(held_.name,
                           fmt::format("do not switch on: {} was passed over {} times and is next",
                                       who.name, passed_over_max),
                           fmt::format("wait until {} has flown", who.name)));
    }

    Decided ask_marshal(const Trial::Outcome& now) {
        return no(v1::SwitchReply::ask_marshal,
                  conflict(held_.name, own_text(now.own),
                           "ask the marshal, take another channel, or say --yes"));
    }

    Decided yes(const Trial::Outcome& now, const std::vector<std::uint32_t>& blocked) {
        reply().set_answer(v1::SwitchReply::switch_on);
        reply().set_valid_until_ms(given_.now_ms + yes_valid_ms);
        const auto to = asked_.in_steps() && !asked_.bench() ? v1::Claim::told_on : stage();
        reply().set_stage(to);
        auto set = stage_set(held_.id, to);
        auto cause = cause_of(held_, claim_, true);
        if (is_above_limit(given_.sheet(), claim_.power_dbm()))
            set.set_allowed_because(asked_.allowed_because());
        if (!now.harms.empty()) {
            set.set_allowed_because(asked_.allowed_because());
            cause.allowed = true;
        }
        *decided_.decision.events.emplace_back().mutable_stage_set() = std::move(set);
        for (const auto subject : blocked)
            decided_.decision.events.emplace_back().mutable_passed_over()->set_subject(subject);
        decided_.cause = std::move(cause);
        return std::move(decided_);
    }

    const Given& given_;
    const v1::SwitchOn& asked_;
    const Holder& held_;
    v1::Claim claim_;
    v1::DaySheet sheet_;  ///< with whoever is called
    Decided decided_;
};

/// Somebody walks about where it would fly.
std::optional<v1::Refusal> walked_in(const Given& given, const Holder& held) {
    const auto* own = pilot(given.sheet(), held.owner);
    if (!own || held.is_relay) return std::nullopt;
    for (const auto subject : given.state.walks()) {
        const auto* lost = pilot(given.sheet(), subject);
        if (lost && lost->area() == own->area())
            return conflict(held.name,
                            fmt::format("do not switch on: somebody looks for {} in {}",
                                        lost->name(), own->area()),
                            "wait until they are back on the line");
    }
    return std::nullopt;
}

/// A closed field, somebody who walks out, or another group's turn. Facts are noted as ever.
std::optional<v1::Refusal> not_in_turn(const Given& given, const v1::SwitchOn& asked,
                                       const Holder& held) {
    const auto& state = given.state;
    if (state.has_closed())
        return conflict("field", fmt::format("is closed: {}", state.closed().because()),
                        "do not switch on: wait until the marshal opens it");
    if (auto walks = walked_in(given, held)) return walks;
    const auto called = state.flying_group();
    const bool is_in_turn = called == 0 || !held.claim || !is_of_one_group(*held.claim) ||
                            held.claim->group() == called;
    if (is_in_turn || asked.out_of_turn()) return std::nullopt;
    return conflict(held.name,
                    fmt::format("is of group {}, and group {} flies", held.claim->group(), called),
                    given.is_marshal() ? "wait for your turn, or say --anyway"
                                       : "do not switch on: wait until your group is called");
}

/// It is on, as it was told to be.
Decided confirmed(const Holder& held) {
    Decided decided;
    auto& reply = *decided.decision.reply.mutable_switched();
    reply.set_transmitter(held.name);
    reply.set_answer(v1::SwitchReply::confirmed);
    *reply.mutable_channel() = held.claim->channel();
    reply.set_power_dbm(milli(sent_dbm(*held.gear, *held.claim)));
    const auto stage =
        held.claim->stage() == v1::Claim::told_on ? v1::Claim::on_air : held.claim->stage();
    reply.set_stage(stage);
    auto set = stage_set(held.id, stage);
    set.set_unasked(held.claim->unasked());
    *decided.decision.events.emplace_back().mutable_stage_set() = std::move(set);
    return decided;
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
        claim.set_power_dbm(steps.empty() ? unknown_power_dbm : *std::ranges::max_element(steps));
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
    // Another power on the way, and it is the same flight.
    const bool goes_on = held.claim && held.claim->stage() == stage &&
                         held.claim->channel().mhz() == claim.channel().mhz();
    const bool is_unasked = !goes_on || held.claim->unasked();
    if (is_new) {
        if (!goes_on) {
            claim.set_stage(v1::Claim::held);
            claim.set_since_ms(given.now_ms);
        }
        claim.set_unasked(is_unasked);
        claim.clear_unconfirmed();
        auto& event = *decided.decision.events.emplace_back().mutable_claimed();
        event.set_subject(held.id);
        *event.mutable_claim() = claim;
    } else if (held.claim->stage() == stage && !held.claim->unconfirmed()) {
        return decided;
    }
    auto set = stage_set(held.id, stage);
    set.set_unasked(is_unasked);
    *decided.decision.events.emplace_back().mutable_stage_set() = std::move(set);
    decided.cause = cause_of(held, claim, true);
    return decided;
}

/// Who may say such a thing at all.
std::optional<v1::Refusal> not_theirs(const Given& given, const v1::SwitchOn& asked,
                                      const Holder& held) {
    if (!given.may_act_for(held))
        return not_permitted(
            fmt::format("only {} or the marshal switches {} on", held.owner_name, held.name),
            "report what you saw with 'seen CHANNEL'");
    if (!asked.allowed_because().empty() && !given.is_marshal())
        return not_permitted("only the marshal allows what harms somebody", "ask the marshal");
    if (asked.out_of_turn() && !given.is_marshal())
        return not_permitted("only the marshal lets somebody fly out of turn", "ask the marshal");
    return std::nullopt;
}

/// What there is to say of one who is on, or may be, already; none: they are not.
std::optional<Decided> is_on(const v1::SwitchOn& asked, const Holder& held) {
    if (asked.confirm() && is_to_be_confirmed(*held.claim)) return confirmed(held);
    if (held.claim->stage() == v1::Claim::told_on)
        return done(fmt::format("{} is told to switch on already, on {}: is it on?", held.name,
                                channel_text(held.claim->channel())));
    if (held.claim->stage() == (asked.bench() ? v1::Claim::bench : v1::Claim::on_air))
        return done(fmt::format("{} is {} already, on {}", held.name,
                                stage_name(held.claim->stage()),
                                channel_text(held.claim->channel())));
    if (held.claim->stage() == v1::Claim::down)
        return refused(conflict(held.name, "is down and perhaps still radiating",
                                "when it is known to be silent: off --silent"));
    return std::nullopt;
}

}  // namespace

Decided decide_on(const Given& given, const v1::SwitchOn& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held || !held->gear)
        return refused(not_found(
            "transmitter", fmt::format("'{}' has no transmitter on this day", asked.transmitter()),
            "to report something unknown on the air: 'seen CHANNEL'"));
    if (auto wrong = not_theirs(given, asked, *held)) return refused(*std::move(wrong));
    if (asked.already()) return fact(given, asked, *held);
    if (held->claim && held->radiates())
        if (auto said = is_on(asked, *held)) return *std::move(said);
    const auto place = place_in_line(given.state, held->id);
    if (asked.when_free() && place != 0)
        return refused(message(
            {Refusal::Kind::malformed, held->name,
             fmt::format("has place {} of {} in the line already", place, given.state.line_size()),
             "you are called by name; to leave it: fieldpeg line leave"}));
    auto not_now = not_in_turn(given, asked, *held);
    if (not_now && !(asked.when_free() && held->claim)) return refused(*std::move(not_now));
    if (!held->claim)
        return refused(conflict(held->name, "holds no channel: do not switch on",
                                "claim one first, or ask the marshal"));
    if (not_now) return queued(given, *held, {});
    return SwitchingOn(given, asked, *held).decide();
}

}  // namespace fieldpeg::day
