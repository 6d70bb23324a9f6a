#include "server/service/record.h"

#include "server/book/names.h"
#include "server/day/apply.h"
#include "server/day/sentences.h"
#include "server/day/state.h"

#include "fieldpeg/v1/numbers.h"

#include <fmt/format.h>

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

std::string text_of(const std::optional<double>& number) {
    return number ? fmt::format("{}", *number) : "nothing";
}

/// The first column that is another than it should be.
std::string difference(const log::Entry& stored, const log::Entry& right) {
    const auto said = [](const char* column, const auto& is, const auto& should_be) {
        return fmt::format("{} stands beside the record as {}, the record says {}", column, is,
                           should_be);
    };
    if (stored.kind != right.kind)
        return said("kind", '\'' + book::printable(stored.kind) + '\'', '\'' + right.kind + '\'');
    if (stored.frequency_mhz != right.frequency_mhz)
        return said("frequency_mhz", text_of(stored.frequency_mhz), text_of(right.frequency_mhz));
    if (stored.power_dbm != right.power_dbm)
        return said("power_dbm", text_of(stored.power_dbm), text_of(right.power_dbm));
    if (stored.actor != right.actor) return said("actor", stored.actor, right.actor);
    if (stored.subject != right.subject) return said("subject", stored.subject, right.subject);
    if (stored.at_ms != right.at_ms) return said("at_ms", stored.at_ms, right.at_ms);
    if (stored.version != right.version) return said("version", stored.version, right.version);
    return "";
}

}  // namespace

log::Entry columns(const v1::Event& event, const v1::DayState& before) {
    log::Entry e;
    e.version = event.version();
    e.at_ms = event.at_ms();
    e.actor = event.actor();
    e.subject = day::subject(event);
    e.kind = day::kind_name(event);
    add_columns(event, before, e);
    return e;
}

void Beside::take(const log::Entry& stored, const log::Entry& right) {
    auto of_this = difference(stored, right);
    if (of_this.empty()) return;
    if (first_.empty()) first_ = fmt::format("entry {}: {}", stored.version, of_this);
    ++entries_;
}

std::string Beside::text() const {
    if (entries_ < 2) return first_;
    return fmt::format("{}; likewise of {} more", first_, entries_ - 1);
}

log::Entry entry(const v1::Event& event, const v1::DayState& before, const log::Names& names) {
    auto e = columns(event, before);
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

Result<void> each_event(const log::DayLog& log, const log::Names& names, std::uint64_t up_to,
                        const Take& take) {
    std::uint64_t last = 0;
    bool is_event = true;
    auto read = log.each(0, up_to, [&](const log::Entry& e) {
        last = e.version;
        const auto event = service::event(e, names);
        is_event = event.has_value();
        return event && take(e, *event);
    });
    if (is_event) return read;
    return Refusal{Refusal::Kind::unavailable, log.path(),
                   fmt::format("entry {}: is no event that this program knows", last),
                   "use the program that wrote it"};
}

Result<void> fold_events(const log::DayLog& log, const log::Names& names, v1::DayState& state,
                         const Take& before) {
    bool fits = true;
    auto read =
        each_event(log, names, UINT64_MAX, [&](const log::Entry& e, const v1::Event& event) {
            fits = day::fits(state, event);
            if (!fits || !before(e, event)) return false;
            day::apply(state, event);
            return true;
        });
    if (fits) return read;
    return Refusal{Refusal::Kind::unavailable, log.path(),
                   fmt::format("entry {}: does not fit what came before it", state.version() + 1),
                   "keep the file as it is; another program wrote it, or changed it"};
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
