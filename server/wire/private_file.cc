#include "server/wire/private_file.h"

#include <fmt/format.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <iterator>

namespace fieldpeg::wire {
namespace {

bool put_new(const std::string& path, const std::string& text) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (file < 0) return false;
    const bool good =
        ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
        ::fsync(file) == 0;
    const int error = errno;
    ::close(file);
    errno = error;
    return good;
}

}  // namespace

Result<void> write_private(const std::string& path, const std::string& text, Existing existing) {
    const auto beside = path + ".new";
    if (existing == Existing::goes) ::unlink(beside.c_str());  // left by one that was killed
    const bool good = existing == Existing::stays
                          ? put_new(path, text)
                          : put_new(beside, text) && std::rename(beside.c_str(), path.c_str()) == 0;
    if (good) return {};
    return Refusal{Refusal::Kind::unavailable, path,
                   fmt::format("cannot be written: {}", std::strerror(errno)),
                   "is the folder writable, and the disk not full?"};
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

}  // namespace fieldpeg::wire
