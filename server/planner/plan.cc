#include "server/planner/plan.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace fieldpeg::planner {
namespace {

using spectrum::Decibel;

/// Raising the rest is worth less time than the worst.
constexpr std::uint64_t nodes_a_round = 20'000;

/// With more, trying everybody's old place takes longer than it is worth.
constexpr std::size_t settled_back_max = 60;

/// Two worst margins closer than this are one.
constexpr double same_worst_db = 0.005;

/// Margins as lower_powers and raise_the_rest compare them.
std::vector<double> margins(const Tables& tables, const Choice& choice) {
    std::vector<double> all;
    for (const auto& standing : tables.standings(choice))
        all.push_back(tables.margin(standing).count());
    return all;
}

/// The worst of the links that are not held; minus infinite if one that is held falls short.
double worst_of_the_rest(const Tables& tables, const std::vector<std::optional<double>>& held,
                         const Choice& choice) {
    const auto now = margins(tables, choice);
    double least = INFINITY;
    for (std::size_t l = 0; l < now.size(); ++l) {
        if (!held[l])
            least = std::min(least, now[l]);
        else if (now[l] < *held[l])
            return -INFINITY;
    }
    return least;
}

bool stays_sharp(const Tables& tables, std::size_t transmitter, double worst_db,
                 const Choice& choice) {
    const auto standings = tables.standings(choice);
    for (std::size_t l = 0; l < standings.size(); ++l)
        if (tables.links()[l].transmitter == transmitter &&
            (standings[l].sharp < Decibel(0) || tables.margin(standings[l]).count() < worst_db))
            return false;
    return true;
}

/// The indices of a list of powers, the least first.
std::vector<std::size_t> ascending(const std::vector<double>& powers) {
    std::vector<std::size_t> order(powers.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, {}, [&](std::size_t p) { return powers[p]; });
    return order;
}

}  // namespace

Plan plan_of(const Tables& tables, const Outcome& outcome) {
    return {*outcome.best,
            tables.standings(*outcome.best),
            Decibel(outcome.worst_db),
            Decibel(outcome.bound_db),
            outcome.proved,
            outcome.nodes};
}

std::optional<Plan> best_plan(const Tables& tables, const Effort& effort, const Manners& manners) {
    auto outcome = best_choice(tables.problem(), tables.reckon(), effort);
    if (!outcome.best) return std::nullopt;
    if (manners.raise_the_rest) outcome.best = raise_the_rest(tables, *outcome.best, effort);
    if (!manners.holds.empty() && manners.holds.size() <= settled_back_max)
        outcome.best = settle_back(tables, *outcome.best, manners.holds);
    if (!manners.least_power.empty())
        outcome.best = lower_powers(tables, *outcome.best, manners.least_power);
    outcome.worst_db = tables.reckon(*outcome.best);
    return plan_of(tables, outcome);
}

Choice raise_the_rest(const Tables& tables, Choice choice, const Effort& effort) {
    Problem problem = tables.problem();
    std::vector<std::optional<double>> held(tables.links().size());
    problem.held_db.assign(problem.goals.size(), std::nullopt);
    for (std::size_t round = 0; round + 1 < held.size() && !effort.stop(); ++round) {
        const auto now = margins(tables, choice);
        std::size_t worst = held.size();
        for (std::size_t l = 0; l < now.size(); ++l)
            if (!held[l] && (worst == held.size() || now[l] < now[worst])) worst = l;
        held[worst] = now[worst];
        for (std::size_t g = 0; g < problem.goals.size(); ++g)
            if (tables.link_of_goal(g) == worst) problem.held_db[g] = now[worst];
        Effort rest = effort;
        rest.from = choice;
        rest.moves_max = 0;
        rest.progress = [](const Outcome&) {};
        rest.nodes_max = std::min(effort.nodes_max, nodes_a_round);
        const auto raised = best_choice(
            problem, [&](const Choice& c) { return worst_of_the_rest(tables, held, c); }, rest);
        choice = *raised.best;
    }
    return choice;
}

Choice settle_back(const Tables& tables, Choice choice, const Holds& holds) {
    const double worst_db = tables.reckon(choice);
    const auto planned = margins(tables, choice);
    for (std::size_t t = 0; t < choice.size(); ++t) {
        if (!holds[t] || choice[t] == *holds[t]) continue;
        Choice back = choice;
        back[t] = *holds[t];
        const auto then = margins(tables, back);
        bool costs_nothing = true;
        for (std::size_t l = 0; l < then.size(); ++l)
            costs_nothing &=
                then[l] >= planned[l] - stay_for.count() && then[l] >= worst_db - same_worst_db;
        if (costs_nothing) choice = std::move(back);
    }
    return choice;
}

Choice lower_powers(const Tables& tables, Choice choice, const std::vector<bool>& asked) {
    const double worst_db = tables.reckon(choice);
    for (std::size_t t = 0; t < choice.size(); ++t) {
        if (!asked[t]) continue;
        const auto& powers = tables.problem().stations[t].powers;
        for (const auto p : ascending(powers)) {
            Choice lower = choice;
            lower[t].power = p;
            if (powers[p] >= powers[choice[t].power]) break;
            if (!stays_sharp(tables, t, worst_db, lower)) continue;
            choice = std::move(lower);
            break;
        }
    }
    return choice;
}

}  // namespace fieldpeg::planner
