#include "server/day/deciding.h"

#include "server/day/limits.h"
#include "server/day/state.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

/// Who joins as whom, and what the marshal says to it.
namespace fieldpeg::day {
namespace {

/// Who waits under a name; null: nobody.
const v1::Person* waiting(const v1::DayState& state, std::string_view name) {
    for (const auto& p : state.people())
        if (p.name() == name && is_waiting(p)) return &p;
    return nullptr;
}

Decided nod_refused(const v1::Person& who) {
    auto decided = done(fmt::format("{} is not let in; the key is dropped", who.name()));
    decided.decision.events.emplace_back().mutable_nod_refused()->set_person(who.id());
    return decided;
}

/// Why nobody may join so, whoever they are; none: they may.
std::optional<Refusal> not_let_in(const v1::DayState& state, const Joining& who,
                                  const v1::Person* known) {
    const auto refusal = [](std::string why, std::string next) {
        return Refusal{Refusal::Kind::conflict, "name", std::move(why), std::move(next)};
    };
    const bool is_active = known && !known->withdrawn();
    const bool is_listed = pilot(state.sheet(), who.name) != nullptr;
    if ((is_active && known->role() != who.role) || (is_listed && who.role != v1::Role::pilot) ||
        relay(state.sheet(), who.name))
        return refusal(fmt::format("'{}' is somebody else here", who.name),
                       "join under another name");
    if (waiting(state, who.name) && !who.own_ticket)
        return refusal(fmt::format("somebody waits to join as '{}' already", who.name),
                       "the marshal decides who it is: fieldpeg pilot nod NAME, or nod NAME "
                       "--refuse");
    const auto here = std::ranges::count(state.people(), false, &v1::Person::withdrawn);
    if (!known && !is_listed && who.role != v1::Role::marshal && here >= people_max)
        return Refusal{Refusal::Kind::unavailable, "",
                       fmt::format("{} people have joined: the day is full", here),
                       "the marshal makes a new ticket (fieldpeg ticket pilot), and lists who is "
                       "here (fieldpeg pilot add): they still get in"};
    const auto wait = std::ranges::count_if(state.people(), is_waiting);
    if (!who.has_ticket && wait >= waiting_max)
        return Refusal{Refusal::Kind::unavailable, "",
                       fmt::format("{} wait for the marshal's nod already", wait),
                       "ask the marshal for a ticket, or try again later"};
    return std::nullopt;
}

}  // namespace

Decided decide_nod(const Given& given, const v1::Nod& asked) {
    if (!given.is_marshal()) return refused(not_permitted("only the marshal nods"));
    if (!person(given.state, asked.name()))
        return refused(
            not_found("name", fmt::format("nobody called '{}' has joined", asked.name())));
    const auto* who = waiting(given.state, asked.name());
    if (!who) return done(fmt::format("{} is not waiting for a nod", asked.name()));
    if (asked.refuse()) return nod_refused(*who);
    const bool is_listed = pilot(given.sheet(), who->name()) != nullptr;
    auto decided = done(is_listed ? fmt::format("{} may act as that pilot", who->name())
                                  : fmt::format("{} may take part", who->name()));
    decided.decision.events.emplace_back().mutable_nodded()->set_person(who->id());
    return decided;
}

Decided decide_withdraw(const Given& given, const v1::WithdrawKey& asked) {
    if (!given.is_marshal()) return refused(not_permitted("only the marshal withdraws keys"));
    const auto* who = person(given.state, asked.name());
    if (!who)
        return refused(
            not_found("name", fmt::format("nobody called '{}' has joined", asked.name())));
    if (who->id() == given.actor.id)
        return refused(conflict("name", "that is your own key", "another marshal can do it"));
    auto decided =
        done(fmt::format("{} can no longer act; a new ticket lets them join again", who->name()));
    decided.decision.events.emplace_back().mutable_key_withdrawn()->set_person(who->id());
    return decided;
}

Result<Decision> join(const v1::DayState& state, const Joining& who, std::int64_t now_ms) {
    const auto* listed = pilot(state.sheet(), who.name);
    const auto* known = person(state, who.name);
    if (auto why = not_let_in(state, who, known)) return *std::move(why);
    const bool is_here = known && !known->withdrawn() && !known->awaits_nod();
    v1::Person p;
    p.set_name(who.name);
    p.set_role(who.role);
    p.set_id(listed ? listed->id() : known ? known->id() : state.last_id() + 1);
    p.set_awaits_nod(!who.own_ticket &&
                     (listed || is_here || !who.has_ticket || who.looks_like_another));
    p.set_without_ticket(!who.has_ticket);
    p.set_joined_before(known && (known->joined_before() || !known->awaits_nod()));
    if (is_here && p.awaits_nod()) {
        p.set_claims(known->id());
        p.set_id(state.last_id() + 1);
    }
    Decision decision;
    *decision.events.emplace_back().mutable_joined()->mutable_person() = p;
    decision.reply.set_version(
        stamp(state.version(), Actor{p.id(), p.role()}, now_ms, decision.events));
    decision.reply.mutable_done()->set_id(p.id());
    return decision;
}

Decision all_withdrawn(const v1::DayState& state, std::int64_t now_ms) {
    Decision decision;
    for (const auto& p : state.people())
        if (!p.withdrawn())
            decision.events.emplace_back().mutable_key_withdrawn()->set_person(p.id());
    decision.reply.set_version(stamp(state.version(), Actor{}, now_ms, decision.events));
    return decision;
}

}  // namespace fieldpeg::day
