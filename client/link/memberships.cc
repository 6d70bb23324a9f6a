#include "client/link/memberships.h"

#include "server/book/names.h"
#include "server/service/private_file.h"

#include "fieldpeg/v1/json.h"

#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <vector>

namespace fieldpeg::link {
namespace {

constexpr int memberships_max = 50;

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

Result<v1::Memberships> read_memberships() {
    const auto path = memberships_path();
    if (!std::filesystem::exists(path)) return v1::Memberships();
    const auto text = service::read_private(path);
    if (!text) return text.error();
    v1::Memberships all;
    if (!v1::read_json(*text, all))
        return Refusal{Refusal::Kind::malformed, path, "is not what was written there",
                       "move it away and join again"};
    return all;
}

Result<void> write_memberships(const v1::Memberships& all) {
    const std::filesystem::path path = memberships_path();
    std::error_code error;
    std::filesystem::create_directories(path.parent_path(), error);
    const auto text = v1::json_text(all, {.on_lines = true, .with_zeros = false});
    return service::write_private(path.string(), text, service::Existing::goes);
}

Result<v1::Membership> membership(const std::string& as) {
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

Result<void> keep_membership(const v1::Membership& one) {
    auto all = read_memberships();
    if (!all) return all.error();
    v1::Memberships kept;
    *kept.add_all() = one;
    for (const auto& other : all->all())
        if (!same(one, other) && kept.all_size() < memberships_max) *kept.add_all() = other;
    return write_memberships(kept);
}

}  // namespace fieldpeg::link
