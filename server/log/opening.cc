/// How a log is made, held, watched and left (docs/formats.md, section 11).

#include "server/log/connections.h"
#include "server/log/reading.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <cstring>
#include <exception>
#include <utility>

namespace fieldpeg::log {
namespace {

constexpr int format_version = 1;
constexpr int application_id = 0x46706567;  // "Fpeg"

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

/// SQLite can be given another disk than the machine's. What we do beside it (locks, renames, a
/// look at its files) would then be done to other files.
bool is_on_machines_disk() {
    return std::strcmp(sqlite3_vfs_find(nullptr)->zName, "unix") == 0;
}

void make_schema(SQLite::Database& db) {
    SQLite::Transaction all(db);
    db.exec(schema);
    db.exec(fmt::format("PRAGMA application_id = {}", application_id));
    db.exec(fmt::format("PRAGMA user_version = {}", format_version));
    all.commit();
}

/// Only on a file that is ours, or nobody's yet.
void make_ready(SQLite::Database& db) {
    // EXTRA is FULL for a write-ahead log; for the journal before it, its removal is sure too.
    db.exec("PRAGMA synchronous = EXTRA");
    db.exec("PRAGMA journal_mode = WAL");
    if (is_empty(db)) make_schema(db);
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

SQLite::Database in_memory() {
    SQLite::Database db(":memory:", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    make_schema(db);
    return db;
}

Result<void> still_at(const std::string& path, const SQLite::Database& db) {
    int moved = 0;
    sqlite3_file_control(db.getHandle(), "main", SQLITE_FCNTL_HAS_MOVED, &moved);
    if (moved == 0) return {};
    return Refusal{Refusal::Kind::unavailable, path, "was moved or deleted; nothing is recorded",
                   "put it back; until then what was said before can still be read"};
}

}  // namespace

Result<std::unique_ptr<DayLog>> SqliteLog::open(const std::string& path, Access access) {
    try {
        if (!is_on_machines_disk()) return opened_elsewhere(path, access);
        return access == Access::write ? opened_to_write(path) : opened_to_read(path, access);
    } catch (const SQLite::Exception& error) {
        return refusal(path, error);
    }
}

Result<std::unique_ptr<DayLog>> SqliteLog::opened_to_write(const std::string& path) {
    auto lock = Lock::take(path);
    if (!lock) return lock.error();
    if (auto empty = emptied(path)) return *std::move(empty);
    const bool is_new = lock->is_new();
    std::unique_ptr<SqliteLog> log(new SqliteLog(std::make_unique<Connections>(
        Connections{path, *std::move(lock), nullptr, std::nullopt, in_memory()})));
    if (is_new) return log;
    if (auto connected = log->connect(); !connected) return connected.error();
    return log;
}

/// To a log that is there and locked. If that fails there is no writer.
Result<void> SqliteLog::connect() {
    auto& held = *connections_;
    try {
        held.writer.emplace(held.path, SQLite::OPEN_READWRITE | SQLite::OPEN_FULLMUTEX,
                            busy_wait_ms);
        const auto wrong =
            is_empty(*held.writer) ? std::nullopt : not_ours(held.path, *held.writer);
        if (wrong) {
            held.writer.reset();
            return *wrong;
        }
        make_ready(*held.writer);
        make_sure(*held.writer);
        held.reader = to_read(held.path);
        is_empty(held.reader);
        held.files = std::make_unique<OpenFiles>(held.path, beside(held.path, ""));
        return {};
    } catch (const SQLite::Exception&) {
        held.writer.reset();
        throw;
    }
}

/// The file appears under its name with its first entry in it, or not at all.
Result<void> SqliteLog::begin(Batch& batch) {
    auto& held = *connections_;
    if (auto made = held.lock->make_empty(); !made) return made;
    try {
        held.writer.emplace(held.lock->file(), SQLite::OPEN_READWRITE | SQLite::OPEN_FULLMUTEX);
        held.writer->exec("PRAGMA synchronous = EXTRA");
        held.writer->exec("PRAGMA journal_mode = MEMORY");  // of one that is killed nothing is kept
        make_schema(*held.writer);
        write(batch);
        held.writer.reset();
    } catch (...) {
        held.writer.reset();
        throw;
    }
    if (auto placed = held.lock->becomes(held.path); !placed) return placed;
    return connect();
}

Result<std::unique_ptr<DayLog>> SqliteLog::opened_to_read(const std::string& path, Access access) {
    if (auto empty = emptied(path)) return *std::move(empty);
    try {
        auto reader = to_read_by_itself(path);
        // SQLite has no other word for: read on, though the file is shorter than it says.
        if (access == Access::read_damaged) reader.exec("PRAGMA writable_schema = ON");
        if (const auto wrong = not_ours(path, reader)) return *wrong;
        return std::unique_ptr<DayLog>(new SqliteLog(std::make_unique<Connections>(
            Connections{path, std::nullopt, nullptr, std::nullopt, std::move(reader)})));
    } catch (const SQLite::Exception& error) {
        return cannot_be_read(path, error);
    }
}

namespace {

/// What was cut off has to be undone first, and only who may write can do so.
SQLite::Database to_read_elsewhere(const std::string& path) {
    auto db = to_read(path);
    try {
        is_empty(db);
        return db;
    } catch (const SQLite::Exception& error) {
        constexpr int primary = 0xff;
        if ((error.getErrorCode() & primary) != SQLITE_READONLY) throw;
    }
    SQLite::Database undoing(path, SQLite::OPEN_READWRITE | SQLite::OPEN_FULLMUTEX, busy_wait_ms);
    is_empty(undoing);
    return undoing;
}

}  // namespace

Result<std::unique_ptr<DayLog>> SqliteLog::opened_elsewhere(const std::string& path,
                                                            Access access) {
    std::optional<SQLite::Database> writer;
    if (access == Access::write) {
        writer.emplace(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE | SQLite::OPEN_FULLMUTEX,
                       busy_wait_ms);
        if (!is_empty(*writer))
            if (const auto wrong = not_ours(path, *writer)) return *wrong;
        make_ready(*writer);
        make_sure(*writer);
    }
    auto reader = to_read_elsewhere(path);
    if (const auto wrong = not_ours(path, reader)) return *wrong;
    return std::unique_ptr<DayLog>(new SqliteLog(std::make_unique<Connections>(
        Connections{path, std::nullopt, nullptr, std::move(writer), std::move(reader)})));
}

SqliteLog::SqliteLog(std::unique_ptr<Connections> connections)
    : connections_(std::move(connections)) {}

SqliteLog::~SqliteLog() {
    if (!connections_->writer) return;
    try {
        leave_one_file();
    } catch (const std::exception&) {
        // Somebody reads along: it stays as it is, and is taken over by whoever opens it next.
    }
}

/// A day that is over is one file, which can be read where nothing may be written.
void SqliteLog::leave_one_file() {
    auto& held = *connections_;
    if (!in_its_place()) {  // and nothing is taken away that may be another's
        sqlite3_db_config(held.writer->getHandle(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
        return;
    }
    held.reader = SQLite::Database(":memory:", SQLite::OPEN_READWRITE);
    held.writer->setBusyTimeout(0);
    held.writer->exec("PRAGMA journal_mode = DELETE");
}

/// SQLite goes on writing into a file that was moved or deleted.
Result<void> SqliteLog::in_its_place() const {
    const auto& held = *connections_;
    if (!held.files) return still_at(held.path, held.reader);
    if (auto log = held.files->log_in_place(); !log) return log;
    auto rest = held.files->rest_in_place();
    // What only the write-ahead file has is gone with SQLite's hold on it: into the log with it.
    if (!rest)
        sqlite3_wal_checkpoint_v2(held.writer->getHandle(), "main", SQLITE_CHECKPOINT_PASSIVE,
                                  nullptr, nullptr);
    return rest;
}

}  // namespace fieldpeg::log
