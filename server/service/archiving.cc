#include "server/service/archiving.h"

#include "server/book/names.h"
#include "server/day/airtime.h"
#include "server/day/apply.h"
#include "server/day/board.h"
#include "server/day/course.h"
#include "server/day/words.h"
#include "server/service/inspection.h"
#include "server/service/record.h"

#include <map>

namespace fieldpeg::service {
namespace {

/// Whether somebody sends in it, or may.
bool is_on_air(const std::string& kind) {
    return kind == "on_air" || kind == "told_on" || kind == "bench" || kind == "down" ||
           kind == "sighting";
}

/// What the course of a day is folded from.
v1::LogEntry course_entry(const log::Entry& e, const log::Names& names) {
    v1::LogEntry m;
    m.set_version(e.version);
    m.set_at_ms(e.at_ms);
    m.set_kind(e.kind);
    const auto name = names.find(e.subject);
    m.set_subject(name == names.end() ? std::to_string(e.subject) : name->second);
    if (e.frequency_mhz) m.set_frequency_mhz(*e.frequency_mhz);
    if (e.power_dbm) m.set_power_dbm(*e.power_dbm);
    return m;
}

/// Of a day that has ended: what had no end in its log ends with it.
Result<log::AboutDay> about(const log::DayLog& log) {
    const auto names = log.names();
    if (!names) return names.error();
    v1::DayState state;
    v1::BoardReply first;
    v1::LogReply course;
    day::Airtime airtime;
    const auto read =
        each_event(log, *names, UINT64_MAX, [&](const log::Entry& e, const v1::Event& event) {
            day::apply(state, event);
            airtime.take(state);
            if (e.version == 1) first = day::board(state);
            *course.add_entries() = course_entry(e, *names);
            return true;
        });
    if (!read) return read.error();
    std::map<std::string, std::uint32_t> ids;
    for (const auto& [id, name] : *names) ids[book::name_key(name)] = id;
    log::AboutDay all{state.sheet().name(), state.sheet().field().name(), {}, {}};
    for (const auto& f : airtime.flights(state.at_ms()))
        all.flights.push_back({ids[book::name_key(f.relay().empty() ? f.pilot() : f.relay())],
                               day::channel_text(f.channel()), f.power_dbm(), f.from_ms(),
                               f.minutes()});
    for (const auto& s : day::stretches(first, course, state.at_ms()))
        if (is_on_air(s.kind()))
            all.air.push_back({ids[book::name_key(s.transmitter())], s.kind(), s.mhz(),
                               s.power_dbm(), s.from_ms(), s.to_ms()});
    return all;
}

}  // namespace

Result<log::Archive::Pushed> push(const std::string& log, log::Archive& archive) {
    const auto holds = verified(log);
    if (!holds) return holds.error();
    if (!holds->verified())
        return Refusal{Refusal::Kind::unavailable, "", holds->fault(),
                       "nothing was pushed. What stands before it: fieldpeg log salvage FILE --to "
                       "NEW.daylog"};
    const auto opened = log::DayLog::open(log, log::DayLog::Access::read);
    if (!opened) return opened.error();
    const auto of_day = about(**opened);
    if (!of_day) return of_day.error();
    return archive.push(**opened, *of_day);
}

Result<log::ArchivedDay> close(const std::string& day, log::Archive& archive) {
    const auto found = archive.day(day);
    if (!found) return found.error();
    const auto log = archive.log_of(*found);
    if (!log) return log.error();
    const auto of_day = about(**log);
    if (!of_day) return of_day.error();
    return archive.close(*found, *of_day);
}

}  // namespace fieldpeg::service
