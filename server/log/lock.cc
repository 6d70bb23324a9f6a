#include "server/log/lock.h"

#include <fmt/format.h>

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>
#include <cerrno>
#include <cstring>
#include <utility>

namespace fieldpeg::log {
namespace {

/// The process that wrote itself into the file; empty if nobody did.
std::string holder_of(int file) {
    char text[32] = {};
    const auto size = ::pread(file, text, sizeof text - 1, 0);
    std::string name(text, size > 0 ? static_cast<std::size_t>(size) : 0);
    while (!name.empty() && name.back() == '\n') name.pop_back();
    return name;
}

}  // namespace

Result<Lock> Lock::take(const std::string& path) {
    const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (file < 0)
        return Refusal{Refusal::Kind::unavailable, path,
                       fmt::format("cannot be opened: {}", std::strerror(errno)),
                       "is the folder writable?"};
    if (::flock(file, LOCK_EX | LOCK_NB) != 0) {
        const auto by = holder_of(file);
        ::close(file);
        return Refusal{Refusal::Kind::unavailable, path,
                       fmt::format("the day is held by another program{}",
                                   by.empty() ? "" : fmt::format(" (process {})", by)),
                       "join its server, or stop it first"};
    }
    const auto self = fmt::format("{}\n", ::getpid());
    if (::ftruncate(file, 0) != 0 || ::pwrite(file, self.data(), self.size(), 0) < 0) {
        // Only for people to read; the lock holds all the same.
    }
    return Lock(file);
}

Lock::Lock(Lock&& other) noexcept : file_(std::exchange(other.file_, -1)) {}

Lock& Lock::operator=(Lock&& other) noexcept {
    std::swap(file_, other.file_);
    return *this;
}

Lock::~Lock() {
    if (file_ >= 0) ::close(file_);
}

}  // namespace fieldpeg::log
