#include "server/log/day_log.h"

#include "server/log/hash.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <boost/assert.hpp>

#include <algorithm>

namespace fieldpeg::log {
namespace {

constexpr int format_version = 1;
constexpr int application_id = 0x46706567;  // "Fpeg"
constexpr int busy_wait_ms = 5000;
constexpr const char* keep_it = "keep the file as it is; a new day can be started beside it";

constexpr const char* schema = R"sql(
CREATE TABLE event (
    version       INTEGER PRIMARY KEY,
    at_ms         INTEGER NOT NULL,
    actor         INTEGER NOT NULL,
    subject       INTEGER NOT NULL,
    kind          TEXT NOT NULL,
    frequency_mhz REAL,
    power_dbm     REAL,
    record        BLOB NOT NULL,
    hash          BLOB NOT NULL
) STRICT;
CREATE TABLE name (id INTEGER PRIMARY KEY, name TEXT NOT NULL) STRICT;
CREATE TABLE answer (
    person INTEGER NOT NULL, once TEXT NOT NULL, reply BLOB NOT NULL, PRIMARY KEY (person, once)
) STRICT;
CREATE TABLE key (hash BLOB PRIMARY KEY, person INTEGER NOT NULL) STRICT;
CREATE TABLE ticket (
    role INTEGER NOT NULL, pilot INTEGER NOT NULL, hash BLOB NOT NULL, PRIMARY KEY (role, pilot)
) STRICT;
)sql";

std::string blob(SQLite::Column column) {
    return {static_cast<const char*>(column.getBlob()),
            static_cast<std::size_t>(column.getBytes())};
}

void bind_blob(SQLite::Statement& statement, int at, const std::string& bytes) {
    statement.bind(at, static_cast<const void*>(bytes.data()), static_cast<int>(bytes.size()));
}

std::string chained(const std::string& before, const std::string& record) {
    return sha256(before + record);
}

std::string no_hash() {
    return std::string(32, '\0');
}

Refusal refusal(const std::string& path, const SQLite::Exception& error) {
    switch (error.getErrorCode()) {
        case SQLITE_FULL:
            return {Refusal::Kind::unavailable, path,
                    "the disk is full; nothing of this was recorded",
                    "make room; everything said before is kept, and reading goes on"};
        case SQLITE_NOTADB:
            return {Refusal::Kind::malformed, path, "is no day log",
                    "is it another file of that name?"};
        case SQLITE_CANTOPEN:
            return {Refusal::Kind::unavailable, path, "cannot be opened",
                    "is the folder there, and writable?"};
        case SQLITE_READONLY:
        case SQLITE_PERM:
            return {Refusal::Kind::unavailable, path, "may not be written", "whose file is it?"};
        case SQLITE_CORRUPT:
            return {Refusal::Kind::malformed, path, "is damaged", keep_it};
        default:
            return {Refusal::Kind::unavailable, path,
                    fmt::format("cannot be used: {}", error.what()), keep_it};
    }
}

/// The same of a log that was good when it was opened: whatever is wrong came later.
Refusal broken(const std::string& path, const SQLite::Exception& error) {
    auto why = refusal(path, error);
    why.kind = Refusal::Kind::unavailable;
    return why;
}

}  // namespace

struct DayLog::Connections {
    std::string path;
    std::optional<SQLite::Database> writer;
    SQLite::Database reader;
};

DayLog::DayLog(std::unique_ptr<Connections> connections) : connections_(std::move(connections)) {}
DayLog::~DayLog() = default;

const std::string& DayLog::path() const {
    return connections_->path;
}

