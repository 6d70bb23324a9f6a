#include "server/day/differences.h"
#include "server/day/limits.h"
#include "server/day/loose.h"
#include "server/day/refit.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::day {
namespace {

/// A definition of the same name with other numbers, which somebody's gear already refers to.
template <class List>
const std::string* redefined(const List& asked, const List& known) {
    for (const auto& one : asked)
        for (const auto& other : known)
            if (other.name() == one.name() && other.SerializeAsString() != one.SerializeAsString())
                return &one.name();
    return nullptr;
}

const std::string* redefined(const v1::Gear& gear, const v1::DaySheet& sheet) {
    for (const auto* name :
         {redefined(gear.emissions(), sheet.emissions()),
          redefined(gear.receiver_profiles(), sheet.receiver_profiles()),
          redefined(gear.antennas(), sheet.antennas()),
          redefined(gear.control_links(), sheet.control_links()),
          redefined(gear.positioning_receivers(), sheet.positioning_receivers())})
        if (name) return name;
    return nullptr;
}

bool is_empty(const v1::PartsGone& gone) {
    return gone.places().empty() && gone.areas().empty();
}

/// Whether a pilot puts only what is their own.
std::optional<v1::Refusal> not_own(const Given& given, const PutParts& put) {
    if (given.is_marshal()) return std::nullopt;
    if (auto wrong = refused_unread(given.actor, v1::Command::kPut)) return wrong;
    if (put.head) return not_permitted("only the marshal changes the day", "ask the marshal");
    const auto& parts = put.parts;
    if (!is_empty(put.gone) || !parts.places().empty() || !parts.areas().empty() ||
        !parts.emitters().empty() || !parts.kits().empty())
        return not_permitted("only the marshal changes the field", "ask the marshal");
    const auto* self = person(given.state, given.actor.id);
    for (const auto& p : parts.pilots())
        if (!self || p.name() != self->name())
            return not_permitted(fmt::format("{} is not you", p.name()),
                                 "a pilot enters their own gear, the marshal everybody's");
    for (const auto& r : parts.relays()) {
        const auto* known = relay(given.sheet(), r.name());
        if (!self || r.owner() != self->name() || (known && known->owner_id() != given.actor.id))
            return not_permitted(fmt::format("{} is not your relay", r.name()));
    }
    return std::nullopt;
}

template <class Parts>
std::vector<std::uint32_t> ids_of(const Parts& parts) {
    std::vector<std::uint32_t> ids;
    for_each_holder(parts, [&](const auto& one) { ids.push_back(one.id()); });
    return ids;
}

using Names = std::vector<std::string>;

/// What on the air would change under its pilot's hands. Only the marshal may, as a fact.
std::optional<v1::Refusal> changes_what_radiates(const Given& given,
                                                 const std::vector<std::uint32_t>& changed) {
    if (given.is_marshal()) return std::nullopt;
    for (const auto id : changed) {
        const auto held = holder(given.sheet(), id);
        if (held && held->radiates())
            return conflict(held->name, "is on the air or on the bench",
                            "off first; or the marshal enters it as a fact");
    }
    return std::nullopt;
}

/// What is another at the head of the day, old -> new; empty: nothing is.
std::string head_text(const Given& given, const v1::HeadSet& head) {
    std::vector<v1::Event> events(1);
    *events.front().mutable_head_set() = head;
    for (const auto& of : differences(given.sheet(), after(given, events).sheet()))
        if (of.kind() == "day") return difference_text(of);
    return "";
}

/// `given_back` are those whose claims no longer fit.
std::string put_text(const Given& given, const PutParts& put, const Names& given_back) {
    const auto& parts = put.parts;
    std::vector<std::string> names;
    if (put.head) names.push_back(head_text(given, *put.head));
    if (put.head && names.back().empty()) names.back() = "the day as it was";
    for_each_holder(parts, [&](const auto& one) { names.push_back(one.name()); });
    for (const auto& p : parts.places()) names.push_back("place " + p.name());
    for (const auto& a : parts.areas()) names.push_back("area " + a.name());
    for (const auto& e : parts.emitters()) names.push_back("emitter " + e.name());
    for (const auto& k : parts.kits()) names.push_back("kit " + k.name());
    auto text = names.empty() ? std::string() : fmt::format("entered: {}", fmt::join(names, ", "));
    names.clear();
    for (const auto& p : put.gone.places()) names.push_back("place " + p);
    for (const auto& a : put.gone.areas()) names.push_back("area " + a);
    if (!names.empty())
        text += fmt::format("{}no longer on this day: {}", text.empty() ? "" : "; ",
                            fmt::join(names, ", "));
    if (!given_back.empty())
        text += fmt::format("; what {} held no longer fits and must be asked for again",
                            fmt::join(given_back, ", "));
    return text;
}

/// Entered once and changed from then on.
std::optional<v1::Refusal> is_known_already(const v1::DaySheet& sheet, const v1::PartsPut& parts) {
    std::optional<v1::Refusal> known;
    for_each_holder(parts, [&](const auto& one) {
        if (!known && holder(sheet, one.name()))
            known = conflict(one.name(), "is on this day already",
                             "to change one thing: pilot change NAME; to begin anew: remove first");
    });
    return known;
}

/// Everybody whose link the field may have changed.
std::vector<std::uint32_t> touched(const v1::DaySheet& sheet, const v1::PartsPut& parts,
                                   bool by_head) {
    auto ids = ids_of(parts);
    if (!by_head && parts.places().empty() && parts.areas().empty() && parts.emitters().empty())
        return ids;
    for (const auto id : ids_of(sheet))
        if (std::ranges::find(ids, id) == ids.end()) ids.push_back(id);
    return ids;
}

/// What belongs to the field, as its marshal says.
Decided remove_emitter(const Given& given, const v1::Emitter& emitter) {
    if (!given.is_marshal())
        return refused(not_permitted("only the marshal changes the field", "ask the marshal"));
    auto decided = done(fmt::format("{} is no longer on this day", emitter.name()));
    decided.decision.events.emplace_back().mutable_parts_gone()->add_ids(emitter.id());
    return decided;
}

/// All relays of one person but what radiates, at the marshal's word.
Decided remove_relays(const Given& given, const std::string& name) {
    if (!given.is_marshal())
        return refused(not_permitted("only the marshal takes off what somebody else entered",
                                     "tell the marshal"));
    const auto* who = person(given.state, name);
    const auto* flies = pilot(given.sheet(), name);
    if (!who && !flies) return refused(not_found("by", fmt::format("nobody is called '{}'", name)));
    const auto id = flies ? flies->id() : who->id();
    v1::PartsGone gone;
    Names names, stay;
    for (const auto& r : given.sheet().relays()) {
        if (r.owner_id() != id) continue;
        const bool radiates = day::holder(given.sheet(), r.id())->radiates();
        (radiates ? stay : names).push_back(r.name());
        if (!radiates) gone.add_ids(r.id());
    }
    auto text = names.empty() ? fmt::format("no relay of {}'s is taken off", name)
                              : fmt::format("no longer on this day, of {}'s: {}", name,
                                            fmt::join(names, ", "));
    if (!stay.empty())
        text += fmt::format("; on the air, and so still here: {}", fmt::join(stay, ", "));
    auto decided = done(std::move(text));
    if (!names.empty())
        *decided.decision.events.emplace_back().mutable_parts_gone() = std::move(gone);
    return decided;
}

/// Why what was entered may not be, by who enters it and what is there.
std::optional<v1::Refusal> not_allowed(const Given& given, const PutParts& put) {
    if (auto wrong = not_own(given, put)) return wrong;
    if (put.only_new)
        if (auto wrong = is_known_already(given.sheet(), put.parts)) return wrong;
    if (const auto* name = redefined(put.parts.gear(), given.sheet()))
        return conflict("gear", fmt::format("'{}' is in use with other values", *name),
                        "give yours a name of its own");
    return too_many_parts(given, put.parts);
}

/// Nothing of it changes what anybody sends or hears.
bool is_without_parts(const PutParts& put) {
    PutParts rest = put;
    rest.head.reset();
    rest.gone.Clear();
    return !says_anything(rest);
}

std::vector<v1::Event> events_of(const PutParts& put, const v1::PartsPut& parts,
                                 bool changes_head) {
    std::vector<v1::Event> events;
    if (changes_head) *events.emplace_back().mutable_head_set() = *put.head;
    if (!is_without_parts(put)) *events.emplace_back().mutable_parts_put() = parts;
    if (!is_empty(put.gone)) *events.emplace_back().mutable_parts_gone() = put.gone;
    return events;
}

}  // namespace

