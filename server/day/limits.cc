#include "server/day/limits.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::day {
namespace {

/// Whether more would be known of a kind of gear than pilots may bring.
template <class List>
bool is_full(const List& asked, const List& known) {
    const auto more = std::ranges::count_if(asked, [&](const auto& one) {
        return std::ranges::none_of(known,
                                    [&](const auto& other) { return other.name() == one.name(); });
    });
    return more > 0 && known.size() + more > gear_of_pilots_max;
}

/// Which kind that is; null: none.
const char* full_of(const v1::Gear& gear, const v1::DaySheet& sheet) {
    if (is_full(gear.emissions(), sheet.emissions())) return "emissions";
    if (is_full(gear.receiver_profiles(), sheet.receiver_profiles())) return "receivers";
    if (is_full(gear.antennas(), sheet.antennas())) return "antennas";
    if (is_full(gear.control_links(), sheet.control_links())) return "control links";
    if (is_full(gear.positioning_receivers(), sheet.positioning_receivers()))
        return "positioning receivers";
    return nullptr;
}

}  // namespace

std::optional<v1::Refusal> too_many_sightings(const Given& given) {
    const auto& all = given.sheet().sightings();
    if (given.is_marshal()) {
        if (all.size() < sightings_max) return std::nullopt;
        return conflict("seen", fmt::format("{} sightings stand: the day is full", all.size()),
                        "take back what is gone: seen --gone NUMBER, or seen --gone --by NAME");
    }
    const auto own =
        std::ranges::count(all, given.actor.id, [](const auto& s) { return s.reported_by(); });
    if (own >= sightings_of_one_max)
        return conflict("seen", fmt::format("{} sightings of yours stand, and no more may", own),
                        "take back what is gone: seen --gone NUMBER; else tell the marshal");
    if (all.size() < sightings_of_pilots_max) return std::nullopt;
    return conflict("seen", fmt::format("{} sightings stand: the day is full", all.size()),
                    "tell the marshal, who can still enter it, and take others back");
}

std::optional<v1::Refusal> too_many_parts(const Given& given, const v1::PartsPut& parts) {
    if (given.is_marshal()) return std::nullopt;
    const auto& known = given.sheet().relays();
    const auto own =
        std::ranges::count(known, given.actor.id, [](const auto& r) { return r.owner_id(); });
    const auto more = std::ranges::count_if(
        parts.relays(), [&](const auto& r) { return !relay(given.sheet(), r.name()); });
    if (more > 0 && own + more > relays_of_one_max)
        return conflict("relay",
                        fmt::format("{} would have {} relays; one person enters at most {}",
                                    parts.relays(0).owner(), own + more, relays_of_one_max),
                        "take one off that is not used: relay remove NAME; or the marshal enters "
                        "it");
    if (const auto* kind = full_of(parts.gear(), given.sheet()))
        return conflict("gear",
                        fmt::format("the day knows {} {} already", gear_of_pilots_max, kind),
                        "use one that it knows ('fieldpeg gear'), or the marshal enters it");
    return std::nullopt;
}

}  // namespace fieldpeg::day
