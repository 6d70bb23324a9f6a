// Plays many days and says what became of them: simulation FIRST HOW_MANY. Exit 1: a promise was
// broken; the seed is named, and FIELDPEG_SEED=n plays it again in the test.

#include "tests/simulation/simulation.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <cstdint>
#include <iostream>
#include <string>

namespace fieldpeg::simulation {
namespace {

void print(const Tally& all, std::uint64_t days) {
    const auto each = [&](const char* what, int number) {
        std::cout << fmt::format("{:24} {:10} {:8.2f} a day\n", what, number,
                                 static_cast<double>(number) / static_cast<double>(days));
    };
    each("clients", all.clients);
    each("steps", all.steps);
    each("entries in the log", all.versions);
    each("connections", all.connections);
    each("entrances refused", all.refused_entrances);
    each("connections cut", all.cut_cables);
    each("requests sent again", all.sent_again);
    each("kills", all.kills);
    each("power cuts", all.power_cuts);
    each("stops", all.stops);
    each("failed starts", all.failed_starts);
    each("full disks", all.full_disks);
    each("failed calls to the disk", all.failed_calls);
    each("clock jumps", all.jumps);
    each("changes told", all.changes);
    each("boards compared", all.boards_compared);
    each("refused, and kept", all.refused_yet_kept);
    std::cout << fmt::format("{:20} {:>8} {:>8} {:>8}\n", "command", "yes", "no", "unknown");
    Tally::Asked sum;
    for (const auto& [name, asked] : all.commands) {
        std::cout << fmt::format("{:20} {:8} {:8} {:8}\n", name, asked.yes, asked.no,
                                 asked.unknown);
        sum.yes += asked.yes;
        sum.no += asked.no;
        sum.unknown += asked.unknown;
    }
    std::cout << fmt::format("{:20} {:8} {:8} {:8}: {:.0f} % yes\n", "all", sum.yes, sum.no,
                             sum.unknown, 100.0 * sum.yes / std::max(1, sum.yes + sum.no));
}

int run(std::uint64_t first, std::uint64_t how_many) {
    spdlog::set_level(spdlog::level::off);
    Tally all;
    std::uint64_t kept = 0;
    for (auto seed = first; seed < first + how_many; ++seed) {
        const auto outcome = play(seed);
        all.add(outcome.tally);
        if (outcome.broken.empty())
            ++kept;
        else
            std::cout << fmt::format("FIELDPEG_SEED={}: {}\n", seed, outcome.broken);
    }
    print(all, how_many);
    std::cout << fmt::format("{} of {} days kept every promise\n", kept, how_many);
    return kept == how_many ? 0 : 1;
}

}  // namespace
}  // namespace fieldpeg::simulation

int main(int argc, char** argv) {
    if (argc != 3) {
        std::cerr << "simulation FIRST HOW_MANY\n";
        return 2;
    }
    return fieldpeg::simulation::run(std::stoull(argv[1]), std::stoull(argv[2]));
}
