#include "server/log/reading.h"

#include "server/log/connections.h"

#include <fmt/format.h>

#include <cctype>
#include <filesystem>
#include <system_error>

namespace fieldpeg::log {

bool is_empty(SQLite::Database& db) {
    return db.execAndGet("PRAGMA user_version").getInt() == 0 &&
           db.execAndGet("SELECT count(*) FROM sqlite_master").getInt() == 0;
}

SQLite::Database to_read(const std::string& path) {
    return SQLite::Database(path, SQLite::OPEN_READONLY | SQLite::OPEN_FULLMUTEX, busy_wait_ms);
}

std::optional<Refusal> emptied(const std::string& path) {
    std::error_code none;
    if (std::filesystem::file_size(path, none) != 0 || none) return std::nullopt;
    return Refusal{Refusal::Kind::malformed, path, "is empty: whatever the day had is not in it",
                   "put a copy in its place; if there was no day yet, remove it and start again"};
}

std::string beside(const std::string& path, const char* ending) {
    std::error_code none;
    const auto real = std::filesystem::canonical(path, none);
    return (none ? path : real.string()) + ending;
}

namespace {

bool is_there(const std::string& path) {
    std::error_code none;
    return std::filesystem::exists(path, none);
}

bool has_content(const std::string& path) {
    std::error_code none;
    const auto size = std::filesystem::file_size(path, none);
    return !none && size != 0;
}

/// As it is, without a lock, and nothing is made beside it: for a log that nobody writes.
SQLite::Database as_it_is(const std::string& path) {
    std::string uri = "file:";
    for (const char c : path) {
        const auto byte = static_cast<unsigned char>(c);
        uri += std::isalnum(byte) || c == '/' ? std::string(1, c) : fmt::format("%{:02X}", byte);
    }
    return SQLite::Database(uri + "?immutable=1",
                            SQLite::OPEN_READONLY | SQLite::OPEN_FULLMUTEX | SQLite::OPEN_URI);
}

/// With what a program left beside the log that was killed: that is part of it, and has to be read
/// too, or the end of the day is not there.
SQLite::Database with_what_is_beside(const std::string& path) {
    const bool was_cut_off = is_there(beside(path, "-journal"));
    try {
        auto db = to_read(path);
        is_empty(db);  // SQLite opens nothing before it is asked something
        return db;
    } catch (const SQLite::Exception&) {
        if (!was_cut_off && !has_content(beside(path, "-wal"))) return as_it_is(path);
        if (!was_cut_off) throw;
    }
    // What was cut off has to be undone first, and only who may write can do so.
    SQLite::Database db(path, SQLite::OPEN_READWRITE | SQLite::OPEN_FULLMUTEX, busy_wait_ms);
    is_empty(db);
    return db;
}

}  // namespace

/// Nothing beside the log: nobody has it open, since whoever writes has a write-ahead file.
SQLite::Database to_read_by_itself(const std::string& path) {
    const bool is_alone = !is_there(beside(path, "-wal")) && !is_there(beside(path, "-journal"));
    return is_alone ? as_it_is(path) : with_what_is_beside(path);
}

Refusal cannot_be_read(const std::string& path, const SQLite::Exception& error) {
    for (const auto* ending : {"-wal", "-journal"})
        if (const auto file = beside(path, ending); has_content(file))
            return {Refusal::Kind::unavailable, path,
                    fmt::format("goes with {}, which cannot be read where nothing may be written",
                                std::filesystem::path(file).filename().string()),
                    "copy both into a folder of your own, and read them there"};
    return refusal(path, error);
}

}  // namespace fieldpeg::log
