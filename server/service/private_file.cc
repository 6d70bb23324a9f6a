#include "server/service/private_file.h"

#include <fmt/format.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace fieldpeg::service {
namespace {

Refusal cannot_be_written(const std::string& path) {
    return {Refusal::Kind::unavailable, path,
            fmt::format("cannot be written: {}", std::strerror(errno)),
            "is the folder writable, and the disk not full?"};
}

/// errno of what failed, not of what is done about it.
template <class Undo>
bool undone(Undo undo) {
    const int error = errno;
    undo();
    errno = error;
    return false;
}

bool put_new(const std::string& path, const std::string& text) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (file < 0) return false;
    const bool good =
        ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
        ::fsync(file) == 0;
    if (!good) undone([&] { ::unlink(path.c_str()); });
    return undone([&] { ::close(file); }) || good;
}

/// Its new name is on disk only once the folder is.
bool synced_folder_of(const std::string& path) {
    const auto folder = std::filesystem::absolute(path).parent_path();
    const int open = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (open < 0) return false;
    const bool good = ::fsync(open) == 0;
    return undone([&] { ::close(open); }) || good;
}

/// A disk that cannot rename so has to be asked before.
bool renamed_to_nothing(const std::string& from, const std::string& to) {
    if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0)
        return true;
    if (errno != EINVAL && errno != ENOSYS) return false;
    if (::access(to.c_str(), F_OK) != 0) return std::rename(from.c_str(), to.c_str()) == 0;
    errno = EEXIST;
    return false;
}

}  // namespace

Result<void> write_private(const std::string& path, const std::string& text, Existing existing) {
    const auto beside = path + ".new";
    ::unlink(beside.c_str());  // left by one that was killed
    if (!put_new(beside, text)) return cannot_be_written(path);
    const bool placed = existing == Existing::stays
                            ? renamed_to_nothing(beside, path)
                            : std::rename(beside.c_str(), path.c_str()) == 0;
    if (!placed) undone([&] { ::unlink(beside.c_str()); });
    if (placed && synced_folder_of(path)) return {};
    return cannot_be_written(path);
}

Result<void> move_private(const std::string& from, const std::string& to) {
    if (std::rename(from.c_str(), to.c_str()) == 0 && synced_folder_of(to)) return {};
    return cannot_be_written(to);
}

Result<std::string> read_private(const std::string& path) {
    struct stat info {};
    if (::stat(path.c_str(), &info) != 0)
        return Refusal{Refusal::Kind::not_found, path,
                       fmt::format("cannot be read: {}", std::strerror(errno)), ""};
    if ((info.st_mode & (S_IRWXG | S_IRWXO)) != 0)
        return Refusal{Refusal::Kind::malformed, path, "holds secrets and may be read by others",
                       "chmod 600 it"};
    std::ifstream in(path, std::ios::binary);
    return std::string(std::istreambuf_iterator<char>(in), {});
}

}  // namespace fieldpeg::service
