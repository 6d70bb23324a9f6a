#include "client/verbs/files.h"

#include <fmt/format.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <optional>
#include <system_error>
#include <utility>

namespace fieldpeg::verbs {
namespace {

namespace fs = std::filesystem;

constexpr mode_t mode_usual = 0666;  ///< of which the user's own mask takes away

Refusal cannot(const std::string& path, int error, std::string next = "") {
    return {Refusal::Kind::unavailable, path,
            fmt::format("cannot be written: {}", std::strerror(error)), std::move(next)};
}

bool put_all(int file, std::string_view text) {
    while (!text.empty()) {
        const auto written = ::write(file, text.data(), text.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return false;
        text.remove_prefix(static_cast<std::size_t>(written));
    }
    return true;
}

/// The file that a path leads to, through links and descriptors; none: it leads to no file.
std::optional<std::string> file_behind(const std::string& path) {
    std::error_code error;
    const auto status = fs::status(path, error);
    if (status.type() == fs::file_type::not_found) return path;
    if (!fs::is_regular_file(status)) return std::nullopt;
    const auto real = fs::canonical(path, error);
    return error ? std::nullopt : std::optional(real.string());
}

Result<void> put_straight(const std::string& path, std::string_view text) {
    const int file = ::open(path.c_str(), O_WRONLY | O_TRUNC | O_CLOEXEC);
    if (file < 0) return cannot(path, errno);
    const bool good = put_all(file, text);
    const int error = errno;
    if (::close(file) == 0 && good) return {};
    return cannot(path, good ? errno : error);
}

}  // namespace

Result<NewFile> NewFile::make(const std::string& path, mode_t mode, std::size_t room_bytes) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    if (file < 0) return cannot(path, errno, "name another file");
    NewFile made(path, file);
    if (room_bytes == 0) return made;
    if (const int error = ::posix_fallocate(file, 0, static_cast<off_t>(room_bytes)))
        return cannot(path, error, "make room on the disk, or name a file elsewhere");
    return made;
}

NewFile::NewFile(NewFile&& other) noexcept
    : path_(std::move(other.path_)),
      file_(std::exchange(other.file_, -1)),
      is_filled_(other.is_filled_) {}

NewFile::~NewFile() {
    if (file_ < 0) return;
    ::close(file_);
    if (!is_filled_) ::unlink(path_.c_str());
}

Result<void> NewFile::fill(std::string_view text) {
    is_filled_ = put_all(file_, text) && ::ftruncate(file_, static_cast<off_t>(text.size())) == 0 &&
                 ::fsync(file_) == 0;
    if (!is_filled_) return cannot(path_, errno, "make room on the disk, or name a file elsewhere");
    return {};
}

Result<void> put_file(const std::string& path, std::string_view text) {
    const auto real = file_behind(path);
    if (!real) return put_straight(path, text);
    struct stat before {};
    const bool is_there = ::stat(real->c_str(), &before) == 0;
    const auto failed = [&](Refusal why) {
        why.where = path;
        why.next = is_there ? "what was there stays as it was" : "";
        return why;
    };
    if (is_there && ::access(real->c_str(), W_OK) != 0) return failed(cannot(path, errno));
    const auto beside = fmt::format("{}.{}.part", *real, ::getpid());
    auto file = NewFile::make(beside, mode_usual);
    if (!file) return failed(file.error());
    if (is_there) ::chmod(beside.c_str(), before.st_mode);
    if (const auto filled = file->fill(text); !filled) return failed(filled.error());
    if (std::rename(beside.c_str(), real->c_str()) == 0) return {};
    const auto why = cannot(path, errno);
    ::unlink(beside.c_str());
    return failed(why);
}

}  // namespace fieldpeg::verbs
