#pragma once

#include "server/refusal/refusal.h"

#include <string>

namespace fieldpeg::log {

/// Holds a day for one program at a time (flock on a file beside the log). The lock goes with the
/// process, however it ends.
class Lock {
public:
    /// Refuses while another program holds it, and says which process.
    static Result<Lock> take(const std::string& path);

    Lock(Lock&& other) noexcept;
    Lock& operator=(Lock&& other) noexcept;
    Lock(const Lock&) = delete;
    Lock& operator=(const Lock&) = delete;
    ~Lock();

private:
    explicit Lock(int file) : file_(file) {}

    int file_;
};

}  // namespace fieldpeg::log
