#include "server/day/line.h"

#include "server/day/apply.h"
#include "server/day/deciding.h"
#include "server/day/trial.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::day {
namespace {

v1::Claim on_air(v1::Claim claim) {
    claim.set_stage(v1::Claim::on_air);
    return claim;
}

Trial::Outcome outcome(const v1::DaySheet& sheet, const Holder& who, Memory* memory) {
    return Trial(sheet, who.id, v1::Basis::on_air, {0}, memory).outcome(on_air(*who.claim));
}

bool is_yes(const v1::DayState& state, const Holder& who, std::int64_t now_ms, Memory* memory) {
    return as_if_asked(state, who, now_ms, memory).switched().answer() ==
           v1::SwitchReply::switch_on;
}

/// Whether somebody on the air keeps somebody else from a yes, or would lose by it.
bool blocks(const v1::DaySheet& sheet, const Holder& by, const Holder& whom, Memory* memory) {
    const auto with = outcome(sheet, whom, memory);
    if (std::ranges::find(with.harms, by.owner_name, &v1::Harm::pilot) != with.harms.end())
        return true;
    if (!in_trouble(with.own.verdict())) return false;
    auto without = sheet;
    claim_of(without, by.id).set_stage(v1::Claim::held);
    return !in_trouble(outcome(without, whom, memory).own.verdict());
}

/// Whoever of the flying group has just landed and is changing a battery.
bool keeps_turn(const v1::DayState& state, const Holder& who, std::int64_t now_ms) {
    return who.claim && state.flying_group() != 0 && who.claim->group() == state.flying_group() &&
           who.claim->stage() == v1::Claim::off_air &&
           now_ms < who.claim->since_ms() + battery_swap_ms;
}

/// Whether a call would take the turn of one who keeps it.
bool takes_a_turn(const v1::DayState& state, const Holder& called, std::int64_t now_ms,
                  Memory* memory) {
    if (called.claim->group() == state.flying_group()) return false;
    bool takes = false;
    for_each_holder(state.sheet(), [&](const auto& one) {
        const auto other = *holder(state.sheet(), one.id());
        if (takes || !keeps_turn(state, other, now_ms)) return;
        auto sheet = state.sheet();
        claim_of(sheet, called.id) = on_air(*called.claim);
        takes = blocks(sheet, called, other, memory);
    });
    return takes;
}

template <class Set>
void happen(v1::DayState& state, std::int64_t now_ms, std::vector<v1::Event>& events, Set set) {
    v1::Event event;
    set(event);
    event.set_version(state.version() + 1);
    event.set_at_ms(now_ms);
    apply(state, event);
    events.push_back(std::move(event));
}

}  // namespace

std::uint32_t place_in_line(const v1::DayState& state, std::uint32_t subject) {
    for (int i = 0; i < state.line_size(); ++i)
        if (state.line(i).subject() == subject) return static_cast<std::uint32_t>(i) + 1;
    return 0;
}

v1::DaySheet with_called(const v1::DayState& state, std::uint32_t but) {
    auto sheet = state.sheet();
    for (const auto& one : state.line()) {
        const auto held = holder(sheet, one.subject());
        if (one.called_ms() != 0 && one.subject() != but && held && held->claim &&
            !held->radiates())
            claim_of(sheet, one.subject()).set_stage(v1::Claim::told_on);
    }
    return sheet;
}

std::vector<std::uint32_t> blocked_in_line(const v1::DayState& state, const Holder& by,
                                           Memory* memory) {
    std::vector<std::uint32_t> blocked;
    if (state.line().empty()) return blocked;
    auto sheet = state.sheet();
    claim_of(sheet, by.id) = on_air(*by.claim);
    for (const auto& one : state.line()) {
        if (one.subject() == by.id) break;
        const auto other = holder(sheet, one.subject());
        if (other && other->claim && blocks(sheet, by, *other, memory))
            blocked.push_back(one.subject());
    }
    return blocked;
}

bool could_fly(const v1::DayState& state, const Holder& who, std::int64_t now_ms, Memory* memory) {
    auto landed = state;
    landed.clear_line();
    for_each_holder(*landed.mutable_sheet(), [&](auto& one) {
        if (one.has_claim() && !one.claim().always() && one.claim().stage() != v1::Claim::down)
            one.mutable_claim()->set_stage(v1::Claim::held);
    });
    return is_yes(landed, *holder(landed.sheet(), who.id), now_ms, memory);
}

