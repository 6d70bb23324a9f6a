#include "server/log/open_files.h"

#include <fmt/format.h>

#include <sys/stat.h>
#include <algorithm>
#include <utility>

namespace fieldpeg::log {

OpenFiles::OpenFiles(std::string log, const std::string& beside)
    : log_(opened(std::move(log))),
      ahead_(opened(beside + "-wal")),
      shared_(opened(beside + "-shm")) {}

OpenFiles::File OpenFiles::opened(std::string path) {
    File file;
    file.path = std::move(path);
    struct stat there {};
    if (::stat(file.path.c_str(), &there) == 0) {
        file.device = there.st_dev;
        file.number = there.st_ino;
        file.size = there.st_size;
    }
    return file;
}

/// What became of it; null: nothing. A file that was cut is not trusted again.
const char* OpenFiles::fault(File& file) {
    const auto now = opened(file.path);
    if (now.number == 0) return "was moved or deleted";
    if (now.device != file.device || now.number != file.number) return "is another file now";
    if (now.size < file.size) file.was_cut = true;
    file.size = std::max(file.size, now.size);
    return file.was_cut ? "was cut off" : nullptr;
}

void OpenFiles::grown() {
    const std::scoped_lock lock(one_at_a_time_);
    for (auto* file : {&log_, &ahead_, &shared_}) fault(*file);
}

Result<void> OpenFiles::log_in_place() {
    const std::scoped_lock lock(one_at_a_time_);
    const auto* why = fault(log_);
    if (why == nullptr) return {};
    return Refusal{Refusal::Kind::unavailable, log_.path,
                   fmt::format("{}; nothing is recorded", why),
                   log_.was_cut ? "write down the board; then start on a copy, or a new day"
                                : "put it back; until then what was said before can still be read"};
}

Result<void> OpenFiles::rest_in_place() {
    const std::scoped_lock lock(one_at_a_time_);
    for (auto* file : {&ahead_, &shared_})
        if (const auto* why = fault(*file))
            return Refusal{Refusal::Kind::unavailable, file->path,
                           fmt::format("{}; nothing is recorded", why),
                           "put it back, or stop the server and start it again"};
    return {};
}

}  // namespace fieldpeg::log