namespace {

bool is_empty(SQLite::Database& db) {
    return db.execAndGet("PRAGMA user_version").getInt() == 0 &&
           db.execAndGet("SELECT count(*) FROM sqlite_master").getInt() == 0;
}

/// Only on a file that is ours, or nobody's yet.
void make_ready(SQLite::Database& db, bool is_new) {
    // EXTRA is FULL for a write-ahead log; for the journal before it, its removal is sure too.
    db.exec("PRAGMA synchronous = EXTRA");
    db.exec("PRAGMA journal_mode = WAL");
    if (!is_new) return;
    SQLite::Transaction all(db);
    db.exec(schema);
    db.exec(fmt::format("PRAGMA application_id = {}", application_id));
    db.exec(fmt::format("PRAGMA user_version = {}", format_version));
    all.commit();
}

/// What a program left that was killed may be read, and not be sure to stay: it is made so before
/// anybody is told of it.
void make_sure(SQLite::Database& db) {
    sqlite3_file* write_ahead = nullptr;
    sqlite3_file_control(db.getHandle(), "main", SQLITE_FCNTL_JOURNAL_POINTER, &write_ahead);
    if (!write_ahead || !write_ahead->pMethods) return;
    const int error = write_ahead->pMethods->xSync(write_ahead, SQLITE_SYNC_FULL);
    if (error != SQLITE_OK) throw SQLite::Exception(sqlite3_errstr(error), error);
}

std::optional<Refusal> not_ours(const std::string& path, SQLite::Database& db) {
    if (db.execAndGet("PRAGMA application_id").getInt() != application_id)
        return Refusal{Refusal::Kind::malformed, path, "is a database, but no day log",
                       "is it another file of that name?"};
    const int version = db.execAndGet("PRAGMA user_version").getInt();
    if (version > format_version)
        return Refusal{
            Refusal::Kind::malformed, path,
            fmt::format("is of format {}, this program knows up to {}", version, format_version),
            "use a later version of the program"};
    return std::nullopt;
}

}  // namespace

Result<std::unique_ptr<DayLog>> DayLog::open(const std::string& path, Access access) {
    try {
        std::optional<SQLite::Database> writer;
        if (access == Access::write) {
            writer.emplace(path,
                           SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE | SQLite::OPEN_FULLMUTEX,
                           busy_wait_ms);
            const bool is_new = is_empty(*writer);
            if (!is_new)
                if (const auto wrong = not_ours(path, *writer)) return *wrong;
            make_ready(*writer, is_new);
            make_sure(*writer);
        }
        SQLite::Database reader(path, SQLite::OPEN_READONLY | SQLite::OPEN_FULLMUTEX, busy_wait_ms);
        if (const auto wrong = not_ours(path, reader)) return *wrong;
        return std::unique_ptr<DayLog>(new DayLog(std::make_unique<Connections>(
            Connections{path, std::move(writer), std::move(reader)})));
    } catch (const SQLite::Exception& error) {
        return refusal(path, error);
    }
}

namespace {

/// SQLite goes on writing into a file that was moved or deleted.
Result<void> still_at(const std::string& path, SQLite::Database& db) {
    int moved = 0;
    sqlite3_file_control(db.getHandle(), "main", SQLITE_FCNTL_HAS_MOVED, &moved);
    if (moved == 0) return {};
    return Refusal{Refusal::Kind::unavailable, path, "was moved or deleted; nothing is recorded",
                   "put it back; until then what was said before can still be read"};
}

}  // namespace

Result<void> DayLog::append(Batch& batch) {
    BOOST_ASSERT(connections_->writer);
    if (batch.empty()) return {};
    if (auto there = still_at(connections_->path, *connections_->writer); !there) return there;
    try {
        write(batch);
        return {};
    } catch (const SQLite::Exception& error) {
        return broken(connections_->path, error);
    }
}

