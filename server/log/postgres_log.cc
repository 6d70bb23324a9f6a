#include "server/log/postgres_log.h"

#include "server/log/advice.h"
#include "server/log/database_place.h"
#include "server/log/hash.h"
#include "server/log/postgres_schema.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <boost/assert.hpp>

#include <thread>
#include <utility>

namespace fieldpeg::log {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::chrono::milliseconds finds_out_within{2000}, tries_again_after{50};
constexpr std::chrono::milliseconds looks_each{100};
/// So long an append of a holder who stalled in the middle of it is waited for.
constexpr const char* waits_for_the_row = "SET lock_timeout = '500ms'";
constexpr const char* lock_timed_out = "55P03";
constexpr const char* fenced_off = "FP001";

/// Whom to end, should we stall.
constexpr const char* known_backend =
    "UPDATE day SET backend = pg_backend_pid() WHERE no = $1::bigint AND term = $2::bigint";

struct Prepared {
    const char* name;
    const char* sql;
};
constexpr Prepared statements[] = {
    {"fence",
     "SELECT fence($1::bigint::integer, $2::bigint, $3::bigint, $4::bytea, $5::bigint, $6::bytea)"},
    {"begin", "UPDATE day SET id = $2, begun_ms = $3::bigint WHERE no = $1::bigint"},
    {"event",
     "INSERT INTO event VALUES ($1::bigint, $2::bigint, $3::bigint, $4::bigint, $5::bigint, "
     "$6::bigint, $7, $8, $9, $10, $11)"},
    {"answer", "INSERT INTO answer VALUES ($1::bigint, $2::bigint, $3, $4)"},
    {"name",
     "INSERT INTO name VALUES ($1::bigint, $2::bigint, $3) ON CONFLICT (day, id) DO UPDATE SET "
     "name = excluded.name"},
    {"drop keys", "DELETE FROM key WHERE day = $1::bigint"},
    {"drop tickets", "DELETE FROM ticket WHERE day = $1::bigint"},
    {"drop keys of", "DELETE FROM key WHERE day = $1::bigint AND person = $2::bigint"},
    {"key",
     "INSERT INTO key VALUES ($1::bigint, $2, $3::bigint) ON CONFLICT (day, hash) DO UPDATE SET "
     "person = excluded.person"},
    {"ticket",
     "INSERT INTO ticket VALUES ($1::bigint, $2::bigint, $3::bigint, $4) ON CONFLICT (day, role, "
     "pilot) DO UPDATE SET hash = excluded.hash"},
    {"backend", known_backend},
};

Result<std::unique_ptr<Database>> opened(const std::string& place, const char* what_for) {
    return Database::connect(database_place(place).address, what_for);
}

Refusal held_by_another(const std::string& place, const std::string& holder) {
    return {Refusal::Kind::conflict, database_place(place).shown(),
            holder.empty() ? std::string("another server has this day")
                           : fmt::format("another server has this day, at {}", holder),
            "to take over when that one ends: fieldpegd --follow"};
}

/// Whether nobody shows a sign of life for as long as the holder said; the rest of it is refused.
Result<void> is_silent(Database& database, const std::string& place, const DaySeen& seen) {
    const auto rung = database.ask(bell_of("pg_try_advisory_lock", seen.no).c_str());
    if (!rung) return database.refusal(rung.error());
    if (rung->number(0, 0) != 0) {
        database.ask(bell_of("pg_advisory_unlock", seen.no).c_str());
        return {};
    }
    const auto until = Clock::now() + seen.silence;
    while (Clock::now() < until) {
        std::this_thread::sleep_for(looks_each);
        const auto now = look_at_day(database, database_place(place).day);
        if (!now) return database.refusal(now.error());
        if (*now && ((*now)->beat != seen.beat || (*now)->term != seen.term))
            return held_by_another(place, (*now)->holder);
    }
    return {};
}

}  // namespace

