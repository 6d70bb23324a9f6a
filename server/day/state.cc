#include "server/day/state.h"

#include <boost/assert.hpp>

#include <algorithm>

namespace fieldpeg::day {
namespace {

template <class List>
auto by_id(const List& list, std::uint32_t id) -> decltype(&*list.begin()) {
    for (const auto& one : list)
        if (one.id() == id) return &one;
    return nullptr;
}

template <class List>
auto by_name(const List& list, std::string_view name) -> decltype(&*list.begin()) {
    for (const auto& one : list)
        if (one.name() == name) return &one;
    return nullptr;
}

Holder of(const v1::Pilot& p) {
    return {p.id(),
            p.name(),
            p.id(),
            p.name(),
            false,
            p.has_video() ? &p.video() : nullptr,
            p.has_claim() ? &p.claim() : nullptr,
            p.last_group()};
}

Holder of(const v1::Relay& r) {
    return {r.id(),
            r.name(),
            r.owner_id(),
            r.owner(),
            true,
            &r.transmitter(),
            r.has_claim() ? &r.claim() : nullptr,
            r.last_group()};
}

}  // namespace

bool radiates(v1::Claim::Stage stage) {
    return is_switched_on(stage) || stage == v1::Claim::down;
}

bool is_in_the_air(v1::Claim::Stage stage) {
    return stage == v1::Claim::on_air || stage == v1::Claim::told_on;
}

bool is_switched_on(v1::Claim::Stage stage) {
    return is_in_the_air(stage) || stage == v1::Claim::bench;
}

bool is_to_be_confirmed(const v1::Claim& claim) {
    return claim.stage() == v1::Claim::told_on || claim.unconfirmed();
}

std::vector<std::string> who_flies_over(const v1::DaySheet& sheet, const v1::Pilot& pilot) {
    std::vector<std::string> names;
    for (const auto& p : sheet.pilots())
        if (p.id() != pilot.id() && p.area() == pilot.area() && is_in_the_air(p.claim().stage()))
            names.push_back(p.name());
    return names;
}

bool Holder::radiates() const {
    return claim && day::radiates(claim->stage());
}

bool Holder::is_in_the_air() const {
    return claim && day::is_in_the_air(claim->stage());
}

std::optional<Holder> holder(const v1::DaySheet& sheet, std::string_view name) {
    if (const auto* p = by_name(sheet.pilots(), name)) return of(*p);
    if (const auto* r = by_name(sheet.relays(), name)) return of(*r);
    return std::nullopt;
}

std::optional<Holder> holder(const v1::DaySheet& sheet, std::uint32_t id) {
    if (const auto* p = by_id(sheet.pilots(), id)) return of(*p);
    if (const auto* r = by_id(sheet.relays(), id)) return of(*r);
    return std::nullopt;
}

const v1::Pilot* pilot(const v1::DaySheet& sheet, std::uint32_t id) {
    return by_id(sheet.pilots(), id);
}
const v1::Pilot* pilot(const v1::DaySheet& sheet, std::string_view name) {
    return by_name(sheet.pilots(), name);
}
const v1::Relay* relay(const v1::DaySheet& sheet, std::uint32_t id) {
    return by_id(sheet.relays(), id);
}
const v1::Relay* relay(const v1::DaySheet& sheet, std::string_view name) {
    return by_name(sheet.relays(), name);
}
const v1::Emitter* emitter(const v1::DaySheet& sheet, std::string_view name) {
    return by_name(sheet.field().emitters(), name);
}
const v1::Person* person(const v1::DayState& state, std::uint32_t id) {
    return by_id(state.people(), id);
}
const v1::Person* person(const v1::DayState& state, std::string_view name) {
    return by_name(state.people(), name);
}

bool is_waiting(const v1::Person& person) {
    return person.awaits_nod() && !person.withdrawn();
}

v1::Claim& claim_of(v1::DaySheet& sheet, std::uint32_t subject) {
    v1::Claim* claim = nullptr;
    for_each_holder(sheet, [&](auto& one) {
        if (one.id() == subject) claim = one.mutable_claim();
    });
    BOOST_ASSERT_MSG(claim, "a claim for a transmitter that the day does not have");
    return *claim;
}

void drop_claim(v1::DaySheet& sheet, std::uint32_t subject) {
    for_each_holder(sheet, [&](auto& one) {
        if (one.id() == subject) one.clear_claim();
    });
}

std::int64_t usual_ms(const v1::DaySheet& sheet, std::uint32_t pilot) {
    constexpr std::uint32_t minutes = 8;  // [common practice: a battery lasts 4 to 10]
    constexpr std::int64_t minute_ms = 60'000;
    const auto* who = day::pilot(sheet, pilot);
    if (who && who->usual_minutes() != 0) return who->usual_minutes() * minute_ms;
    return (sheet.usual_minutes() != 0 ? sheet.usual_minutes() : minutes) * minute_ms;
}

bool is_of_one_group(const v1::Claim& claim) {
    return claim.group() != 0 && !claim.always() && claim.stage() != v1::Claim::down;
}

v1::DaySheet of_group(const v1::DaySheet& sheet, std::uint32_t group) {
    v1::DaySheet seen = sheet;
    if (group == 0) return seen;
    for_each_holder(seen, [&](auto& one) {
        if (is_of_one_group(one.claim()) && one.claim().group() != group) one.clear_claim();
    });
    return seen;
}

v1::DaySheet with_ids(v1::DaySheet sheet, std::uint32_t& last_id) {
    for (auto& p : *sheet.mutable_pilots()) p.set_id(++last_id);
    for (auto& r : *sheet.mutable_relays()) {
        r.set_id(++last_id);
        if (const auto* owner = pilot(sheet, r.owner())) r.set_owner_id(owner->id());
    }
    for (auto& e : *sheet.mutable_field()->mutable_emitters()) e.set_id(++last_id);
    return sheet;
}

}  // namespace fieldpeg::day