namespace {

void write_events(SQLite::Database& db, std::vector<Entry>& entries) {
    if (entries.empty()) return;
    SQLite::Statement last(db, "SELECT hash FROM event ORDER BY version DESC LIMIT 1");
    std::string hash = last.executeStep() ? blob(last.getColumn(0)) : no_hash();
    SQLite::Statement insert(db, "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)");
    for (auto& e : entries) {
        hash = e.hash = chained(hash, e.record);
        insert.reset();
        insert.clearBindings();
        insert.bind(1, static_cast<std::int64_t>(e.version));
        insert.bind(2, e.at_ms);
        insert.bind(3, static_cast<std::int64_t>(e.actor));
        insert.bind(4, static_cast<std::int64_t>(e.subject));
        insert.bind(5, e.kind);
        if (e.frequency_mhz) insert.bind(6, *e.frequency_mhz);
        if (e.power_dbm) insert.bind(7, *e.power_dbm);
        bind_blob(insert, 8, e.record);
        bind_blob(insert, 9, e.hash);
        insert.exec();
    }
}

void write_rest(SQLite::Database& db, const Batch& batch) {
    for (const auto& a : batch.answers) {
        SQLite::Statement insert(db, "INSERT INTO answer VALUES (?, ?, ?)");
        insert.bind(1, static_cast<std::int64_t>(a.person));
        insert.bind(2, a.idempotency_key);
        bind_blob(insert, 3, a.reply);
        insert.exec();
    }
    for (const auto& [id, name] : batch.names) {
        SQLite::Statement insert(db, "INSERT OR REPLACE INTO name VALUES (?, ?)");
        insert.bind(1, static_cast<std::int64_t>(id));
        insert.bind(2, name);
        insert.exec();
    }
    for (const auto person : batch.keys_dropped) {
        SQLite::Statement drop(db, "DELETE FROM key WHERE person = ?");
        drop.bind(1, static_cast<std::int64_t>(person));
        drop.exec();
    }
    for (const auto& k : batch.keys) {
        SQLite::Statement insert(db, "INSERT OR REPLACE INTO key VALUES (?, ?)");
        bind_blob(insert, 1, k.hash);
        insert.bind(2, static_cast<std::int64_t>(k.person));
        insert.exec();
    }
    for (const auto& t : batch.tickets) {
        SQLite::Statement insert(db, "INSERT OR REPLACE INTO ticket VALUES (?, ?, ?)");
        insert.bind(1, t.role);
        insert.bind(2, static_cast<std::int64_t>(t.pilot));
        bind_blob(insert, 3, t.hash);
        insert.exec();
    }
}

}  // namespace

void DayLog::write(Batch& batch) {
    auto& db = *connections_->writer;
    SQLite::Transaction all(db, SQLite::TransactionBehavior::IMMEDIATE);
    write_events(db, batch.entries);
    write_rest(db, batch);
    all.commit();
}

namespace {

/// What `read` gives, or why nothing can be read.
template <class Read>
auto read_from(const std::string& path, Read read) -> Result<decltype(read())> {
    try {
        return read();
    } catch (const SQLite::Exception& error) {
        return broken(path, error);
    }
}

std::string hash_of(SQLite::Database& db, std::uint64_t version) {
    SQLite::Statement select(db, "SELECT hash FROM event WHERE version = ?");
    select.bind(1, static_cast<std::int64_t>(version));
    return select.executeStep() ? blob(select.getColumn(0)) : no_hash();
}

Entry entry(SQLite::Statement& row) {
    Entry e;
    e.version = static_cast<std::uint64_t>(row.getColumn(0).getInt64());
    e.at_ms = row.getColumn(1).getInt64();
    e.actor = row.getColumn(2).getUInt();
    e.subject = row.getColumn(3).getUInt();
    e.kind = row.getColumn(4).getString();
    if (!row.isColumnNull(5)) e.frequency_mhz = row.getColumn(5).getDouble();
    if (!row.isColumnNull(6)) e.power_dbm = row.getColumn(6).getDouble();
    e.record = blob(row.getColumn(7));
    e.hash = blob(row.getColumn(8));
    return e;
}

}  // namespace

Result<std::uint64_t> DayLog::last_version() const {
    return read_from(connections_->path, [&] {
        return static_cast<std::uint64_t>(
            connections_->reader.execAndGet("SELECT coalesce(max(version), 0) FROM event")
                .getInt64());
    });
}

