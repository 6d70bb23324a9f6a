#pragma once

#include "server/refusal/refusal.h"

#include <sys/types.h>
#include <mutex>
#include <string>

namespace fieldpeg::log {

/// The files that SQLite has open for a log: what is written into one that nobody can find any
/// more, or of which a part is gone, is not there when it is needed. May be asked in any thread.
class OpenFiles {
public:
    /// Of a log that is open now, with its write-ahead file. `beside` is what SQLite puts -wal and
    /// -shm behind: the log's own name, links followed.
    OpenFiles(std::string log, const std::string& beside);

    /// Something was written: what is there now may not become less.
    void grown();

    /// A refusal if the log is moved, deleted, another, or cut off.
    Result<void> log_in_place();
    /// The same of what is beside it.
    Result<void> rest_in_place();

private:
    struct File {
        std::string path;
        dev_t device = 0;
        ino_t number = 0;
        off_t size = 0;  ///< the most that was seen: none of them ever becomes shorter
        bool was_cut = false;
    };
    static File opened(std::string path);
    static const char* fault(File& file);

    std::mutex one_at_a_time_;
    File log_, ahead_, shared_;
};

}  // namespace fieldpeg::log
