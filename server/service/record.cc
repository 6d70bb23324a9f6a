#include "server/service/record.h"

#include "server/day/sentences.h"
#include "server/day/state.h"

#include "fieldpeg/v1/numbers.h"

namespace fieldpeg::service {
namespace {

/// Where on the dial an event is, and how strong.
void add_columns(const v1::Event& event, const v1::DayState& before, log::Entry& entry) {
    const auto set = [&](const v1::Channel& channel, double power_dbm) {
        entry.frequency_mhz = channel.mhz();
        entry.power_dbm = power_dbm;
    };
    switch (event.what_case()) {
        case v1::Event::kClaimed:
            return set(event.claimed().claim().channel(), event.claimed().claim().power_dbm());
        case v1::Event::kSeen:
            return set(event.seen().sighting().channel(), event.seen().sighting().power_dbm());
        case v1::Event::kSightingGone:
            for (const auto& s : before.sheet().sightings())
                if (s.id() == event.sighting_gone().id()) set(s.channel(), s.power_dbm());
            return;
        case v1::Event::kWarning:
            if (event.warning().channel().mhz() > 0)
                set(event.warning().channel(), event.warning().power_dbm());
            return;
        case v1::Event::kStageSet:
        case v1::Event::kReleased: {
            const auto held = day::holder(before.sheet(), day::subject(event));
            if (held && held->claim) set(held->claim->channel(), held->claim->power_dbm());
            return;
        }
        default:
            return;
    }
}

void add(const v1::DaySheet& sheet, log::Names& names) {
    day::for_each_holder(sheet, [&](const auto& one) { names[one.id()] = one.name(); });
}

}  // namespace

log::Entry entry(const v1::Event& event, const v1::DayState& before, const log::Names& names) {
    log::Entry e;
    e.version = event.version();
    e.at_ms = event.at_ms();
    e.actor = event.actor();
    e.subject = day::subject(event);
    e.kind = day::kind_name(event);
    add_columns(event, before, e);
    v1::Event stored = event;
    log::take_names(stored, names);
    e.record = stored.SerializeAsString();
    return e;
}

std::optional<v1::Event> event(const log::Entry& entry, const log::Names& names) {
    v1::Event e;
    if (!e.ParseFromString(entry.record) || !v1::are_numbers_plain(e)) return std::nullopt;
    log::put_names(e, names);
    return e;
}

log::Names new_names(const v1::Event& event) {
    log::Names names;
    if (event.has_day_set_up()) add(event.day_set_up().sheet(), names);
    for (const auto& p : event.parts_put().pilots()) names[p.id()] = p.name();
    for (const auto& r : event.parts_put().relays()) names[r.id()] = r.name();
    if (event.has_joined()) names[event.joined().person().id()] = event.joined().person().name();
    return names;
}

}  // namespace fieldpeg::service