v1::PartsPut with_ids(const Given& given, v1::PartsPut parts) {
    auto last_id = given.state.last_id();
    for (auto& p : *parts.mutable_pilots()) {
        const auto* known = pilot(given.sheet(), p.name());
        const auto* joined = person(given.state, p.name());
        p.set_id(known ? known->id() : joined ? joined->id() : ++last_id);
        p.clear_claim();
        if (known && known->has_claim()) *p.mutable_claim() = known->claim();
    }
    for (auto& r : *parts.mutable_relays()) {
        const auto* known = relay(given.sheet(), r.name());
        r.set_id(known ? known->id() : ++last_id);
        const auto* owner = pilot(given.sheet(), r.owner());
        for (const auto& p : parts.pilots())
            if (p.name() == r.owner()) owner = &p;
        r.set_owner_id(owner ? owner->id() : 0);
        r.clear_claim();
        if (known && known->has_claim()) *r.mutable_claim() = known->claim();
    }
    for (auto& e : *parts.mutable_emitters()) {
        const auto* known = emitter(given.sheet(), e.name());
        e.set_id(known ? known->id() : ++last_id);
    }
    return parts;
}

bool says_anything(const PutParts& put) {
    const auto& parts = put.parts;
    return put.head || !is_empty(put.gone) || !parts.places().empty() || !parts.areas().empty() ||
           !parts.emitters().empty() || !parts.kits().empty() || !parts.pilots().empty() ||
           !parts.relays().empty();
}

