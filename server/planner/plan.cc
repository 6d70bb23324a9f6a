#include "server/planner/plan.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace fieldpeg::planner {
namespace {

using spectrum::Decibel;

/// Whether what is preferred is as good is looked for with so many nodes.
constexpr std::uint64_t nodes_for_preferred = 200'000;

/// Raising the rest is worth less time than the worst.
constexpr std::uint64_t nodes_a_round = 20'000;

/// With more, trying everybody's old place takes longer than it is worth.
constexpr std::size_t settled_back_max = 60;

/// Two worst margins closer than this are one.
constexpr double same_worst_db = 0.005;

/// Margins as lower_powers and raise_the_rest compare them; infinite of those that do not count.
std::vector<double> margins(const Tables& tables, const Choice& choice) {
    std::vector<double> all;
    const auto standings = tables.standings(choice);
    for (std::size_t i = 0; i < standings.size(); ++i) {
        if (standings[i] && tables.is_wronged(i, *standings[i]))
            return std::vector<double>(standings.size(), -INFINITY);
        all.push_back(standings[i] && tables.counts(i) ? tables.margin(*standings[i]).count()
                                                       : INFINITY);
    }
    return all;
}

/// The worst of the viewers that are not held; minus infinite if one that is held falls short.
double worst_of_the_rest(const Tables& tables, const std::vector<std::optional<double>>& held,
                         const Choice& choice) {
    const auto now = margins(tables, choice);
    double least = INFINITY;
    for (std::size_t i = 0; i < now.size(); ++i) {
        if (!held[i])
            least = std::min(least, now[i]);
        else if (now[i] < *held[i])
            return -INFINITY;
    }
    return least;
}

bool sees(const spectrum::Viewer& viewer, std::size_t transmitter) {
    return std::ranges::any_of(viewer.ways, [&](const spectrum::Way& way) {
        return std::ranges::find(way.hops, transmitter, &spectrum::Hop::transmitter) !=
               way.hops.end();
    });
}

bool stays_steady(const Tables& tables, std::size_t transmitter, double worst_db,
                  const Choice& choice) {
    const auto standings = tables.standings(choice);
    for (std::size_t i = 0; i < standings.size(); ++i)
        if (standings[i] && sees(tables.viewers()[i], transmitter) &&
            (standings[i]->worst() < Decibel(0) || tables.margin(*standings[i]).count() < worst_db))
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

/// A choice by one question's tables, by those of another that allows it too.
Choice on(const Tables& to, const Tables& from, const Choice& choice) {
    if (&to == &from) return choice;
    Choice same;
    for (std::size_t t = 0; t < choice.size(); ++t)
        same.push_back(
            to.pick(t, from.channel(choice[t]), from.power(t, choice[t]), choice[t].group).value());
    return same;
}

/// Who is in every group is on one channel in all of them.
Choice with_copies(const Tables& tables, Choice choice) {
    for (const auto& [copy, original] : tables.question().copies) {
        const auto group = choice[copy].group;
        choice[copy] = choice[original];
        choice[copy].group = group;
    }
    return choice;
}

/// Whether some choice wrongs nobody, however bad it is otherwise.
bool can_spare(const Question& question, const Effort& effort) {
    constexpr double any_db = -250;
    const Tables tables(question);
    Effort brief = effort;
    brief.from = std::nullopt;
    brief.progress = [](const Outcome&) {};
    brief.nodes_max = std::min(effort.nodes_max, nodes_a_round);
    const auto found = choice_reaching(tables.problem(), tables.reckon(), any_db, brief);
    return found.best && found.worst_db >= any_db;
}

}  // namespace

Question with_fewest_who_pay(Question question, const Effort& effort) {
    const Tables tables(question);
    std::vector<std::size_t> lost;  // owners that no channel helps
    for (std::size_t i = 0; i < tables.viewers().size(); ++i)
        if (!tables.counts(i)) lost.push_back(tables.viewers()[i].owner);
    if (lost.empty() || can_spare(question, effort)) return question;
    // One after the other is spared, if that can be with those spared already.
    question.may_pay = lost;
    for (const auto owner : lost) {
        auto spared = question;
        std::erase(spared.may_pay, owner);
        if (can_spare(spared, effort)) question = std::move(spared);
    }
    return question;
}

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
    const Tables* by = &tables;
    std::optional<Tables> preferred;
    if (manners.preferred) {
        const auto found = preferred_choice(tables, *manners.preferred, outcome.worst_db, effort);
        if (found) {
            outcome.best = found;
            preferred.emplace(*manners.preferred);
            by = &*preferred;
        }
    }
    if (manners.raise_the_rest)
        outcome.best = on(tables, *by, raise_the_rest(*by, on(*by, tables, *outcome.best), effort));
    if (!manners.holds.empty() && manners.holds.size() <= settled_back_max)
        outcome.best = settle_back(tables, *outcome.best, manners.holds);
    if (!manners.least_power.empty())
        outcome.best = lower_powers(tables, *outcome.best, manners.least_power);
    outcome.worst_db = tables.reckon(*outcome.best);
    return plan_of(tables, outcome);
}

