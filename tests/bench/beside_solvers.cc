// Pilots alike on their channels: writes the tables as a model for a general-purpose constraint
// solver and prints what the planner makes of them. Used by beside_solvers.sh.
//
//     beside_solvers PILOTS CHANNELS_EACH MODEL
//
// CHANNELS_EACH 0: all 39. Writes MODEL.mzn and MODEL.lp.

#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "tests/planner/questions.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <string>
#include <vector>

namespace fieldpeg::planner {
namespace {

constexpr double scale = 10'000;  ///< a noise in whole numbers: 0.0004 dB a step

/// All ears of one geometry hear everybody alike: a table of leak by both channels will do.
/// Products and blocking are far below the noise here and left out; the planner counts them.
std::vector<std::vector<long>> leaks(const Problem& problem, const Ear& ear) {
    const auto& profile = problem.profiles[ear.profile];
    const auto& steps = problem.bands.front();
    const std::size_t other = ear.station == 0 ? 1 : 0;
    const double arrives = problem.stations[other].powers.front() * ear.path[other];
    std::vector<std::vector<long>> table;
    for (const auto own : steps) {
        auto& row = table.emplace_back();
        for (const auto from : steps)
            row.push_back(std::lround(scale * arrives / profile.noise *
                                      profile.leak[0](std::abs(own - from))));
    }
    return table;
}

std::string leak_table(const Problem& problem, const Ear& ear) {
    std::string rows;
    for (const auto& row : leaks(problem, ear)) rows += fmt::format("{},\n", fmt::join(row, ","));
    return rows;
}

bool may_take(const Station& station, std::size_t channel) {
    return (station.channels.front() >> channel & 1) != 0;
}

/// The same as a mixed-integer program: x_v_c says that pilot v is on channel c, and who is not on
/// c does not mind what would be heard there.
void write_program(const Problem& problem, const std::string& path) {
    const std::size_t pilots = problem.stations.size(), channels = problem.bands.front().size();
    std::ofstream program(path);
    program << "Minimize\n obj: z\nSubject To\n";
    for (std::size_t v = 0; v < pilots; ++v) {
        for (std::size_t c = 0; c < channels; ++c)
            if (may_take(problem.stations[v], c)) program << fmt::format(" + x_{}_{}", v, c);
        program << " = 1\n";
    }
    for (const std::size_t ear : {std::size_t{0}, std::size_t{1}}) {
        const auto table = leaks(problem, problem.ears[ear]);
        for (std::size_t v = 0; v < pilots; ++v)
            for (std::size_t c = 0; c < channels; ++c) {
                if (!may_take(problem.stations[v], c)) continue;
                const long most = static_cast<long>(pilots) * std::ranges::max(table[c]);
                program << " z";
                for (std::size_t s = 0; s < pilots; ++s)
                    for (std::size_t d = 0; d < channels; ++d)
                        if (s != v && may_take(problem.stations[s], d))
                            program << fmt::format(" - {} x_{}_{}", table[c][d], s, d);
                program << fmt::format(" - {} x_{}_{} >= {}\n", most, v, c,
                                       std::lround(scale) - most);
            }
    }
    program << "Binaries\n";
    for (std::size_t v = 0; v < pilots; ++v)
        for (std::size_t c = 0; c < channels; ++c)
            if (may_take(problem.stations[v], c)) program << fmt::format(" x_{}_{}\n", v, c);
    program << "End\n";
}

void write_model(const Problem& problem, bool all_alike, const std::string& path) {
    const std::size_t pilots = problem.stations.size(), channels = problem.bands.front().size();
    std::ofstream model(path);
    model << fmt::format("int: n = {}; int: m = {}; int: g = 2;\n", pilots, channels)
          << "array[1..g, 1..m, 1..m] of int: leak = array3d(1..g, 1..m, 1..m, [\n"
          << leak_table(problem, problem.ears[0]) << leak_table(problem, problem.ears[1])
          << "]);\narray[1..n] of set of int: allowed = [";
    for (const auto& station : problem.stations) {
        model << "{";
        for (std::size_t c = 0; c < channels; ++c)
            if ((station.channels.front() >> c & 1) != 0) model << c + 1 << ",";
        model << "},";
    }
    model << "];\narray[1..n] of var 1..m: x;\nvar 0..1000000000: z;\n"
             "constraint forall(v in 1..n)(x[v] in allowed[v]);\n"
          << fmt::format(
                 "constraint forall(v in 1..n, k in 1..g)({:.0f} + sum(s in 1..n where "
                 "s != v)(leak[k, x[v], x[s]]) <= z);\n",
                 scale);
    if (all_alike) model << "constraint forall(v in 1..n-1)(x[v] <= x[v+1]);\n";
    model << "solve minimize z;\noutput [\"z=\\(z)\\n\"];\n";
}

int run(std::size_t pilots, std::size_t channels_each, const std::string& path) {
    const Tables tables(testing::crowd({pilots, 0, {14}, channels_each}));
    const auto& problem = tables.problem();
    write_model(problem, channels_each == 0, path + ".mzn");
    write_program(problem, path + ".lp");
    const std::clock_t start = std::clock();
    const auto found = best_choice(problem, tables.reckon(), {});
    const double took_s = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    const auto& ear = problem.ears.front();
    const double alone = ear.signal.front() * problem.stations.front().powers.front() /
                         problem.profiles[ear.profile].noise;
    fmt::print("planner: {:.3f} s of CPU, margin {:.4f} dB, z about {:.0f}, {}\n", took_s,
               found.worst_db, scale * alone / std::pow(10, found.worst_db / 10),
               found.proved ? "proved" : "open");
    return 0;
}

}  // namespace
}  // namespace fieldpeg::planner

int main(int argc, char** argv) {
    if (argc != 4) return 2;
    return fieldpeg::planner::run(std::stoul(argv[1]), std::stoul(argv[2]), argv[3]);
}