Decided decide_put(const Given& given, const PutParts& put) {
    if (auto wrong = not_allowed(given, put)) return refused(*std::move(wrong));
    const auto parts = with_ids(given, put.parts);
    const auto changed = ids_of(parts);
    if (auto wrong = changes_what_radiates(given, changed)) return refused(*std::move(wrong));
    Decided decided;
    const bool changes_head = put.head && !head_text(given, *put.head).empty();
    decided.decision.events = events_of(put, parts, changes_head);
    auto after = day::after(given, decided.decision.events);
    if (!is_empty(put.gone))
        if (const auto loose = find_loose(after.sheet()))
            return refused(conflict(loose->who, loose->why,
                                    fmt::format("first give it another than '{}'", loose->what)));
    Refit refit(given, std::move(*after.mutable_sheet()), changed,
                touched(given.sheet(), parts, changes_head));
    if (changes_head) refit.give_back_above_limit(decided.decision);
    refit.give_back(decided.decision);
    auto text = put_text(given, put, given_back(given, decided.decision));
    for (const auto& best : best_now(given, decided.decision, changed)) text += "; " + best;
    decided.decision.reply.mutable_done()->set_text(std::move(text));
    if (!changed.empty()) decided.decision.reply.mutable_done()->set_id(changed.front());
    if (is_without_parts(put)) return decided;
    Cause cause;
    if (!changed.empty()) cause.id = changed.front();
    if (const auto held = holder(given.sheet(), cause.id); held && held->claim) {
        cause.is_relay = held->is_relay;
        cause.channel = held->claim->channel();
        cause.power_dbm = held->claim->power_dbm();
    }
    decided.cause = cause;
    return decided;
}

Decided decide_remove(const Given& given, const v1::Remove& asked) {
    if (!asked.by().empty()) return remove_relays(given, asked.by());
    if (const auto* emitter = day::emitter(given.sheet(), asked.name()))
        return remove_emitter(given, *emitter);
    const auto held = holder(given.sheet(), asked.name());
    if (!held)
        return refused(not_found("name", fmt::format("nobody is called '{}'", asked.name())));
    if (!given.may_act_for(*held))
        return refused(not_permitted(
            fmt::format("only {} or the marshal removes {}", held->owner_name, held->name)));
    std::vector<std::uint32_t> ids = {held->id};
    if (!held->is_relay)
        for (const auto& r : given.sheet().relays())
            if (r.owner_id() == held->id) ids.push_back(r.id());
    for (const auto id : ids) {
        const auto part = holder(given.sheet(), id);
        if (part && part->radiates())
            return refused(
                conflict(part->name, "is on the air, on the bench or down", "off first"));
    }
    auto decided = done(fmt::format("{} is no longer on this day", held->name));
    auto& event = *decided.decision.events.emplace_back().mutable_parts_gone();
    for (const auto id : ids) event.add_ids(id);
    return decided;
}

Decided decide_rules(const Given& given, const HoldAgainst& asked) {
    if (!given.is_marshal()) return refused(not_permitted("only the marshal sets the day's rules"));
    auto decided = done(asked.rules ? fmt::format("the day is held against {}", asked.rules->name())
                                    : "the day is held against no rule set");
    auto& event = *decided.decision.events.emplace_back().mutable_rules_set();
    if (asked.rules) *event.mutable_rules() = *asked.rules;
    return decided;
}

}  // namespace fieldpeg::day
