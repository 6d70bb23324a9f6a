#include "client/link/memberships.h"

#include "server/book/names.h"

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <vector>

namespace fieldpeg::link {
namespace {

using spectrum::Refusal;

constexpr int memberships_max = 50;

Refusal cannot(const std::string& path, const char* what) {
    return {Refusal::Kind::unavailable, path,
            fmt::format("cannot be {}: {}", what, std::strerror(errno)), ""};
}

bool same(const v1::Membership& a, const v1::Membership& b) {
    return a.fingerprint() == b.fingerprint() &&
           book::name_key(a.name()) == book::name_key(b.name());
}

}  // namespace

std::string memberships_path() {
    const char* base = std::getenv("XDG_CONFIG_HOME");
    const char* home = std::getenv("HOME");
    const std::filesystem::path root = base && *base
                                           ? std::filesystem::path(base)
                                           : std::filesystem::path(home ? home : ".") / ".config";
    return (root / "fieldpeg" / "joined.json").string();
}

spectrum::Result<v1::Memberships> read_memberships() {
    const auto path = memberships_path();
    struct stat info {};
    if (::stat(path.c_str(), &info) != 0) return v1::Memberships();
    if ((info.st_mode & (S_IRWXG | S_IRWXO)) != 0)
        return Refusal{Refusal::Kind::malformed, path, "holds keys and may be read by others",
                       "chmod 600 it"};
    std::ifstream in(path, std::ios::binary);
    const std::string text(std::istreambuf_iterator<char>(in), {});
    v1::Memberships all;
    if (!google::protobuf::util::JsonStringToMessage(text, &all).ok())
        return Refusal{Refusal::Kind::malformed, path, "is not what was written there",
                       "move it away and join again"};
    return all;
}

spectrum::Result<void> write_memberships(const v1::Memberships& all) {
    const std::filesystem::path path = memberships_path();
    std::error_code error;
    std::filesystem::create_directories(path.parent_path(), error);
    google::protobuf::util::JsonPrintOptions options;
    options.add_whitespace = true;
    options.preserve_proto_field_names = true;
    std::string text;
    if (!google::protobuf::util::MessageToJsonString(all, &text, options).ok())
        return Refusal{Refusal::Kind::malformed, path.string(), "cannot be put into words", ""};
    const auto beside = path.string() + ".new";
    const int file = ::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (file < 0) return cannot(beside, "written");
    const bool good =
        ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
        ::fsync(file) == 0;
    ::close(file);
    if (!good || std::rename(beside.c_str(), path.c_str()) != 0)
        return cannot(path.string(), "written");
    return {};
}

spectrum::Result<v1::Membership> membership(const std::string& as) {
    const auto all = read_memberships();
    if (!all) return all.error();
    std::vector<std::string> names;
    for (const auto& one : all->all()) {
        if (as.empty() || book::name_key(one.name()) == book::name_key(as)) return one;
        names.push_back(one.name());
    }
    if (names.empty())
        return Refusal{Refusal::Kind::not_found, "", "no server has been joined from here",
                       "fieldpeg join, with a ticket"};
    return Refusal{Refusal::Kind::not_found, "--as",
                   fmt::format("nobody joined from here as '{}'", book::printable(as)),
                   fmt::format("joined: {}", fmt::join(names, ", "))};
}

spectrum::Result<void> keep_membership(const v1::Membership& one) {
    auto all = read_memberships();
    if (!all) return all.error();
    v1::Memberships kept;
    *kept.add_all() = one;
    for (const auto& other : all->all())
        if (!same(one, other) && kept.all_size() < memberships_max) *kept.add_all() = other;
    return write_memberships(kept);
}

}  // namespace fieldpeg::link
