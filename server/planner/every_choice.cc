#include "server/planner/domains.h"
#include "server/planner/search.h"

#include <algorithm>
#include <bit>
#include <cmath>

namespace fieldpeg::planner {
namespace {

std::vector<Pick> picks_of(const Domains& domains, std::size_t station) {
    std::vector<Pick> picks;
    domains.for_each(domains.all(), station, [&](Pick pick, std::uint64_t word) {
        for (; word != 0; word &= word - 1) {
            pick.channel = static_cast<std::size_t>(std::countr_zero(word));
            picks.push_back(pick);
        }
    });
    return picks;
}

}  // namespace

Outcome every_choice(const Problem& problem, const Reckon& reckon) {
    Outcome out{std::nullopt, -INFINITY, -INFINITY, true, 0};
    if (!is_open(problem)) return out;
    const Domains domains(problem);
    std::vector<std::vector<Pick>> picks;
    Choice choice;
    for (std::size_t s = 0; s < problem.stations.size(); ++s) {
        picks.push_back(picks_of(domains, s));
        choice.push_back(picks.back().front());
    }
    std::vector<std::size_t> at(picks.size(), 0);
    while (true) {
        ++out.nodes;
        if (is_lawful(problem, choice)) {
            const double worst = reckon(choice);
            if (!out.best || worst > out.worst_db) {
                out.best = choice;
                out.worst_db = out.bound_db = worst;
            }
        }
        std::size_t s = 0;
        while (s < at.size() && ++at[s] == picks[s].size()) {
            at[s] = 0;
            choice[s] = picks[s].front();
            ++s;
        }
        if (s == at.size()) return out;
        choice[s] = picks[s][at[s]];
    }
}

}  // namespace fieldpeg::planner
