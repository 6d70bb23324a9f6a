#include "client/link/archive.h"

#include "client/link/link.h"
#include "server/book/names.h"
#include "server/log/archive.h"
#include "server/log/hash.h"
#include "server/service/archiving.h"

namespace fieldpeg::link {
namespace {

using log::Archive;
using log::DayLog;

constexpr auto visible = book::visible;

v1::ArchivedDay message(const log::ArchivedDay& day) {
    v1::ArchivedDay m;
    m.set_id(log::hex(day.id));
    m.set_title(visible(day.title));
    m.set_field(visible(day.field));
    m.set_begun_ms(day.begun_ms);
    m.set_entries(day.entries);
    m.set_head_hash(log::hex(day.head));
    m.set_is_held(day.is_held);
    m.set_flights(static_cast<std::uint32_t>(day.flights));
    m.set_minutes(day.minutes);
    return m;
}

Archive::Span span(const ArchiveSpan& when) {
    return {when.from_ms, when.to_ms};
}

std::uint32_t small(std::int64_t number) {
    return static_cast<std::uint32_t>(number);
}

/// What is asked of an archive that can be opened.
template <class Reply, class Ask>
Result<Reply> asked(const std::string& archive, DayLog::Access access, Ask ask) {
    auto opened = Archive::open(archive, access);
    if (!opened) return opened.error();
    return ask(**opened);
}

v1::ArchiveForgotten message(const Archive::Forgotten& gone) {
    v1::ArchiveForgotten m;
    m.set_names(small(gone.names));
    m.set_days(small(gone.days));
    return m;
}

}  // namespace

Result<v1::ArchivePushed> push(const std::string& log, const std::string& archive) {
    using Reply = v1::ArchivePushed;
    return asked<Reply>(archive, DayLog::Access::write, [&](Archive& at) -> Result<Reply> {
        const auto pushed = service::push(log, at);
        if (!pushed) return pushed.error();
        Reply reply;
        *reply.mutable_day() = message(pushed->day);
        reply.set_were_there(pushed->were_there);
        reply.set_has_more(pushed->has_more);
        return reply;
    });
}

Result<v1::ArchivedDay> pull(const std::string& day, const std::string& archive,
                             const std::string& to) {
    using Reply = v1::ArchivedDay;
    return asked<Reply>(archive, DayLog::Access::read, [&](Archive& at) -> Result<Reply> {
        const auto pulled = at.pull(day, to);
        if (!pulled) return pulled.error();
        return message(*pulled);
    });
}

Result<v1::ArchivedDay> archive_close(const std::string& archive, const std::string& day) {
    using Reply = v1::ArchivedDay;
    return asked<Reply>(archive, DayLog::Access::write, [&](Archive& at) -> Result<Reply> {
        const auto closed = service::close(day, at);
        if (!closed) return closed.error();
        return message(*closed);
    });
}

Result<v1::ArchiveDays> archive_days(const std::string& archive, ArchiveSpan begun) {
    using Reply = v1::ArchiveDays;
    return asked<Reply>(archive, DayLog::Access::read, [&](Archive& at) -> Result<Reply> {
        const auto days = at.days(span(begun));
        if (!days) return days.error();
        Reply reply;
        for (const auto& day : *days) *reply.add_days() = message(day);
        return reply;
    });
}

Result<v1::ArchiveNearReply> archive_near(const std::string& archive, double mhz, double within_mhz,
                                          ArchiveSpan when, std::uint32_t at_most) {
    using Reply = v1::ArchiveNearReply;
    return asked<Reply>(archive, DayLog::Access::read, [&](Archive& at) -> Result<Reply> {
        const auto who = at.who_was_near(mhz, within_mhz, span(when));
        if (!who) return who.error();
        const auto last = at.last_near(mhz, within_mhz, span(when), std::int64_t{at_most} + 1);
        if (!last) return last.error();
        Reply reply;
        reply.set_from_ms(when.from_ms);
        reply.set_to_ms(when.to_ms);
        for (const auto& one : *who) {
            auto& m = *reply.add_who();
            m.set_who(visible(one.who));
            m.set_times(small(one.times));
            m.set_last_ms(one.last_ms);
        }
        for (const auto& one : *last) {
            if (reply.last_size() == static_cast<int>(at_most)) {
                reply.set_has_more(true);
                break;
            }
            auto& m = *reply.add_last();
            m.set_from_ms(one.from_ms);
            m.set_to_ms(one.to_ms);
            m.set_who(visible(one.who));
            m.set_frequency_mhz(one.frequency_mhz);
            m.set_kind(one.kind);
            m.set_power_dbm(one.power_dbm);
            m.set_day_id(one.day_id);
            m.set_title(visible(one.title));
        }
        return reply;
    });
}

Result<v1::ArchiveFlights> archive_flights(const std::string& archive, const std::string& who,
                                           ArchiveSpan when) {
    using Reply = v1::ArchiveFlights;
    return asked<Reply>(archive, DayLog::Access::read, [&](Archive& at) -> Result<Reply> {
        const auto totals = at.flown_by(who, span(when));
        if (!totals) return totals.error();
        Reply reply;
        for (const auto& one : *totals) {
            auto& m = *reply.add_totals();
            m.set_who(visible(one.who));
            m.set_days(small(one.days));
            m.set_flights(small(one.flights));
            m.set_minutes(one.minutes);
            m.set_last_ms(one.last_ms);
        }
        if (who.empty()) return reply;
        const auto flights = at.flights_of(who, span(when));
        if (!flights) return flights.error();
        for (const auto& one : *flights) {
            auto& m = *reply.add_flights();
            m.set_who(visible(one.who));
            m.set_channel(one.channel);
            m.set_power_dbm(one.power_dbm);
            m.set_from_ms(one.from_ms);
            m.set_minutes(one.minutes);
            m.set_day_id(one.day_id);
            m.set_title(visible(one.title));
        }
        return reply;
    });
}

Result<v1::ArchiveChannels> archive_channels(const std::string& archive, ArchiveSpan when) {
    using Reply = v1::ArchiveChannels;
    return asked<Reply>(archive, DayLog::Access::read, [&](Archive& at) -> Result<Reply> {
        const auto all = at.channels(span(when));
        if (!all) return all.error();
        Reply reply;
        for (const auto& one : *all) {
            auto& m = *reply.add_channels();
            m.set_channel(one.channel);
            m.set_flights(small(one.flights));
            m.set_people(small(one.people));
            m.set_minutes(one.minutes);
        }
        return reply;
    });
}

Result<v1::ArchiveForgotten> archive_forget(const std::string& archive, const std::string& who,
                                            const std::string& day) {
    using Reply = v1::ArchiveForgotten;
    return asked<Reply>(archive, DayLog::Access::write, [&](Archive& at) -> Result<Reply> {
        const auto gone = at.forget(who, day);
        if (!gone) return gone.error();
        return message(*gone);
    });
}

Result<v1::ArchiveForgotten> archive_expire(const std::string& archive,
                                            std::optional<int> after_years) {
    using Reply = v1::ArchiveForgotten;
    return asked<Reply>(archive, DayLog::Access::write, [&](Archive& at) -> Result<Reply> {
        const auto gone = at.expire(after_years, local_ms());
        if (!gone) return gone.error();
        return message(*gone);
    });
}

}  // namespace fieldpeg::link
