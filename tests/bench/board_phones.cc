// How long a change takes to the last of many phones, and what they cost the server.
// Usage: board_phones FIELDPEGD [PHONES [PILOTS [WATCH]]]: a server of its own, a day of so many
// pilots, half of the phones joined over TLS, half looking without; WATCH is watch_changes or
// watch.

#include "tests/support/gunzip.h"
#include "tests/support/real_server.h"
#include "tests/support/temporary.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <iostream>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::testing {
namespace {

using Clock = std::chrono::steady_clock;
constexpr int rounds = 30;

double ms_since(Clock::time_point begin) {
    return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

/// What phones hear, made large again once where all hear the same: each phone has a thread of its
/// own for it, this program has one for all.
class Ear {
public:
    const std::string& text_of(std::string bytes) {
        if (bytes == bytes_) return text_;
        text_ = bytes.starts_with("\x1f\x8b") ? gunzipped(bytes) : bytes;
        bytes_ = std::move(bytes);
        return text_;
    }
    std::size_t bytes() const { return bytes_.size(); }

private:
    std::string bytes_, text_;
};

int run(const std::string& program, int count, int pilots, const std::string& watch) {
    TemporaryFolder folder;
    const auto day = folder.at("day.toml"), said = folder.at("said");
    write_file(day, day_of(pilots));
    const Process server(program, day, said);
    const auto port = port_said(said);
    const auto tickets = folder.at("day.tickets");
    const auto idle_kb = server.memory_kb();

    std::vector<std::unique_ptr<Browser>> phones;
    const auto began = Clock::now();
    const auto cpu_before = server.cpu_s();
    for (int i = 0; i < count; ++i) {
        const bool joins = i % 2 == 0;
        auto phone =
            std::make_unique<Browser>(port, joins ? Browser::Scheme::https : Browser::Scheme::http,
                                      fmt::format("127.0.{}.{}", 1 + i / 200, 1 + i % 200));
        const auto cookie =
            joins ? cookie_of(port, ticket_of(tickets, "onlooker"), fmt::format("Phone {}", i))
                  : "";
        phone->takes_small = true;
        if (!phone->listen(phone->origin(), cookie)) return 1;
        phone->say(fmt::format(R"({{"request": {{"id": 1, "{}": true}}}})", watch));
        phones.push_back(std::move(phone));
    }
    fmt::print(
        "{} phones connected in {:.0f} ms, {:.2f} s of the server's time; memory {} kB, {} kB "
        "before\n",
        count, ms_since(began), server.cpu_s() - cpu_before, server.memory_kb(), idle_kb);

    Browser marshal(port, Browser::Scheme::https);
    if (!marshal.listen(marshal.origin(), cookie_of(port, ticket_of(tickets, "marshal"), "Max")))
        return 1;
    std::vector<double> to_first, to_last;
    std::size_t bytes = 0;
    Ear ear;
    double cpu = server.cpu_s();
    for (int round = 0; round < rounds; ++round) {
        const auto note = fmt::format("round-{}-here", round);
        v1::Command see;
        *see.mutable_see()->mutable_channel() = channel("E5");
        see.mutable_see()->set_note(note);
        const auto begin = Clock::now();
        const auto reply = marshal.told(see);
        if (!reply || !reply->has_done()) return 1;
        for (auto& phone : phones) {
            auto heard = phone->hear_bytes();
            while (heard && ear.text_of(*std::move(heard)).find(note) == std::string::npos)
                heard = phone->hear_bytes();
            if (!heard) return 1;
            bytes = ear.bytes();
            if (&phone == &phones.front()) to_first.push_back(ms_since(begin));
        }
        to_last.push_back(ms_since(begin));
        v1::Command gone;
        gone.mutable_unsee()->set_sighting(reply->done().id());
        marshal.told(gone);
    }
    cpu = server.cpu_s() - cpu;
    std::ranges::sort(to_first);
    std::ranges::sort(to_last);
    fmt::print(
        "{} pilots, a change of {} bytes: to the first phone {:.1f} ms, to the last {:.1f} ms "
        "(median of {}), {:.1f} ms at worst; the server took {:.1f} ms of time a change; memory {} "
        "kB\n",
        pilots, bytes, to_first[rounds / 2], to_last[rounds / 2], rounds, to_last.back(),
        cpu * 1000 / (2 * rounds), server.memory_kb());
    return 0;
}

}  // namespace
}  // namespace fieldpeg::testing

int main(int argc, char** argv) {
    if (argc < 2) {
        std::cerr << "usage: board_phones FIELDPEGD [PHONES [PILOTS [WATCH]]]\n";
        return 2;
    }
    return fieldpeg::testing::run(argv[1], argc > 2 ? std::atoi(argv[2]) : 300,
                                  argc > 3 ? std::atoi(argv[3]) : 12,
                                  argc > 4 ? argv[4] : "watch_changes");
}