Told<std::optional<DaySeen>> look_at_day(Database& database, const std::string& name) {
    const auto found = database.ask(
        "SELECT d.no, d.term, coalesce(b.n, 0), d.version, d.holder, d.silence_ms FROM day d LEFT "
        "JOIN beat b ON b.day = d.no WHERE d.held_as = $1",
        Values().add(name));
    if (!found) return found.error();
    if (found->size() == 0) return std::optional<DaySeen>();
    return std::optional(DaySeen{found->number(0, 0), found->number(0, 1), found->number(0, 2),
                                 found->number(0, 3), found->bytes(0, 4),
                                 std::chrono::milliseconds(found->number(0, 5))});
}

Result<void> make_room_for(Database& database, const std::string& name) {
    if (name.empty())
        return Refusal{Refusal::Kind::malformed, database.shown(), "names no day",
                       "postgresql://HOST/DATABASE#DAY"};
    if (auto made = make_tables(database); !made) return made;
    const auto there = database.ask("INSERT INTO day (held_as) VALUES ($1) ON CONFLICT DO NOTHING",
                                    Values().add(name));
    return there ? Result<void>() : Result<void>(database.refusal(there.error()));
}

Result<std::unique_ptr<DayLog>> PostgresLog::open(const std::string& place, Access access) {
    auto database = opened(place, "fieldpeg");
    if (!database) return database.error();
    const auto name = database_place(place).day;
    const auto ready =
        access == Access::write ? make_room_for(**database, name) : has_tables(**database);
    if (!ready) return ready.error();
    const auto seen = look_at_day(**database, name);
    if (!seen) return (*database)->refusal(seen.error());
    if (!*seen)
        return Refusal{Refusal::Kind::not_found, database_place(place).shown(),
                       "there is no such day", "is it written as the server has it?"};
    if (access != Access::write) {
        std::unique_ptr<PostgresLog> log(new PostgresLog(place, (*seen)->no));
        log->reader_ = *std::move(database);
        return log;
    }
    if ((*seen)->term != 0)
        if (const auto silent = is_silent(**database, place, **seen); !silent)
            return silent.error();
    return take(place, **seen, silence_default);
}

Result<std::unique_ptr<DayLog>> PostgresLog::of_day(const std::string& address, std::int64_t no) {
    auto database = opened(address, "fieldpeg");
    if (!database) return database.error();
    std::unique_ptr<PostgresLog> log(new PostgresLog(address, no));
    log->reader_ = *std::move(database);
    return log;
}

/// Where that cannot be told, whoever opens it is told why.
bool PostgresLog::exists(const std::string& place) {
    const auto database = opened(place, "fieldpeg");
    if (!database || !has_tables(**database))
        return !database || has_tables(**database).error().kind != Refusal::Kind::not_found;
    const auto seen = look_at_day(**database, database_place(place).day);
    return !seen || (*seen && (*seen)->version > 0);
}

Result<std::unique_ptr<DayLog>> PostgresLog::take(const std::string& place, const DaySeen& seen,
                                                  std::chrono::milliseconds silence) {
    std::unique_ptr<PostgresLog> log(new PostgresLog(place, seen.no));
    log->silence_ = silence;
    auto database = opened(place, "fieldpeg log");
    if (!database) return database.error();
    auto& db = **database;
    if (const auto set = db.run(waits_for_the_row); !set) return db.refusal(set.error());
    constexpr int tries_max = 10;
    for (int i = 0; i < tries_max; ++i) {
        const auto taken = db.ask(
            "WITH taken AS (UPDATE day SET term = term + 1, holder = '', backend = "
            "pg_backend_pid(), silence_ms = $3::bigint WHERE no = $1::bigint AND term = $2::bigint "
            "RETURNING no, term, writes, version, head), signed AS (INSERT INTO beat SELECT no, "
            "term, 0 FROM taken ON CONFLICT (day) DO UPDATE SET term = excluded.term, n = 0) "
            "SELECT term, writes, version, head FROM taken",
            Values().add(seen.no).add(seen.term).add(std::int64_t{silence.count()}));
        if (taken && taken->size() == 0) return held_by_another(place, "");
        if (taken) {
            log->now_ = {taken->number(0, 0), taken->number(0, 1),
                         static_cast<std::uint64_t>(taken->number(0, 2)), taken->bytes(0, 3)};
            log->lease_ = std::make_unique<Lease>(log->address_, seen.no, log->now_.term, silence);
            if (auto writes = log->connect_writer(); !writes) return writes.error();
            return log;
        }
        if (taken.error().state != lock_timed_out) return db.refusal(taken.error());
        // Its holder stalled in the middle of an append: that is ended, and so void.
        db.ask(
            "SELECT pg_terminate_backend(backend) FROM day WHERE no = $1::bigint AND term = "
            "$2::bigint",
            Values().add(seen.no).add(seen.term));
    }
    return held_by_another(place, "");
}

