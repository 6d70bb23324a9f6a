#include "server/log/archive.h"

#include "server/log/database_place.h"
#include "server/log/hash.h"
#include "server/log/lease.h"
#include "server/log/new_log.h"
#include "server/log/postgres_log.h"
#include "server/log/postgres_schema.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <utility>

namespace fieldpeg::log {
namespace {

/// A day of some thousand entries takes less than a second; of a very long one, or over a slow
/// line, more.
constexpr std::chrono::minutes patience{5};

std::string text_of(const std::optional<double>& number) {
    return number ? fmt::format("{}", *number) : "\\N";
}

Values span(const Archive::Span& when) {
    return Values().add(when.from_ms).add(when.to_ms);
}

}  // namespace

Result<std::unique_ptr<Archive>> Archive::open(const std::string& address, DayLog::Access access) {
    if (!is_database(address))
        return Refusal{Refusal::Kind::malformed, "the archive", "is no address of a database",
                       "postgresql://HOST/DATABASE; or set FIELDPEG_ARCHIVE"};
    auto database = Database::connect(database_place(address).address, "fieldpeg archive");
    if (!database) return database.error();
    const auto ready =
        access == DayLog::Access::write ? make_tables(**database) : has_tables(**database);
    if (!ready) return ready.error();
    return std::unique_ptr<Archive>(new Archive(*std::move(database)));
}

Result<Rows> Archive::ask(const char* sql, const Values& values) {
    auto rows = database_->ask(sql, values, patience);
    if (!rows) return database_->refusal(rows.error());
    return *std::move(rows);
}

/// All of it is in the archive when this returns, or nothing.
template <class Work>
auto Archive::together(Work work) -> decltype(work()) {
    if (const auto begun = database_->run("BEGIN"); !begun)
        return database_->refusal(begun.error());
    auto done = work();
    if (!done) {
        database_->run("ROLLBACK");
        return done;
    }
    const auto ended = database_->run("COMMIT", patience);
    if (ended) return done;
    auto why = database_->refusal(ended.error());
    if (ended.error().is_lost())
        why.next = "it may be in the archive or not: do the same again, which never does it twice";
    return why;
}

namespace {

Result<std::vector<Entry>> all_of(const DayLog& log) {
    std::vector<Entry> all;
    const auto read = log.each(0, UINT64_MAX, [&](const Entry& e) {
        all.push_back(e);
        return true;
    });
    if (!read) return read.error();
    if (!all.empty()) return all;
    return Refusal{Refusal::Kind::malformed, log.path(), "has no entries: nothing was pushed", ""};
}

}  // namespace

Result<Archive::Pushed> Archive::push(const DayLog& log, const AboutDay& about) {
    const auto entries = all_of(log);
    if (!entries) return entries.error();
    return together([&]() -> Result<Pushed> {
        const auto& id = entries->front().hash;
        const auto made = ask(
            "INSERT INTO day (id, begun_ms) VALUES ($1, $2::bigint) ON CONFLICT (id) DO NOTHING",
            Values().add(id).add(entries->front().at_ms));
        if (!made) return made.error();
        const auto row =
            ask("SELECT no, version, held_as FROM day WHERE id = $1 FOR UPDATE", Values().add(id));
        if (!row) return row.error();
        if (!row->is_null(0, 2))
            return Refusal{Refusal::Kind::conflict, log.path(),
                           "is held by servers in this database, and so in it already",
                           "once it has ended: fieldpeg archive close DAY"};
        return push_into(row->number(0, 0), *entries, static_cast<std::uint64_t>(row->number(0, 1)),
                         log, about);
    });
}

Result<Archive::Pushed> Archive::push_into(std::int64_t no, const std::vector<Entry>& entries,
                                           std::uint64_t were_there, const DayLog& log,
                                           const AboutDay& about) {
    if (auto agreed = agree(no, entries, were_there); !agreed) return agreed.error();
    const bool has_more = were_there > entries.size();
    if (!has_more) {
        if (auto added = add_entries(no, entries, were_there); !added) return added.error();
        const auto known =
            ask("UPDATE day SET version = $2::bigint, head = $3, title = $4, field = $5 WHERE no = "
                "$1::bigint",
                Values()
                    .add(no)
                    .add(static_cast<std::int64_t>(entries.size()))
                    .add(entries.back().hash)
                    .add(about.title)
                    .add(about.field));
        if (!known) return known.error();
        if (auto added = add_names(no, log); !added) return added.error();
        if (auto added = add_flown(no, about); !added) return added.error();
    }
    const auto now_ms = std::chrono::duration_cast<std::chrono::milliseconds>(
                            std::chrono::system_clock::now().time_since_epoch())
                            .count();
    if (const auto expired = expire_what_is_due(now_ms); !expired) return expired.error();
    auto day = this->day(hex(entries.front().hash));
    if (!day) return day.error();
    return Pushed{*std::move(day), were_there, has_more};
}

/// A day whose first entry is this one is this day; it may have gone two ways.
Result<void> Archive::agree(std::int64_t no, const std::vector<Entry>& entries,
                            std::uint64_t were_there) {
    const auto both = std::min<std::uint64_t>(were_there, entries.size());
    if (both == 0) return {};
    const auto there =
        ask("SELECT hash FROM event WHERE day = $1::bigint AND version <= $2::bigint ORDER BY "
            "version",
            Values().add(no).add(static_cast<std::int64_t>(both)));
    if (!there) return there.error();
    std::uint64_t same = 0;
    while (same < both && static_cast<int>(same) < there->size() &&
           there->bytes(static_cast<int>(same), 0) == entries[same].hash)
        ++same;
    if (same == both) return {};
    return Refusal{Refusal::Kind::conflict, database_->shown(),
                   fmt::format("has another course of this day: the same up to entry {}, then "
                               "another; nothing was pushed",
                               same),
                   "which of the two is the day's? Keep both files"};
}

/// And the database reckons the chain itself before it keeps them.
Result<void> Archive::add_entries(std::int64_t no, const std::vector<Entry>& entries,
                                  std::uint64_t were_there) {
    std::string rows;
    for (auto i = were_there; i < entries.size(); ++i) {
        const auto& e = entries[i];
        constexpr int archived = 0;  // under no term
        rows +=
            fmt::format("{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\n", no, e.version, archived,
                        e.at_ms, e.actor, e.subject, copy_text(e.kind), text_of(e.frequency_mhz),
                        text_of(e.power_dbm), copy_bytes(e.record), copy_bytes(e.hash));
    }
    if (rows.empty()) return {};
    const auto copied = database_->copy("COPY event FROM STDIN", rows, patience);
    if (!copied) return database_->refusal(copied.error());
    const auto wrong = ask(
        "SELECT min(version) FROM (SELECT version, hash, sha256(lag(hash, 1, decode(repeat('00', "
        "32), 'hex')) OVER (ORDER BY version) || record) AS right_one FROM event WHERE day = "
        "$1::bigint AND version >= $2::bigint) AS one WHERE hash <> right_one AND version > "
        "$2::bigint",
        Values().add(no).add(static_cast<std::int64_t>(were_there)));
    if (!wrong) return wrong.error();
    if (wrong->is_null(0, 0)) return {};
    return Refusal{Refusal::Kind::unavailable, database_->shown(),
                   fmt::format("entry {} is another there than was sent; nothing was pushed",
                               wrong->number(0, 0)),
                   "push again"};
}

Result<void> Archive::add_names(std::int64_t no, const DayLog& log) {
    const auto names = log.names();
    if (!names) return names.error();
    std::vector<std::string> ids, called;
    ids.reserve(names->size());
    called.reserve(names->size());
    for (const auto& [id, name] : *names) {
        ids.push_back(std::to_string(id));
        called.push_back(name);
    }
    const auto added = ask(
        "INSERT INTO name SELECT $1::bigint, one.id, one.name FROM unnest($2::text::bigint[], "
        "$3::text::text[]) AS one(id, name) WHERE NOT EXISTS (SELECT FROM forgotten WHERE day = "
        "$1::bigint AND id = one.id) ON CONFLICT (day, id) DO UPDATE SET name = excluded.name",
        Values().add(no).add(array_text(ids)).add(array_text(called)));
    return added ? Result<void>() : Result<void>(added.error());
}

/// In the place of what was there.
Result<void> Archive::add_flown(std::int64_t no, const AboutDay& about) {
    std::string flights, air;
    for (const auto& f : about.flights)
        flights += fmt::format("{}\t{}\t{}\t{}\t{}\t{}\n", no, f.subject, copy_text(f.channel),
                               f.power_dbm, f.from_ms, f.minutes);
    for (const auto& s : about.air)
        air += fmt::format("{}\t{}\t{}\t{}\t{}\t{}\t{}\n", no, s.subject, copy_text(s.kind),
                           s.frequency_mhz, s.power_dbm, s.from_ms, s.to_ms);
    for (const auto& [table, rows] : {std::pair("flight", &flights), std::pair("air", &air)}) {
        const auto gone = ask(fmt::format("DELETE FROM {} WHERE day = $1::bigint", table).c_str(),
                              Values().add(no));
        if (!gone) return gone.error();
        if (rows->empty()) continue;
        const auto copied =
            database_->copy(fmt::format("COPY {} FROM STDIN", table).c_str(), *rows, patience);
        if (!copied) return database_->refusal(copied.error());
    }
    return {};
}

Result<std::unique_ptr<DayLog>> Archive::log_of(const ArchivedDay& day) const {
    return PostgresLog::of_day(database_->address(), day.no);
}

/// One more term: whoever stalled with the day and wakes writes nothing into it.
Result<ArchivedDay> Archive::close(const ArchivedDay& day, const AboutDay& about) {
    if (!day.is_held) return day;
    return together([&]() -> Result<ArchivedDay> {
        const auto free = ask(bell_of("pg_try_advisory_xact_lock", day.no).c_str());
        if (!free) return free.error();
        if (free->number(0, 0) == 0)
            return Refusal{Refusal::Kind::conflict, database_->shown(), "a server has this day",
                           "stop it first"};
        const auto closed =
            ask("UPDATE day SET held_as = NULL, term = term + 1, title = $2, field = $3 WHERE no = "
                "$1::bigint AND head = $4",
                Values().add(day.no).add(about.title).add(about.field).add(day.head));
        if (!closed) return closed.error();
        if (closed->changed() == 0)
            return Refusal{Refusal::Kind::conflict, database_->shown(), "a server has this day",
                           "stop it first"};
        for (const auto* table : {"answer", "key", "ticket", "standby", "beat"}) {
            const auto gone =
                ask(fmt::format("DELETE FROM {} WHERE day = $1::bigint", table).c_str(),
                    Values().add(day.no));
            if (!gone) return gone.error();
        }
        if (auto added = add_flown(day.no, about); !added) return added.error();
        return this->day(hex(day.id));
    });
}

Result<ArchivedDay> Archive::pull(const std::string& called, const std::string& to) {
    auto day = this->day(called);
    if (!day) return day.error();
    const auto log = log_of(*day);
    if (!log) return log.error();
    auto all = all_of(**log);
    if (!all) return all.error();
    auto names = (*log)->names();
    if (!names) return names.error();
    Batch batch;
    batch.entries = *std::move(all);
    batch.names = *std::move(names);
    if (auto written = write_new(to, batch); !written) return written.error();
    day->entries = batch.entries.size();  // of one that goes on, so many
    day->head = batch.entries.back().hash;
    return day;
}

namespace {

/// By the columns of `day_columns`.
ArchivedDay day_in(const Rows& rows, int i) {
    return {rows.number(i, 0), rows.bytes(i, 1),
            rows.bytes(i, 2),  rows.bytes(i, 3),
            rows.number(i, 4), static_cast<std::uint64_t>(rows.number(i, 5)),
            rows.bytes(i, 6),  rows.number(i, 7) != 0,
            rows.number(i, 8), rows.real(i, 9)};
}

constexpr std::string_view day_columns =
    "SELECT no, id, coalesce(nullif(title, ''), held_as, ''), field, coalesce(begun_ms, 0), "
    "version, head, held_as IS NOT NULL, (SELECT count(*) FROM flight WHERE flight.day = no), "
    "(SELECT coalesce(sum(minutes), 0) FROM flight WHERE flight.day = no) FROM day WHERE id IS NOT "
    "NULL AND ";

}  // namespace

Result<ArchivedDay> Archive::day(const std::string& called) {
    const auto found = ask(
        fmt::format("{} (held_as = $1 OR (length($1) >= 4 AND encode(id, 'hex') LIKE $2)) LIMIT 2",
                    day_columns)
            .c_str(),
        Values().add(called).add(
            called.find_first_not_of("0123456789abcdef") == std::string::npos ? called + "%" : ""));
    if (!found) return found.error();
    if (found->size() == 1) return day_in(*found, 0);
    return Refusal{Refusal::Kind::not_found, database_->shown(),
                   found->size() == 0 ? fmt::format("there is no day '{}'", called)
                                      : fmt::format("several days begin with '{}'", called),
                   "fieldpeg archive days lists them"};
}

Result<std::vector<ArchivedDay>> Archive::days(const Span& begun) {
    return each_of<ArchivedDay>(
        ask(fmt::format("{} begun_ms BETWEEN $1::bigint AND $2::bigint ORDER BY begun_ms DESC",
                        day_columns)
                .c_str(),
            span(begun)),
        day_in);
}

Result<Archive::Forgotten> Archive::taken_out(const char* sql, const Values& values) {
    const auto gone = ask(sql, values);
    if (!gone) return gone.error();
    return Forgotten{gone->number(0, 0), gone->number(0, 1)};
}

Result<Archive::Forgotten> Archive::forget(const std::string& who, const std::string& day) {
    std::int64_t no = 0;
    if (!day.empty()) {
        const auto found = this->day(day);
        if (!found) return found.error();
        no = found->no;
    }
    return together([&] {
        return taken_out(
            "WITH gone AS (DELETE FROM name WHERE lower(name) = lower($1) AND ($2::bigint = 0 OR "
            "day = $2::bigint) RETURNING day, id), noted AS (INSERT INTO forgotten SELECT day, id "
            "FROM gone ON CONFLICT DO NOTHING) SELECT count(*), count(DISTINCT day) FROM gone",
            Values().add(who).add(no));
    });
}

Result<Archive::Forgotten> Archive::expire(std::optional<int> after_years, std::int64_t now_ms) {
    return together([&]() -> Result<Forgotten> {
        const auto set = ask("UPDATE setting SET names_for_years = nullif($1::bigint, 0)",
                             Values().add(std::int64_t{after_years.value_or(0)}));
        if (!set) return set.error();
        return expire_what_is_due(now_ms);
    });
}

/// Days that a server holds are its own.
Result<Archive::Forgotten> Archive::expire_what_is_due(std::int64_t now_ms) {
    const auto due =
        ask("SELECT (extract(epoch FROM to_timestamp($1::bigint / 1000.0) - make_interval(years => "
            "names_for_years)) * 1000)::bigint FROM setting",
            Values().add(now_ms));
    if (!due) return due.error();
    if (due->is_null(0, 0)) return Forgotten{};  // every push asks: most archives keep names
    return taken_out(
        "WITH old AS (SELECT no FROM day WHERE held_as IS NULL AND begun_ms < $1::bigint), gone AS "
        "(DELETE FROM name USING old WHERE day = old.no RETURNING day, id), noted AS (INSERT INTO "
        "forgotten SELECT day, id FROM gone ON CONFLICT DO NOTHING) SELECT count(*), "
        "count(DISTINCT day) FROM gone",
        Values().add(due->number(0, 0)));
}

}  // namespace fieldpeg::log
