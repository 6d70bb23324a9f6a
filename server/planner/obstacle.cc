#include "server/planner/obstacle.h"

#include "server/planner/packing.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/viewer.h"

#include <algorithm>
#include <functional>
#include <utility>

namespace fieldpeg::planner {
namespace {

using spectrum::Decibel;
using spectrum::Geometry;

/// Who is worst off by a choice.
struct Worst {
    std::size_t viewer;
    Geometry geometry;
    double margin_db;
};

Worst worst_of(const Tables& tables, const Choice& choice) {
    const auto standings = tables.standings(choice);
    Worst worst{0, Geometry::usual, INFINITY};
    for (std::size_t i = 0; i < standings.size(); ++i) {
        if (!standings[i] || !tables.counts(i)) continue;
        const double margin = tables.margin(*standings[i]).count();
        if (margin >= worst.margin_db) continue;
        const bool by_usual = standings[i]->good.count() <= margin;
        worst = {i, by_usual ? Geometry::usual : Geometry::closest, margin};
    }
    return worst;
}

/// The flight group in which a viewer's picture is, and the viewer there.
std::pair<std::size_t, spectrum::Viewer> seen_in(const Tables& tables, const Choice& choice,
                                                 std::size_t viewer) {
    const auto owner = tables.viewers()[viewer].owner;
    for (std::size_t group = 0; group < tables.question().groups; ++group)
        for (const auto& here : spectrum::viewers(tables.scene(choice, group)))
            if (here.owner == owner) return {group, here};
    return {0, tables.viewers()[viewer]};
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

Obstacle::Limit limit_of(const spectrum::Reception& reception, const spectrum::Standing& standing,
                         const Worst& worst, double target_db) {
    const double share =
        worst.geometry == Geometry::usual ? spectrum::good_share : spectrum::usable_share;
    const bool by_usual = worst.geometry == Geometry::usual;
    const auto reach = by_usual ? standing.reach_good : standing.reach_usable;
    if (reach.count() < target_db) return Obstacle::Limit::range;
    if (reception.closeness(share).count() < target_db) return Obstacle::Limit::too_close;
    if (spectrum::is_ruled_by_desensitisation(reception, worst.geometry))
        return Obstacle::Limit::swamped;
    return Obstacle::Limit::others;
}

/// Of the best way the weakest hop's best receiver.
std::size_t carries(const spectrum::Receptions& receptions, const spectrum::Viewer& viewer) {
    const auto margin = [&](const auto& of) { return spectrum::margin(receptions, of, {}); };
    const auto& way = *std::ranges::max_element(viewer.ways, {}, margin);
    const auto& hop = *std::ranges::min_element(way.hops, {}, margin);
    return *std::ranges::max_element(
        hop.receivers, {}, [&](std::size_t v) { return spectrum::margin(*receptions[v], {}); });
}

}  // namespace

std::optional<Obstacle> obstacle(const Tables& tables, const Choice& choice, Decibel target) {
    const Worst worst = worst_of(tables, choice);
    if (worst.margin_db >= target.count()) return std::nullopt;
    const auto [group, viewer] = seen_in(tables, choice, worst.viewer);
    const auto scene = tables.scene(choice, group);
    const spectrum::LinkTable links(scene);
    spectrum::RejectionTables rejection(scene);
    const auto receptions = spectrum::assess(scene, links, rejection);
    const auto v = carries(receptions, viewer);
    Obstacle found{worst.viewer, v, Decibel(worst.margin_db), {}, {}, {}};
    found.limit =
        limit_of(*receptions[v], spectrum::standing(receptions, viewer), worst, target.count());
    auto terms = spectrum::contributions(scene, links, rejection, v, worst.geometry, 1);
    if (!terms.empty()) {
        const auto members = tables.members(choice, group);
        for (auto& from : terms.front().from) from = members[from];
        found.strongest = std::move(terms.front());
    }
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
    const auto try_change = [&](Relief::Change change, std::size_t t, const Question& asked) {
        if (effort.stop()) return;
        const Tables tables(in_groups(asked, asked.groups));
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