std::optional<Choice> preferred_choice(const Tables& tables, const Question& preferred,
                                       double worst_db, const Effort& effort) {
    const Tables fewer(preferred);
    Effort brief = effort;
    brief.from = std::nullopt;
    brief.progress = [](const Outcome&) {};
    brief.nodes_max = std::min(effort.nodes_max, nodes_for_preferred);
    const double target = worst_db - effort.tolerance_db;
    const auto found = std::isfinite(worst_db)
                           ? choice_reaching(fewer.problem(), fewer.reckon(), target, brief)
                           : best_choice(fewer.problem(), fewer.reckon(), brief);
    if (!found.best || found.worst_db < target) return std::nullopt;
    return on(tables, fewer, *found.best);
}

Choice raise_the_rest(const Tables& tables, Choice choice, const Effort& effort) {
    Problem problem = tables.problem();
    std::vector<std::optional<double>> held(tables.viewers().size());
    for (std::size_t round = 0; round + 1 < held.size() && !effort.stop(); ++round) {
        const auto now = margins(tables, choice);
        std::size_t worst = held.size();
        for (std::size_t i = 0; i < now.size(); ++i)
            if (!held[i] && tables.counts(i) && (worst == held.size() || now[i] < now[worst]))
                worst = i;
        if (worst == held.size()) break;
        held[worst] = now[worst];
        for (std::size_t g = 0; g < problem.goals.size(); ++g)
            if (tables.viewer_of_goal(g) == worst) problem.held_db[g] = now[worst];
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
    const auto costs_nothing = [&](const Choice& back) {
        const auto then = margins(tables, back);
        for (std::size_t i = 0; i < then.size(); ++i)
            if ((then[i] != planned[i] && then[i] < planned[i] - stay_for.count()) ||
                then[i] < worst_db - same_worst_db)
                return false;
        return true;
    };
    Choice all_back = choice;  // who change places can only go back together
    for (std::size_t t = 0; t < choice.size(); ++t)
        if (holds[t]) all_back[t] = *holds[t];
    all_back = with_copies(tables, std::move(all_back));
    if (costs_nothing(all_back)) return all_back;
    for (std::size_t t = 0; t < choice.size(); ++t) {
        if (!holds[t] || choice[t] == *holds[t]) continue;
        Choice back = choice;
        back[t] = *holds[t];
        back = with_copies(tables, std::move(back));
        if (costs_nothing(back)) choice = std::move(back);
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
            lower = with_copies(tables, std::move(lower));
            if (!stays_steady(tables, t, worst_db, lower)) continue;
            choice = std::move(lower);
            break;
        }
    }
    return choice;
}

}  // namespace fieldpeg::planner
