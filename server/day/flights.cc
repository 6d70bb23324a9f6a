#include "server/day/flights.h"

#include "server/day/state.h"

#include <algorithm>
#include <set>

namespace fieldpeg::day {
namespace {

std::set<std::uint32_t> groups_but_of(const v1::DaySheet& sheet, std::string_view transmitter) {
    std::set<std::uint32_t> groups;
    for_each_holder(sheet, [&](const auto& one) {
        if (one.name() != transmitter && is_of_one_group(one.claim()))
            groups.insert(one.claim().group());
    });
    return groups;
}

std::vector<std::uint32_t> or_all_at_once(const std::set<std::uint32_t>& groups) {
    if (groups.empty()) return {0};
    return {groups.begin(), groups.end()};
}

}  // namespace

std::vector<std::uint32_t> flight_groups(const v1::DaySheet& sheet) {
    return or_all_at_once(groups_but_of(sheet, ""));
}

std::vector<std::uint32_t> flies_with(const v1::DaySheet& sheet, std::string_view transmitter,
                                      std::uint32_t group, bool always) {
    if (group != 0 && !always) return {group};
    return or_all_at_once(groups_but_of(sheet, transmitter));
}

Flights::Flights(const v1::DaySheet& sheet, v1::Basis::Kind basis, const Asked& asked) {
    std::vector<std::uint32_t> groups{0};
    if (basis == v1::Basis::held && !asked.all_at_once)
        groups = asked.group ? std::vector{*asked.group} : flight_groups(sheet);
    Memory of_the_day;
    for (const auto group : groups)
        flights_.push_back(
            std::make_unique<Flight>(group, of_group(sheet, group), basis, of_the_day));
}

bool Flights::takes_part(const v1::Pilot& pilot, const Flight& flight) {
    return flight.group == 0 || !is_of_one_group(pilot.claim()) ||
           flight.group == pilot.claim().group();
}

bool Flights::has(const v1::Pilot& pilot) const {
    return std::ranges::any_of(flights_, [&](const auto& one) { return takes_part(pilot, *one); });
}

const Flights::Flight& Flights::of(const v1::Pilot& pilot) const {
    const Flight* worst = nullptr;
    for (const auto& flight : flights_)
        if (takes_part(pilot, *flight) && (!worst || flight->plight(pilot) > worst->plight(pilot)))
            worst = flight.get();
    return worst ? *worst : *flights_.front();
}

}  // namespace fieldpeg::day
