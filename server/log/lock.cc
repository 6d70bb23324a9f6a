#include "server/log/lock.h"

#include <fmt/format.h>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <utility>

namespace fieldpeg::log {
namespace {

/// SQLite locks 512 bytes from here on ("File Locking And Concurrency"), and keeps no data in the
/// page that has them.
constexpr off_t sqlite_locks = 0x40000000;
constexpr off_t locked_byte = sqlite_locks + 512;

/// A log may be made or moved while it is looked for.
constexpr int looks_max = 3;

Refusal failed(const std::string& path, const char* what, const char* next) {
    return {Refusal::Kind::unavailable, path, fmt::format("{}: {}", what, std::strerror(errno)),
            next};
}

/// The process that wrote itself into the file; empty if nobody did.
std::string holder_of(const Descriptor& note) {
    char text[32] = {};
    const auto size = ::pread(note.number(), text, sizeof text - 1, 0);
    std::string name(text, size > 0 ? static_cast<std::size_t>(size) : 0);
    while (!name.empty() && name.back() == '\n') name.pop_back();
    return name;
}

Refusal held(const std::string& path, const Descriptor& note) {
    const auto by = holder_of(note);
    return {Refusal::Kind::unavailable, path,
            fmt::format("the day is held by another program{}",
                        by.empty() ? "" : fmt::format(" (process {})", by)),
            "join its server, or stop it first"};
}

void write_holder(const Descriptor& note) {
    const auto self = fmt::format("{}\n", ::getpid());
    if (::ftruncate(note.number(), 0) != 0 ||
        ::pwrite(note.number(), self.data(), self.size(), 0) < 0) {
        // Only for people to read; the lock holds all the same.
    }
}

Result<Descriptor> note_at(const std::string& path) {
    Descriptor note(::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644));
    if (!note.is_open()) return failed(path, "cannot be opened", "is the folder writable?");
    if (::flock(note.number(), LOCK_EX | LOCK_NB) != 0) return held(path, note);
    return note;
}

/// The lock belongs to the open file, not to the process: SQLite closing its own does not end it.
bool locked(const Descriptor& file) {
    struct flock byte {};
    byte.l_type = F_WRLCK;
    byte.l_whence = SEEK_SET;
    byte.l_start = locked_byte;
    byte.l_len = 1;
    return ::fcntl(file.number(), F_OFD_SETLK, &byte) == 0;
}

bool is_at(const Descriptor& file, const std::string& path) {
    struct stat opened {};
    struct stat there {};
    return ::fstat(file.number(), &opened) == 0 && ::stat(path.c_str(), &there) == 0 &&
           opened.st_dev == there.st_dev && opened.st_ino == there.st_ino;
}

/// A name in a folder is on disk only once the folder is.
bool synced_folder_of(const std::string& path) {
    const auto folder = std::filesystem::absolute(path).parent_path();
    const Descriptor open(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    return open.is_open() && ::fsync(open.number()) == 0;
}

}  // namespace

Descriptor::Descriptor(Descriptor&& other) noexcept : number_(std::exchange(other.number_, -1)) {}

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
    std::swap(number_, other.number_);
    return *this;
}

Descriptor::~Descriptor() {
    if (is_open()) ::close(number_);
}

Lock::Lock(Descriptor note, Descriptor file, std::string path, bool is_new)
    : note_(std::move(note)), file_(std::move(file)), path_(std::move(path)), is_new_(is_new) {}

Lock::~Lock() {
    if (is_new_ && file_.is_open() && is_at(file_, path_)) ::unlink(path_.c_str());
}

Result<Lock> Lock::take(const std::string& log) {
    auto note = note_at(log + ".lock");
    if (!note) return note.error();
    for (int look = 0; look < looks_max; ++look) {
        const bool is_new = !std::filesystem::exists(log);
        const auto path = is_new ? log + ".new" : log;
        Descriptor file(::open(path.c_str(), O_RDWR | O_CLOEXEC | (is_new ? O_CREAT : 0), 0644));
        if (!file.is_open()) {
            if (errno == ENOENT && !is_new) continue;
            return failed(path, errno == EACCES ? "may not be written" : "cannot be opened",
                          is_new ? "is the folder writable?" : "whose file is it?");
        }
        if (!locked(file)) {
            if (errno == EAGAIN || errno == EACCES) return held(path, *note);
            return failed(path, "cannot be locked", "is it on a disk of this computer?");
        }
        if (!is_at(file, path) || std::filesystem::exists(log) == is_new) continue;
        write_holder(*note);
        return Lock(*std::move(note), std::move(file), path, is_new);
    }
    return Refusal{Refusal::Kind::unavailable, log, "is being moved about", "try again"};
}

Result<void> Lock::make_empty() const {
    if (::ftruncate(file_.number(), 0) == 0) return {};
    return failed(path_, "cannot be written", "is the disk full?");
}

Result<void> Lock::becomes(const std::string& log) {
    if (::fsync(file_.number()) != 0)
        return failed(path_, "cannot be written", "is the disk full?");
    bool moved = ::renameat2(AT_FDCWD, path_.c_str(), AT_FDCWD, log.c_str(), RENAME_NOREPLACE) == 0;
    if (!moved && (errno == EINVAL || errno == ENOSYS) && !std::filesystem::exists(log))
        moved = std::rename(path_.c_str(), log.c_str()) == 0;  // a disk that knows no other way
    if (!moved)
        return errno == EEXIST
                   ? Refusal{Refusal::Kind::unavailable, log,
                             "is there since a moment ago; it was left as it is", "start again"}
                   : failed(log, "cannot be made", "is the folder writable?");
    is_new_ = false;
    path_ = log;
    if (synced_folder_of(log)) return {};
    return failed(log, "is not sure to be on disk", "is the disk good?");
}

}  // namespace fieldpeg::log