v1::Reply as_if_asked(const v1::DayState& state, const Holder& who, std::int64_t now_ms,
                      Memory* memory) {
    v1::SwitchOn asked;
    asked.set_transmitter(who.name);
    return decide_on({state, {who.owner, v1::Role::pilot}, now_ms, memory}, asked).decision.reply;
}

std::vector<v1::Event> calls(const v1::DayState& state, std::int64_t now_ms, Memory* memory) {
    std::vector<v1::Event> events;
    if (state.line().empty()) return events;
    auto so_far = state;
    const auto& line = state.line();
    for (const auto& one : line) {
        const auto held = holder(so_far.sheet(), one.subject());
        if (one.called_ms() != 0 && !(held && held->claim && is_yes(so_far, *held, now_ms, memory)))
            happen(so_far, now_ms, events, [&](v1::Event& e) {
                e.mutable_call_lapsed()->set_subject(one.subject());
                e.mutable_call_lapsed()->set_taken_back(true);
            });
    }
    if (state.has_closed() || now_ms < state.calls_after_ms()) return events;
    for (const auto& one : line) {
        const auto held = holder(so_far.sheet(), one.subject());
        if (one.called_ms() == 0 && held && held->claim && is_yes(so_far, *held, now_ms, memory) &&
            !takes_a_turn(so_far, *held, now_ms, memory))
            happen(so_far, now_ms, events,
                   [&](v1::Event& e) { e.mutable_called_up()->set_subject(one.subject()); });
    }
    return events;
}

Decision lapses(const v1::DayState& state, std::int64_t now_ms, Memory* memory) {
    Decision decision;
    const auto due_ms = next_lapse_ms(state, now_ms);
    if (state.line().empty() && (!due_ms || now_ms < *due_ms)) return decision;
    auto so_far = state;
    auto& events = decision.events;
    for_each_holder(state.sheet(), [&](const auto& one) {
        const auto& claim = one.claim();
        if (claim.stage() == v1::Claim::told_on && now_ms >= claim.since_ms() + yes_valid_ms)
            happen(so_far, now_ms, events, [&](v1::Event& e) {
                e.mutable_stage_set()->set_subject(one.id());
                e.mutable_stage_set()->set_stage(v1::Claim::on_air);
                e.mutable_stage_set()->set_unconfirmed(true);
            });
    });
    for (const auto& one : state.line()) {
        if (one.called_ms() == 0 || now_ms < one.called_ms() + call_valid_ms) continue;
        happen(so_far, now_ms, events,
               [&](v1::Event& e) { e.mutable_call_lapsed()->set_subject(one.subject()); });
        if (one.unanswered() + 1 >= unanswered_max)
            happen(so_far, now_ms, events, [&](v1::Event& e) {
                e.mutable_left_line()->set_subject(one.subject());
                e.mutable_left_line()->set_why(v1::LeftLine::unanswered);
            });
    }
    for (auto& event : calls(so_far, now_ms, memory)) events.push_back(std::move(event));
    stamp(state.version(), Actor{}, now_ms, events);
    return decision;
}

std::optional<std::int64_t> next_lapse_ms(const v1::DayState& state, std::int64_t now_ms) {
    std::optional<std::int64_t> next;
    const auto at = [&](std::int64_t ms) { next = std::min(ms, next.value_or(ms)); };
    for_each_holder(state.sheet(), [&](const auto& one) {
        if (one.claim().stage() == v1::Claim::told_on) at(one.claim().since_ms() + yes_valid_ms);
    });
    if (state.line().empty()) return next;
    for (const auto& one : state.line())
        if (one.called_ms() != 0) at(one.called_ms() + call_valid_ms);
    if (state.calls_after_ms() > now_ms) at(state.calls_after_ms());
    for_each_holder(state.sheet(), [&](const auto& one) {
        const auto& claim = one.claim();
        if (claim.stage() == v1::Claim::off_air && state.flying_group() != 0 &&
            claim.group() == state.flying_group() && claim.since_ms() + battery_swap_ms > now_ms)
            at(claim.since_ms() + battery_swap_ms);
    });
    return next;
}

}  // namespace fieldpeg::day
