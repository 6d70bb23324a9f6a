#include "server/planner/obstacle.h"

#include "server/planner/packing.h"

#include <algorithm>
#include <functional>
#include <utility>

namespace fieldpeg::planner {
namespace {

using spectrum::Decibel;
using spectrum::Geometry;

/// Where the worst receiver of a choice is in the scene of its group, and how it stands there.
struct Worst {
    std::size_t link;
    std::size_t receiver;
    Geometry geometry;
    double margin_db;
};

Worst worst_of(const Tables& tables, const Choice& choice) {
    const auto standings = tables.standings(choice);
    Worst worst{0, 0, Geometry::ref, INFINITY};
    for (std::size_t l = 0; l < standings.size(); ++l) {
        const double margin = tables.margin(standings[l]).count();
        if (margin >= worst.margin_db) continue;
        const bool by_ref = standings[l].ref.count() <= margin;
        worst = {l, tables.links()[l].receivers.front(), by_ref ? Geometry::ref : Geometry::worst,
                 margin};
    }
    return worst;
}

/// Index of a transmitter or receiver of the question in the scene of a group.
template <class InGroup>
std::size_t index_in_group(std::size_t all, InGroup in_group) {
    std::size_t index = 0;
    for (std::size_t i = 0; i < all; ++i) index += in_group(i) ? std::size_t{1} : 0;
    return index;
}

std::optional<std::pair<std::size_t, std::size_t>> strangers(const Tables& tables,
                                                             const Choice& choice,
                                                             double target_db) {
    Problem pairs = tables.problem();
    pairs.groups = std::max<std::size_t>(pairs.groups, 2);  // each pair by itself
    const Spacings spacings(pairs, target_db);
    for (std::size_t a = 0; a < choice.size(); ++a)
        for (std::size_t b = a + 1; b < choice.size(); ++b)
            if (choice[a].group == choice[b].group && spacings.between(a, b) == Spacings::never)
                return std::pair(a, b);
    return std::nullopt;
}

Obstacle::Limit limit_of(const spectrum::Budget& budget, const spectrum::ReceiverProfile& profile,
                         double target_db) {
    const auto margins = spectrum::margins(budget, profile, spectrum::Demand::watchable);
    if (spectrum::range_margin(budget, profile).count() < target_db) return Obstacle::Limit::range;
    if (margins.closeness == margins.least) return Obstacle::Limit::too_close;
    if (spectrum::is_swamped(budget, profile)) return Obstacle::Limit::swamped;
    return Obstacle::Limit::others;
}

/// The strongest disturbance of a receiver, by the question's transmitters.
std::optional<spectrum::Contribution> strongest_at(const spectrum::Scene& scene,
                                                   const std::vector<std::size_t>& members,
                                                   std::size_t receiver, Geometry geometry) {
    spectrum::RejectionTables rejection(scene);
    auto all = spectrum::contributions(scene, spectrum::LinkTable(scene), rejection, receiver,
                                       geometry, 1);
    if (all.empty()) return std::nullopt;
    for (auto& from : all.front().from) from = members[from];
    return all.front();
}

}  // namespace

std::optional<Obstacle> obstacle(const Tables& tables, const Choice& choice, Decibel target) {
    const Worst worst = worst_of(tables, choice);
    if (worst.margin_db >= target.count()) return std::nullopt;
    const std::size_t group = choice[tables.links()[worst.link].transmitter].group;
    const auto& receivers = tables.question().scene.receivers;
    const auto scene = tables.scene(choice, group);
    std::vector<std::size_t> members;
    for (std::size_t t = 0; t < choice.size(); ++t)
        if (choice[t].group == group) members.push_back(t);
    const auto in_group = [&](std::size_t v) {
        return receivers[v].hears && choice[*receivers[v].hears].group == group;
    };
    const auto budgets = spectrum::assess(scene);
    const auto at = static_cast<std::size_t>(worst.geometry);
    Obstacle found{worst.link, worst.receiver, Decibel(-INFINITY), {}, {}, {}};
    std::size_t best = 0;
    for (const auto v : tables.links()[worst.link].receivers) {
        const std::size_t here = index_in_group(v, in_group);
        const auto& profile = scene.profiles[receivers[v].profile];
        const auto margin =
            spectrum::margins((*budgets[here])[at], profile, spectrum::Demand::watchable).least;
        if (margin < found.margin) continue;
        found.receiver = v;
        found.margin = margin;
        found.limit = limit_of((*budgets[here])[at], profile, target.count());
        best = here;
    }
    found.strongest = strongest_at(scene, members, best, worst.geometry);
    found.strangers = strangers(tables, choice, target.count());
    return found;
}

std::vector<Relief> reliefs(const Question& question, const Effort& effort) {
    Allowed everything;
    for (const auto& allowed : question.allowed) {
        everything.channels.insert(everything.channels.end(), allowed.channels.begin(),
                                   allowed.channels.end());
        for (const auto power : allowed.powers)
            if (std::ranges::find(everything.powers, power) == everything.powers.end())
                everything.powers.push_back(power);
    }
    std::vector<Relief> all;
    const auto try_change = [&](Relief::Change change, std::size_t t, Question asked) {
        if (effort.stop()) return;
        const Tables tables(std::move(asked));
        const auto found = best_choice(tables.problem(), tables.reckon(), effort);
        if (found.best) all.push_back({change, t, Decibel(found.worst_db)});
    };
    for (std::size_t t = 0; t < question.allowed.size(); ++t) {
        try_change(Relief::Change::stays_out, t, without(question, t));
        Question asked = question;
        asked.allowed[t].channels = everything.channels;
        try_change(Relief::Change::any_channel, t, asked);
        asked = question;
        asked.allowed[t].powers = everything.powers;
        if (asked.allowed[t].powers.size() > question.allowed[t].powers.size())
            try_change(Relief::Change::any_power, t, asked);
    }
    std::ranges::stable_sort(all, std::greater<>{}, &Relief::worst);
    return all;
}

}  // namespace fieldpeg::planner