PostgresLog::PostgresLog(std::string place, std::int64_t day)
    : place_(std::move(place)),
      address_(database_place(place_).address),
      shown_(database_place(place_).shown()),
      day_(day) {}

/// And the database knows whom to end, should we stall.
Result<void> PostgresLog::connect_writer() {
    writer_.reset();
    auto database = Database::connect(address_, "fieldpeg log");
    if (!database) return database.error();
    auto& db = **database;
    const auto known = db.ask(known_backend, Values().add(day_).add(now_.term), finds_out_within);
    if (!known) return db.refusal(known.error());
    if (known->changed() == 0) {
        lease_->lose();
        return held_by_another(place_, "");
    }
    for (const auto& [name, sql] : statements)
        if (const auto done = db.prepare(name, sql); !done) return db.refusal(done.error());
    writer_ = *std::move(database);
    return {};
}

Appended PostgresLog::not_ours() {
    lease_->lose();
    return {Appended::Outcome::not_ours, held_by_another(place_, "")};
}

Appended PostgresLog::append(Batch& batch) {
    BOOST_ASSERT(lease_);
    if (batch.empty()) return {};
    if (const auto copies = lease_->copies(); !copies.is_good)
        return Refusal{Refusal::Kind::unavailable, shown_, copies.text,
                       "bring the second one back, or let this one go on alone"};
    if (!writer_ || !writer_->is_up())
        if (const auto connected = connect_writer(); !connected)
            return hold() == Hold::lost ? not_ours() : Appended(connected.error());
    if (hold() == Hold::lost) return not_ours();
    Stands after = now_;
    ++after.writes;
    for (auto& e : batch.entries) {
        after.head = e.hash = chained(after.head, e.record);
        after.version = e.version;
    }
    const auto sent = send(batch, after);
    if (sent) {
        now_ = std::move(after);
        return {};
    }
    if (sent.error().state == fenced_off) return not_ours();
    if (!sent.error().is_lost()) return writer_->refusal(sent.error());
    auto found = found_out(batch, after);
    if (!found)
        return {Appended::Outcome::unknown,
                {Refusal::Kind::unavailable, shown_,
                 "does not say whether it has this: " + sent.error().text,
                 "ask again; what was recorded is answered as it was"}};
    if (*found) now_ = std::move(after);
    return *std::move(found);
}

Told<void> PostgresLog::send(const Batch& batch, const Stands& after) {
    Database::Together all(*writer_);
    const auto of_day = [&] { return Values().add(day_); };
    all.add("fence", of_day()
                         .add(now_.term)
                         .add(now_.writes)
                         .add(now_.head)
                         .add(static_cast<std::int64_t>(after.version))
                         .add(after.head));
    if (now_.version == 0 && !batch.entries.empty())
        all.add("begin", of_day().add(batch.entries.front().hash).add(batch.entries.front().at_ms));
    if (batch.secrets_dropped) {
        all.add("drop keys", of_day());
        all.add("drop tickets", of_day());
    }
    for (const auto& e : batch.entries)
        all.add("event", of_day()
                             .add(static_cast<std::int64_t>(e.version))
                             .add(now_.term)
                             .add(e.at_ms)
                             .add(std::int64_t{e.actor})
                             .add(std::int64_t{e.subject})
                             .add(e.kind)
                             .add(e.frequency_mhz)
                             .add(e.power_dbm)
                             .add(e.record)
                             .add(e.hash));
    for (const auto& a : batch.answers)
        all.add("answer", of_day().add(std::int64_t{a.person}).add(a.idempotency_key).add(a.reply));
    for (const auto& [id, name] : batch.names)
        all.add("name", of_day().add(std::int64_t{id}).add(name));
    for (const auto person : batch.keys_dropped)
        all.add("drop keys of", of_day().add(std::int64_t{person}));
    for (const auto& k : batch.keys)
        all.add("key", of_day().add(k.hash).add(std::int64_t{k.person}));
    for (const auto& t : batch.tickets)
        all.add("ticket",
                of_day().add(std::int64_t{t.role}).add(std::int64_t{t.pilot}).add(t.hash));
    return all.done(silence_);
}

