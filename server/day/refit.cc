#include "server/day/refit.h"

#include "server/day/comparison.h"
#include "server/day/flights.h"
#include "server/day/power_limit.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

namespace fieldpeg::day {
namespace {

using Names = std::vector<std::string>;

/// Who but `changed` is harmed by going from one sheet to another.
Names harmed(const v1::DaySheet& before, const v1::DaySheet& after,
             const std::vector<std::uint32_t>& changed) {
    Names names;
    for (const auto group : flight_groups(after)) {
        const auto as_it_flies = of_group(after, group);
        const Assessment is(as_it_flies, v1::Basis::held);
        const Comparison comparison(standings(of_group(before, group), v1::Basis::held), is);
        for (const auto& of : comparison.pilots())
            if (std::ranges::find(changed, of.pilot->id()) == changed.end() &&
                of.change.at_the_range_after().is_harm() &&
                std::ranges::find(names, of.pilot->name()) == names.end())
                names.push_back(of.pilot->name());
    }
    return names;
}

/// "best for Ann now: R3 at 25 mW in group 1", once some events have happened.
std::string best_for(const v1::DayState& after, const Holder& held, std::int64_t now_ms) {
    v1::ClaimChannel asked;
    asked.set_transmitter(held.name);
    asked.set_only_try(true);
    const auto best = decide_claim({after, {0, v1::Role::marshal}, now_ms}, asked);
    const auto& claim = best.decision.reply.claim();
    if (!best.decision.reply.has_claim() || claim.has_refusal())
        return fmt::format("nothing that {} can be set to fits now: ask the marshal", held.name);
    return fmt::format("best for {} now: {} at {}{}", held.name, channel_text(claim.channel()),
                       power_text(claim.power_dbm()),
                       claim.group() == 0 ? "" : fmt::format(" in group {}", claim.group()));
}

}  // namespace

void Refit::give_back_above_limit(Decision& decision) {
    for (const auto id : touched_) {
        const auto held = holder(after_, id);
        if (!held || !held->claim || held->radiates() || !held->claim->allowed_because().empty())
            continue;
        if (is_above_limit(after_, held->claim->power_dbm()))
            give_back(id,
                      fmt::format("{} is above the club's limit of {}",
                                  power_text(held->claim->power_dbm()),
                                  power_text(after_.power_limit_dbm())),
                      decision);
    }
}

void Refit::give_back(Decision& decision) {
    for (const auto id : changed_) {
        const auto held = holder(after_, id);
        if (!held || !held->claim || held->radiates()) continue;
        if (!held->gear)
            give_back(id, "it has no transmitter any more", decision);
        else if (const auto why = unfit(*held, held->claim->channel(), held->claim->power_dbm()))
            give_back(id, why->why, decision);
    }
    // Who came last gives way first.
    std::ranges::stable_sort(touched_, std::greater(), [&](std::uint32_t id) {
        const auto held = holder(after_, id);
        return held && held->claim ? held->claim->since_ms() : 0;
    });
    for (const auto id : touched_) {
        const auto names = harmed(given_.sheet(), after_, changed_);
        if (names.empty()) return;
        const auto held = holder(after_, id);
        if (!held || !held->claim || held->radiates() || !helps(id, names.front())) continue;
        give_back(id, fmt::format("after the change it would harm {}", names.front()), decision);
    }
}

/// Whether somebody is no longer harmed if a claim is given back.
bool Refit::helps(std::uint32_t id, const std::string& name) const {
    auto without = after_;
    drop_claim(without, id);
    const auto names = harmed(given_.sheet(), without, changed_);
    return std::ranges::find(names, name) == names.end();
}

void Refit::give_back(std::uint32_t id, const std::string& why, Decision& decision) {
    drop_claim(after_, id);
    auto& event = *decision.events.emplace_back().mutable_released();
    event.set_subject(id);
    event.set_reason(fmt::format("must be asked for again: {}", why));
    event.set_keeps_group(true);
}

std::vector<std::string> given_back(const Given& given, const Decision& decision) {
    Names names;
    for (const auto& event : decision.events)
        if (event.has_released())
            if (const auto held = holder(given.sheet(), event.released().subject()))
                names.push_back(held->name);
    return names;
}

std::vector<std::string> best_now(const Given& given, const Decision& decision,
                                  const std::vector<std::uint32_t>& ids) {
    Names all;
    if (std::ranges::none_of(decision.events, &v1::Event::has_released)) return all;
    const auto after = day::after(given, decision.events);
    for (const auto& event : decision.events) {
        const auto id = event.released().subject();
        if (!event.has_released() || std::ranges::find(ids, id) == ids.end()) continue;
        const auto held = holder(after.sheet(), id);
        if (held && held->gear) all.push_back(best_for(after, *held, given.now_ms));
    }
    return all;
}

}  // namespace fieldpeg::day
