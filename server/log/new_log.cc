#include "server/log/new_log.h"

#include <filesystem>
#include <system_error>

namespace fieldpeg::log {

Result<void> write_new(const std::string& path, Batch& batch) {
    namespace fs = std::filesystem;
    std::error_code none;
    // A log beside it that nobody took over would be read as part of the new one.
    for (const auto* beside : {"", "-wal", "-journal"})
        if (fs::exists(fs::symlink_status(path + beside, none)))
            return Refusal{Refusal::Kind::conflict, path + beside, "is there already: kept",
                           "name another file"};
    auto log = DayLog::open(path, DayLog::Access::write);
    if (!log) return log.error();
    const auto appended = (*log)->append(batch);
    return appended ? Result<void>() : Result<void>(appended.error());
}

}  // namespace fieldpeg::log
