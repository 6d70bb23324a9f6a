#include "server/log/day_log.h"

#include "server/log/advice.h"
#include "server/log/database_place.h"
#include "server/log/hash.h"
#include "server/log/postgres_log.h"
#include "server/log/sqlite_log.h"

#include <fmt/format.h>

#include <filesystem>

namespace fieldpeg::log {

Result<std::unique_ptr<DayLog>> DayLog::open(const std::string& place, Access access) {
    if (is_database(place)) return PostgresLog::open(place, access);
    return SqliteLog::open(place, access);
}

bool DayLog::exists(const std::string& place) {
    if (is_database(place)) return PostgresLog::exists(place);
    return std::filesystem::exists(place);
}

/// Up to the first entry that is not as it was written, or cannot be read.
std::optional<Fault> DayLog::walk(std::uint64_t after, std::uint64_t up_to,
                                  const std::function<bool(const Entry&)>& take) const {
    constexpr std::uint64_t most = INT64_MAX;
    after = std::min(after, most);
    auto expected = after + 1;
    std::string hash;
    std::optional<Fault> fault;
    const auto unread =
        rows(after, std::min(up_to, most), hash, [&](const Entry& e, bool is_typed) {
            hash = chained(hash, e.record);
            if (e.version != expected)
                fault = Fault{expected, "it is missing"};
            else if (hash != e.hash || !is_typed)
                fault = Fault{e.version, "it, or one before it, is not what was written"};
            ++expected;
            return !fault && take(e);
        });
    if (unread && !fault) return Fault{expected, "it cannot be read: " + *unread};
    return fault;
}

Result<void> DayLog::each(std::uint64_t after, std::uint64_t up_to,
                          const std::function<bool(const Entry&)>& take) const {
    const auto fault = walk(after, up_to, take);
    if (!fault) return {};
    return Refusal{Refusal::Kind::unavailable, path(),
                   fmt::format("entry {}: {}", fault->version, fault->why), keep_it};
}

std::optional<Fault> DayLog::verify() const {
    return walk(0, UINT64_MAX, [](const Entry&) { return true; });
}

std::vector<std::string> DayLog::read_what_can_be(Batch& into) const {
    std::vector<std::string> lost;
    const auto read = [&](const char* what, auto found, auto& of) {
        if (found)
            of = *std::move(found);
        else
            lost.emplace_back(what);
    };
    read("names", names(), into.names);
    read("answers", answers(), into.answers);
    read("keys", keys(), into.keys);
    read("tickets", tickets(), into.tickets);
    return lost;
}

}  // namespace fieldpeg::log
