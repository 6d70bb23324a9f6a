#pragma once

#include "server/refusal/refusal.h"

#include <SQLiteCpp/SQLiteCpp.h>

#include <optional>
#include <string>

/// A log's file, to be read, also where nothing may be written.
namespace fieldpeg::log {

inline constexpr int busy_wait_ms = 5000;

/// SQLite opens nothing before it is asked something, as this does.
bool is_empty(SQLite::Database& db);

/// Beside a program that writes it.
SQLite::Database to_read(const std::string& path);

/// Whatever program wrote it, or was killed while it did; nothing is left behind.
SQLite::Database to_read_by_itself(const std::string& path);
/// Why that fails.
Refusal cannot_be_read(const std::string& path, const SQLite::Exception& error);

/// A file that SQLite keeps beside a log; links to the log are followed, as SQLite does.
std::string beside(const std::string& path, const char* ending);

/// SQLite would take an empty file for a new database, and what is beside it for nobody's.
std::optional<Refusal> emptied(const std::string& path);

}  // namespace fieldpeg::log
