#include "server/log/new_log.h"

#include <fmt/format.h>

#include <fcntl.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <system_error>
#include <utility>

namespace fieldpeg::log {
namespace {

namespace fs = std::filesystem;

Refusal is_there(const std::string& path) {
    return {Refusal::Kind::conflict, path, "is there already: kept", "name another file"};
}

Refusal not_written(const std::string& path, int error) {
    return {Refusal::Kind::unavailable, path,
            fmt::format("cannot be written: {}", std::strerror(error)),
            "is the folder there, and writable?"};
}

/// What is not finished, gone with all that SQLite put beside it.
class Draft {
public:
    explicit Draft(const std::string& path) : path_(path + ".part") { remove(); }
    ~Draft() { remove(); }
    Draft(const Draft&) = delete;
    Draft& operator=(const Draft&) = delete;

    const std::string& path() const { return path_; }

private:
    void remove() const {
        std::error_code ignored;
        for (const auto* beside : {"", "-wal", "-shm", "-journal"})
            fs::remove(path_ + beside, ignored);
    }

    std::string path_;
};

Result<void> write_draft(const std::string& path, Batch& batch) {
    auto log = DayLog::open(path, DayLog::Access::write);
    if (!log) return log.error();
    return (*log)->append(batch);
}

/// The name of a file that came or went is on disk once its folder is.
void sync_folder_of(const std::string& path) {
    const auto folder = fs::absolute(path).parent_path();
    const int opened = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (opened < 0) return;
    ::fsync(opened);
    ::close(opened);
}

}  // namespace

Result<void> write_new(const std::string& path, Batch& batch) {
    std::error_code none;
    // A log beside it that nobody took over would be read as part of the new one.
    for (const auto* beside : {"", "-wal", "-journal"})
        if (fs::exists(fs::symlink_status(path + beside, none))) return is_there(path + beside);
    const Draft draft(path);
    if (auto written = write_draft(draft.path(), batch); !written) {
        auto why = written.error();
        why.where = path;
        return why;
    }
    if (::renameat2(AT_FDCWD, draft.path().c_str(), AT_FDCWD, path.c_str(), RENAME_NOREPLACE) != 0)
        return errno == EEXIST ? is_there(path) : not_written(path, errno);
    sync_folder_of(path);
    return {};
}

}  // namespace fieldpeg::log
