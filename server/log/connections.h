#pragma once

#include "server/log/lock.h"
#include "server/log/open_files.h"
#include "server/log/sqlite_log.h"

#include <SQLiteCpp/SQLiteCpp.h>

#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::log {

/// What a log holds open. The lock closes last, as it must.
struct SqliteLog::Connections {
    std::string path;
    std::optional<Lock> lock;          ///< none: only read, or not on the machine's own disk
    std::unique_ptr<OpenFiles> files;  ///< null without a lock, and before there is a file
    std::optional<SQLite::Database> writer;
    SQLite::Database reader;
};

/// What SQLite could not do, in the words of the day.
Refusal refusal(const std::string& path, const SQLite::Exception& error);

}  // namespace fieldpeg::log