Result<std::string> DayLog::head_hash() const {
    return read_from(connections_->path, [&] {
        SQLite::Statement last(connections_->reader,
                               "SELECT hash FROM event ORDER BY version DESC LIMIT 1");
        return last.executeStep() ? blob(last.getColumn(0)) : no_hash();
    });
}

std::optional<Fault> DayLog::walk(std::uint64_t after, std::uint64_t up_to,
                                  const std::function<bool(const Entry&)>& take) const {
    constexpr std::uint64_t most = INT64_MAX;
    after = std::min(after, most);
    SQLite::Statement select(
        connections_->reader,
        "SELECT version, at_ms, actor, subject, kind, frequency_mhz, power_dbm, "
        "record, hash FROM event WHERE version > ? AND version <= ? ORDER BY version");
    select.bind(1, static_cast<std::int64_t>(after));
    select.bind(2, static_cast<std::int64_t>(std::min(up_to, most)));
    auto hash = after == 0 ? no_hash() : hash_of(connections_->reader, after);
    for (auto expected = after + 1; select.executeStep(); ++expected) {
        const auto e = entry(select);
        if (e.version != expected) return Fault{expected, "an entry is missing"};
        hash = chained(hash, e.record);
        if (hash != e.hash)
            return Fault{e.version, "the entry, or one before it, is not what was written"};
        if (!take(e)) break;
    }
    return std::nullopt;
}

Result<void> DayLog::each(std::uint64_t after, std::uint64_t up_to,
                          const std::function<bool(const Entry&)>& take) const {
    const auto fault = read_from(connections_->path, [&] { return walk(after, up_to, take); });
    if (!fault) return fault.error();
    if (!*fault) return {};
    return Refusal{Refusal::Kind::unavailable, connections_->path,
                   fmt::format("entry {}: {}", (*fault)->version, (*fault)->why), keep_it};
}

Result<std::map<std::uint32_t, std::string>> DayLog::names() const {
    return read_from(connections_->path, [&] {
        std::map<std::uint32_t, std::string> all;
        SQLite::Statement select(connections_->reader, "SELECT id, name FROM name");
        while (select.executeStep())
            all[select.getColumn(0).getUInt()] = select.getColumn(1).getString();
        return all;
    });
}

Result<std::vector<Answered>> DayLog::answers() const {
    return read_from(connections_->path, [&] {
        std::vector<Answered> all;
        SQLite::Statement select(connections_->reader, "SELECT person, once, reply FROM answer");
        while (select.executeStep())
            all.push_back({select.getColumn(0).getUInt(), select.getColumn(1).getString(),
                           blob(select.getColumn(2))});
        return all;
    });
}

Result<std::vector<Key>> DayLog::keys() const {
    return read_from(connections_->path, [&] {
        std::vector<Key> all;
        SQLite::Statement select(connections_->reader, "SELECT hash, person FROM key");
        while (select.executeStep())
            all.push_back({blob(select.getColumn(0)), select.getColumn(1).getUInt()});
        return all;
    });
}

Result<std::vector<Ticket>> DayLog::tickets() const {
    return read_from(connections_->path, [&] {
        std::vector<Ticket> all;
        SQLite::Statement select(connections_->reader, "SELECT hash, role, pilot FROM ticket");
        while (select.executeStep())
            all.push_back({blob(select.getColumn(0)), select.getColumn(1).getInt(),
                           select.getColumn(2).getUInt()});
        return all;
    });
}

std::optional<Fault> DayLog::verify() const {
    std::uint64_t last = 0;
    const auto fault = read_from(connections_->path, [&] {
        return walk(0, UINT64_MAX, [&](const Entry& e) {
            last = e.version;
            return true;
        });
    });
    if (!fault) return Fault{last + 1, fault.error().why};
    return *fault;
}

Result<void> DayLog::in_its_place() const {
    return still_at(connections_->path, connections_->reader);
}

}  // namespace fieldpeg::log