std::optional<PostgresLog::Stands> PostgresLog::stands() {
    const auto row =
        writer_->ask("SELECT term, writes, version, head FROM day WHERE no = $1::bigint",
                     Values().add(day_), finds_out_within);
    if (!row || row->size() != 1) return std::nullopt;
    return Stands{row->number(0, 0), row->number(0, 1),
                  static_cast<std::uint64_t>(row->number(0, 2)), row->bytes(0, 3)};
}

/// What is seen may have been made sure on one disk only; what is committed after it, with it, on
/// all.
bool PostgresLog::is_durable() {
    Database::Together all(*writer_);
    all.add("backend", Values().add(day_).add(now_.term));
    return all.done(finds_out_within).has_value();
}

/// Of a batch that was sent over a connection that was lost, what became of it; none: it cannot be
/// found out.
std::optional<Appended> PostgresLog::found_out(const Batch& batch, const Stands& after) {
    const auto until = Clock::now() + finds_out_within;
    for (; Clock::now() < until; std::this_thread::sleep_for(tries_again_after)) {
        if (!writer_ || !writer_->is_up())
            if (!connect_writer()) {
                if (hold() == Hold::lost) return not_ours();
                continue;
            }
        const auto there = stands();
        if (!there) continue;
        if (there->term != now_.term) return not_ours();
        if (there->writes == after.writes && there->head == after.head) {
            if (is_durable()) return Appended();
            continue;
        }
        if (there->writes != now_.writes || there->head != now_.head) return not_ours();
        const auto sent = send(batch, after);
        if (sent) return Appended();
        // The first may have come through meanwhile, which the fence then says.
        if (sent.error().state == fenced_off || sent.error().is_lost()) continue;
        return Appended(writer_->refusal(sent.error()));
    }
    return std::nullopt;
}

