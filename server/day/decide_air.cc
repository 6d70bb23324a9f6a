#include "server/day/deciding.h"

#include "server/day/limits.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::day {
namespace {

/// What an unknown transmitter is taken to be where nobody says otherwise [ours: a common one, on
/// the strong side].
constexpr double sighting_power_dbm = 23.01;  // 200 mW
constexpr std::string_view sighting_antenna = "circular-omni";

/// Whose aircraft it carries the picture of, in the air or down somewhere; empty: nobody's.
std::string carried(const v1::DaySheet& sheet, const Holder& held) {
    const auto* r = relay(sheet, held.id);
    const auto* owner = r ? pilot(sheet, r->owner_id()) : nullptr;
    if (!owner || !owner->has_claim()) return "";
    if (is_in_the_air(owner->claim().stage()))
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

Decided switch_off(const Holder& held, v1::Claim::Stage to, const v1::SwitchOff& asked) {
    Decided decided;
    auto& reply = *decided.decision.reply.mutable_switched();
    reply.set_transmitter(held.name);
    reply.set_answer(to == v1::Claim::held ? v1::SwitchReply::taken_back
                                           : v1::SwitchReply::switched_off);
    reply.set_stage(to);
    *reply.mutable_channel() = held.claim->channel();
    reply.set_power_dbm(milli(held.claim->power_dbm()));
    const auto& lies = asked.near().empty() ? held.claim->lies() : asked.near();
    if (held.claim->stage() == to && held.claim->lies() == lies) return decided;
    auto set = stage_set(held.id, to);
    if (to == v1::Claim::down) set.set_lies(lies);
    set.set_undoable(asked.undoable());
    *decided.decision.events.emplace_back().mutable_stage_set() = std::move(set);
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

/// All that one person entered, at the marshal's word.
Decided unsee_all(const Given& given, const std::string& name) {
    if (!given.is_marshal())
        return refused(not_permitted("only the marshal takes back what somebody else entered",
                                     "tell the marshal"));
    const auto* who = person(given.state, name);
    if (!who) return refused(not_found("by", fmt::format("nobody called '{}' has joined", name)));
    std::vector<std::string> gone;
    Decided decided;
    for (const auto& s : given.sheet().sightings()) {
        if (s.reported_by() != who->id()) continue;
        gone.push_back(fmt::format("{} on {}", sighting_name(s.id()), channel_text(s.channel())));
        decided.decision.events.emplace_back().mutable_sighting_gone()->set_id(s.id());
    }
    decided.decision.reply.mutable_done()->set_text(
        gone.empty()
            ? fmt::format("no sighting of {}'s stands", who->name())
            : fmt::format("taken back of what {} entered: {}", who->name(), fmt::join(gone, ", ")));
    return decided;
}

}  // namespace

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
    if (!asked.near().empty() && !asked.down())
        return refused(message({Refusal::Kind::malformed, "near", "goes with --down",
                                "where it lies, as far as anybody saw"}));
    if (asked.down()) return switch_off(*held, v1::Claim::down, asked);
    if (asked.not_after_all()) {
        if (!is_to_be_confirmed(*held->claim))
            return refused(conflict(held->name, "was confirmed to be on, or was not told to be",
                                    "if it is off: off"));
        return switch_off(*held, v1::Claim::held, asked);
    }
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
    return switch_off(*held, v1::Claim::off_air, asked);
}

Decided decide_see(const Given& given, const NoteSighting& seen) {
    if (given.actor.role == v1::Role::onlooker || given.actor.role == v1::Role::unknown)
        return refused(not_permitted("onlookers enter nothing", "tell the marshal"));
    const auto& field = given.sheet().field();
    if (field.areas().empty() && field.places().empty())
        return refused(
            conflict("field", "has no place where it could be", "enter a place first: field put"));
    if (auto wrong = too_many_sightings(given)) return refused(std::move(*wrong));
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
    if (!asked.by().empty()) return unsee_all(given, asked.by());
    for (const auto& s : given.sheet().sightings()) {
        if (s.id() != asked.sighting()) continue;
        const bool is_own = s.reported_by() != 0 && s.reported_by() == given.actor.id;
        if (!given.is_marshal() && !is_own)
            return refused(
                not_permitted("a sighting is taken back by whoever entered it, or by "
                              "the marshal",
                              "tell the marshal"));
        auto decided =
            done(fmt::format("{} on {} is gone", sighting_name(s.id()), channel_text(s.channel())));
        decided.decision.events.emplace_back().mutable_sighting_gone()->set_id(s.id());
        return decided;
    }
    return refused(not_found("sighting", fmt::format("there is no sighting {}", asked.sighting()),
                             "'board' lists them"));
}

}  // namespace fieldpeg::day
