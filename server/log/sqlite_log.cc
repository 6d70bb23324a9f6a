#include "server/log/sqlite_log.h"

#include "server/log/advice.h"
#include "server/log/connections.h"
#include "server/log/hash.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <boost/assert.hpp>

#include <algorithm>

namespace fieldpeg::log {
namespace {

std::string blob(SQLite::Column column) {
    return {static_cast<const char*>(column.getBlob()),
            static_cast<std::size_t>(column.getBytes())};
}

void bind_blob(SQLite::Statement& statement, int at, const std::string& bytes) {
    statement.bind(at, static_cast<const void*>(bytes.data()), static_cast<int>(bytes.size()));
}

}  // namespace

Refusal refusal(const std::string& path, const SQLite::Exception& error) {
    constexpr int primary = 0xff;  // of a code that says more
    switch (error.getErrorCode() & primary) {
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
        case SQLITE_IOERR:
            return {Refusal::Kind::unavailable, path,
                    fmt::format("cannot be read or written: {}", error.what()),
                    "is its disk still there, and well? Everything said before is kept on it"};
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return {Refusal::Kind::unavailable, path, "is held by another program",
                    "end what else has it open, and ask again"};
        default:
            return {Refusal::Kind::unavailable, path,
                    fmt::format("cannot be used: {}", error.what()), keep_it};
    }
}

namespace {

/// The same of a log that was good when it was opened: whatever is wrong came later.
Refusal broken(const std::string& path, const SQLite::Exception& error) {
    auto why = refusal(path, error);
    why.kind = Refusal::Kind::unavailable;
    return why;
}

Appended appended(const Result<void>& done) {
    return done ? Appended() : Appended(done.error());
}

}  // namespace

const std::string& SqliteLog::path() const {
    return connections_->path;
}

Appended SqliteLog::append(Batch& batch) {
    const auto& held = *connections_;
    BOOST_ASSERT(held.lock || held.writer);
    if (batch.empty()) return {};
    try {
        if (held.lock && held.lock->is_new()) return appended(begin(batch));
        if (!held.writer)
            return Refusal{Refusal::Kind::unavailable, held.path,
                           "was made, and could not be opened then", "start again"};
        if (auto there = in_its_place(); !there) return there.error();
        write(batch);
        if (held.files) held.files->grown();
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
    if (batch.secrets_dropped) db.exec("DELETE FROM key; DELETE FROM ticket");
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

void SqliteLog::write(Batch& batch) {
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

/// A bit may have turned that says how a column is written.
bool has_its_types(SQLite::Statement& row) {
    const auto is_number_or_none = [&](int i) {
        return row.isColumnNull(i) || row.getColumn(i).isFloat();
    };
    return row.getColumn(1).isInteger() && row.getColumn(2).isInteger() &&
           row.getColumn(3).isInteger() && row.getColumn(4).isText() && is_number_or_none(5) &&
           is_number_or_none(6) && row.getColumn(7).isBlob() && row.getColumn(8).isBlob();
}

}  // namespace

Result<std::uint64_t> SqliteLog::last_version() const {
    return read_from(connections_->path, [&] {
        return static_cast<std::uint64_t>(
            connections_->reader.execAndGet("SELECT coalesce(max(version), 0) FROM event")
                .getInt64());
    });
}

Result<std::string> SqliteLog::head_hash() const {
    return read_from(connections_->path, [&] {
        SQLite::Statement last(connections_->reader,
                               "SELECT hash FROM event ORDER BY version DESC LIMIT 1");
        return last.executeStep() ? blob(last.getColumn(0)) : no_hash();
    });
}

std::optional<std::string> SqliteLog::rows(std::uint64_t after, std::uint64_t up_to,
                                           std::string& hash_before, const TakeRow& take) const {
    try {
        SQLite::Statement select(
            connections_->reader,
            "SELECT version, at_ms, actor, subject, kind, frequency_mhz, power_dbm, "
            "record, hash FROM event WHERE version > ? AND version <= ? ORDER BY version");
        select.bind(1, static_cast<std::int64_t>(after));
        select.bind(2, static_cast<std::int64_t>(up_to));
        hash_before = after == 0 ? no_hash() : hash_of(connections_->reader, after);
        while (select.executeStep())
            if (!take(entry(select), has_its_types(select))) break;
    } catch (const SQLite::Exception& error) {
        return fmt::format("the file {}", refusal(connections_->path, error).why);
    }
    return std::nullopt;
}

Result<void> SqliteLog::is_whole() const {
    auto found = read_from(connections_->path, [&] {
        return connections_->reader.execAndGet("PRAGMA integrity_check(1)").getString();
    });
    if (!found) return found.error();
    if (*found == "ok") return {};
    return Refusal{
        Refusal::Kind::unavailable, connections_->path,
        fmt::format("is damaged beside its entries: {}", found->substr(found->rfind('\n') + 1)),
        keep_it};
}

namespace {

void read_names(SQLite::Database& db, std::map<std::uint32_t, std::string>& into) {
    SQLite::Statement select(db, "SELECT id, name FROM name");
    while (select.executeStep())
        into[select.getColumn(0).getUInt()] = select.getColumn(1).getString();
}

void read_answers(SQLite::Database& db, std::vector<Answered>& into) {
    SQLite::Statement select(db, "SELECT person, once, reply FROM answer");
    while (select.executeStep())
        into.push_back({select.getColumn(0).getUInt(), select.getColumn(1).getString(),
                        blob(select.getColumn(2))});
}

void read_keys(SQLite::Database& db, std::vector<Key>& into) {
    SQLite::Statement select(db, "SELECT hash, person FROM key");
    while (select.executeStep())
        into.push_back({blob(select.getColumn(0)), select.getColumn(1).getUInt()});
}

void read_tickets(SQLite::Database& db, std::vector<Ticket>& into) {
    SQLite::Statement select(db, "SELECT hash, role, pilot FROM ticket");
    while (select.executeStep())
        into.push_back({blob(select.getColumn(0)), select.getColumn(1).getInt(),
                        select.getColumn(2).getUInt()});
}

/// All that `read` puts into a T, or why not.
template <class T, class Read>
Result<T> all_of(const std::string& path, SQLite::Database& db, Read read) {
    return read_from(path, [&] {
        T all;
        read(db, all);
        return all;
    });
}

}  // namespace

Result<std::map<std::uint32_t, std::string>> SqliteLog::names() const {
    return all_of<std::map<std::uint32_t, std::string>>(path(), connections_->reader, read_names);
}

Result<std::vector<Answered>> SqliteLog::answers() const {
    return all_of<std::vector<Answered>>(path(), connections_->reader, read_answers);
}

Result<std::vector<Key>> SqliteLog::keys() const {
    return all_of<std::vector<Key>>(path(), connections_->reader, read_keys);
}

Result<std::vector<Ticket>> SqliteLog::tickets() const {
    return all_of<std::vector<Ticket>>(path(), connections_->reader, read_tickets);
}

std::vector<std::string> SqliteLog::read_what_can_be(Batch& into) const {
    std::vector<std::string> lost;
    const auto read = [&](const char* what, const auto& rows, auto& of) {
        try {
            rows(connections_->reader, of);
        } catch (const SQLite::Exception&) {
            lost.emplace_back(what);
        }
    };
    read("names", read_names, into.names);
    read("answers", read_answers, into.answers);
    read("keys", read_keys, into.keys);
    read("tickets", read_tickets, into.tickets);
    return lost;
}

}  // namespace fieldpeg::log
