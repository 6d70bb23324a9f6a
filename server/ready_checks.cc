#include "server/ready_checks.h"

#include "server/log/database_place.h"
#include "server/log/hash.h"
#include "server/wire/authority.h"

#include <fmt/format.h>

#include <cstdint>
#include <filesystem>
#include <system_error>
#include <utility>

namespace fieldpeg {
namespace {

constexpr std::uintmax_t disk_wanted_bytes = 100'000'000;

void add(v1::ReadyReply& reply, bool good, const char* what, std::string text) {
    auto& check = *reply.add_checks();
    check.set_good(good);
    check.set_what(what);
    check.set_text(std::move(text));
}

void add_disk(const std::string& log, v1::ReadyReply& reply) {
    if (log::is_database(log)) return;  // its disk is another's to watch
    std::error_code error;
    const auto folder = std::filesystem::absolute(log).parent_path();
    const auto space = std::filesystem::space(folder, error);
    add(reply, !error && space.available >= disk_wanted_bytes, "disk",
        error ? error.message() : fmt::format("{} MB free", space.available / 1'000'000));
}

}  // namespace

void add_ready_checks(const wire::Reach& reach, const std::string& fingerprint,
                      const service::DayFiles& files, v1::ReadyReply& reply) {
    const bool is_local = reach.host == "127.0.0.1" || reach.host == "::1";
    add(reply, !is_local, "address",
        wire::authority(reach.host, reach.port) +
            (is_local ? ", which nobody else can reach" : ""));
    add(reply, true, "page",
        reach.board_port == 0 ? "none is served"
                              : fmt::format("http://{}/ for everybody's phone",
                                            wire::authority(reach.host, reach.board_port)));
    add(reply, true, "certificate",
        fmt::format("fingerprint {}", log::hex(fingerprint).substr(0, 16)));
    add_disk(files.log, reply);
    add(reply, true, "version", "fieldpegd " FIELDPEG_VERSION);
}

}  // namespace fieldpeg