Result<Rows> PostgresLog::read(const char* sql, const Values& values) const {
    if (!reader_ || !reader_->is_up()) {
        auto database = opened(place_, "fieldpeg reader");
        if (!database) return database.error();
        reader_ = *std::move(database);
    }
    constexpr std::chrono::milliseconds patience{30'000};
    auto found = reader_->ask(sql, values, patience);
    if (!found) return reader_->refusal(found.error());
    return *std::move(found);
}

Result<std::uint64_t> PostgresLog::last_version() const {
    const auto row = read("SELECT version FROM day WHERE no = $1::bigint", Values().add(day_));
    if (!row) return row.error();
    return static_cast<std::uint64_t>(row->size() == 1 ? row->number(0, 0) : 0);
}

Result<std::string> PostgresLog::head_hash() const {
    const auto row = read("SELECT head FROM day WHERE no = $1::bigint", Values().add(day_));
    if (!row) return row.error();
    return row->size() == 1 ? row->bytes(0, 0) : no_hash();
}

std::optional<std::string> PostgresLog::rows(std::uint64_t after, std::uint64_t up_to,
                                             std::string& hash_before, const TakeRow& take) const {
    hash_before = no_hash();
    const auto version_of = [](std::uint64_t version) {
        return static_cast<std::int64_t>(version);
    };
    if (after != 0) {
        const auto before =
            read("SELECT hash FROM event WHERE day = $1::bigint AND version = $2::bigint",
                 Values().add(day_).add(version_of(after)));
        if (!before) return before.error().why;
        if (before->size() == 1) hash_before = before->bytes(0, 0);
    }
    while (true) {
        const auto some = read(
            "SELECT version, at_ms, actor, subject, kind, frequency_mhz, power_dbm, record, hash "
            "FROM event WHERE day = $1::bigint AND version > $2::bigint AND version <= $3::bigint "
            "ORDER BY version LIMIT 2000",
            Values().add(day_).add(version_of(after)).add(version_of(up_to)));
        if (!some) return some.error().why;
        if (some->size() == 0) return std::nullopt;
        for (int i = 0; i < some->size(); ++i) {
            Entry e;
            e.version = after = static_cast<std::uint64_t>(some->number(i, 0));
            e.at_ms = some->number(i, 1);
            e.actor = static_cast<std::uint32_t>(some->number(i, 2));
            e.subject = static_cast<std::uint32_t>(some->number(i, 3));
            e.kind = some->bytes(i, 4);
            if (!some->is_null(i, 5)) e.frequency_mhz = some->real(i, 5);
            if (!some->is_null(i, 6)) e.power_dbm = some->real(i, 6);
            e.record = some->bytes(i, 7);
            e.hash = some->bytes(i, 8);
            if (!take(e, true)) return std::nullopt;
        }
    }
}

Result<std::map<std::uint32_t, std::string>> PostgresLog::names() const {
    const auto rows = read("SELECT id, name FROM name WHERE day = $1::bigint", Values().add(day_));
    if (!rows) return rows.error();
    std::map<std::uint32_t, std::string> all;
    for (int i = 0; i < rows->size(); ++i)
        all[static_cast<std::uint32_t>(rows->number(i, 0))] = rows->bytes(i, 1);
    return all;
}

Result<std::vector<Answered>> PostgresLog::answers() const {
    return each_of<Answered>(
        read("SELECT person, once, reply FROM answer WHERE day = $1::bigint", Values().add(day_)),
        [](const Rows& rows, int i) {
            return Answered{static_cast<std::uint32_t>(rows.number(i, 0)), rows.bytes(i, 1),
                            rows.bytes(i, 2)};
        });
}

Result<std::vector<Key>> PostgresLog::keys() const {
    return each_of<Key>(
        read("SELECT hash, person FROM key WHERE day = $1::bigint", Values().add(day_)),
        [](const Rows& rows, int i) {
            return Key{rows.bytes(i, 0), static_cast<std::uint32_t>(rows.number(i, 1))};
        });
}

Result<std::vector<Ticket>> PostgresLog::tickets() const {
    return each_of<Ticket>(
        read("SELECT hash, role, pilot FROM ticket WHERE day = $1::bigint", Values().add(day_)),
        [](const Rows& rows, int i) {
            return Ticket{rows.bytes(i, 0), static_cast<int>(rows.number(i, 1)),
                          static_cast<std::uint32_t>(rows.number(i, 2))};
        });
}

Result<void> PostgresLog::in_its_place() const {
    switch (hold()) {
        case Hold::sure:
            return {};
        case Hold::unsure:
            return Refusal{Refusal::Kind::unavailable, shown_,
                           "does not answer; nothing is recorded",
                           "what was said before is kept in it"};
        case Hold::lost:
            return held_by_another(place_, "");
    }
    return {};
}

Hold PostgresLog::hold() const {
    return lease_ ? lease_->hold() : Hold::sure;
}

void PostgresLog::answered_at(const std::string& address) {
    if (lease_) lease_->answered_at(address);
}

std::vector<std::string> PostgresLog::standbys() const {
    return lease_ ? lease_->standbys() : std::vector<std::string>();
}

std::vector<LogCheck> PostgresLog::checks() const {
    if (!lease_) return {};
    const auto waiting = standbys();
    return {{true, "second server",
             waiting.empty() ? "none waits to take over: fieldpegd --follow on another machine"
                             : fmt::format("ready to take over: {}", fmt::join(waiting, ", "))},
            lease_->copies()};
}

}  // namespace fieldpeg::log
