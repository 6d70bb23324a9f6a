#include "server/spectrum/guesses.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/ear.h"

#include <algorithm>
#include <cmath>
#include <span>

namespace fieldpeg::spectrum {
namespace {

constexpr std::size_t usual = static_cast<std::size_t>(Geometry::usual);
constexpr Aim good_flight{Demand::watchable, good_share, Air::usual};
constexpr Aim good_alone{Demand::watchable, good_share, Air::alone};

/// How much of a guess about selectivity counts so far from the channel.
double doubted(Hertz off) {
    constexpr double certain_mhz = 5, all_mhz = 20;
    return std::clamp((mhz(off) - certain_mhz) / (all_mhz - certain_mhz), 0.0, 1.0);
}

/// The direct terms with the receiver's selectivity that much better.
double adjacent_mw(const Scene& scene, const Ear& ear, Decibel better) {
    double sum = 0;
    for (std::size_t t = 0; t < scene.transmitters.size(); ++t) {
        const double leak = ear.leak(t)[usual];
        if (leak > 0)
            sum += leak * linear(-doubted(distance(scene.transmitters[t].frequency, ear.tuned())) *
                                 better);
    }
    return sum;
}

void set_desensitisation(Budget& budget, Dbm p1db) {
    if (budget.blockers) budget.desensitisation = desensitisation(*budget.blockers, p1db);
}

/// The reception were one value that much off.
Reception shifted(Reception reception, Guess guess, Decibel by, const Scene& scene,
                  const Ear& ear) {
    auto& budget = reception.budgets[usual];
    switch (guess) {
        case Guess::own_power:
        case Guess::own_antenna:
            reception.sent = reception.sent + by;
            break;
        case Guess::noise_figure:
            reception.noise = reception.noise + by;
            break;
        case Guess::selectivity:
            budget.adjacent_mw = adjacent_mw(scene, ear, by);
            break;
        case Guess::intercept:
            budget.receiver_product_mw *= linear(-2 * by);
            set_desensitisation(budget, reception.profile->p1db + by);
            break;
        case Guess::others_power:
        case Guess::others_antenna:
            budget.adjacent_mw *= linear(by);
            budget.burst_mw *= linear(by);
            budget.harmonic_mw *= linear(by);
            budget.transmitter_product_mw *= linear(by);
            budget.receiver_product_mw *= linear(3 * by);
            if (budget.blockers) budget.blockers = *budget.blockers + by;
            set_desensitisation(budget, reception.profile->p1db);
            break;
    }
    return reception;
}

bool is_ones_own(Guess guess) {
    return guess == Guess::own_power || guess == Guess::own_antenna || guess == Guess::noise_figure;
}

/// Between two ends, whichever is which.
Change change(Decibel a, Decibel b) {
    return {std::min({a, b, 0_dB}), std::max({a, b, 0_dB})};
}

/// Independent ones together.
struct Squares {
    void add(const Change& one) {
        worse += one.worse.count() * one.worse.count();
        better += one.better.count() * one.better.count();
    }
    Change root() const { return {Decibel(-std::sqrt(worse)), Decibel(std::sqrt(better))}; }

    double worse = 0, better = 0;
};

Doubt doubt_of(const Reception& reception, const Guesses& guesses, const Scene& scene,
               const Ear& ear) {
    const Decibel good = margin(reception, good_flight), alone = margin(reception, good_alone);
    Doubt doubt;
    Squares all, all_alone;
    for (std::size_t i = 0; i < guess_count; ++i) {
        const auto guess = static_cast<Guess>(i);
        const auto weak = shifted(reception, guess, guesses[i].weak, scene, ear);
        const auto strong = shifted(reception, guess, guesses[i].strong, scene, ear);
        doubt.of[i] = change(margin(weak, good_flight) - good, margin(strong, good_flight) - good);
        all.add(doubt.of[i]);
        if (is_ones_own(guess))
            all_alone.add(
                change(margin(weak, good_alone) - alone, margin(strong, good_alone) - alone));
    }
    doubt.all = all.root();
    doubt.alone = all_alone.root();
    return doubt;
}

/// A standing with everything as much better.
Standing shifted(const Standing& s, Decibel by, Decibel alone_by) {
    auto at = s;
    at.good = s.good + by;
    at.usable = s.usable + by;
    at.closest = s.closest + by;
    at.sharp = s.sharp + by;
    at.alone_good = std::max(s.alone_good + alone_by, at.good);
    at.alone_usable = std::max(s.alone_usable + alone_by, at.usable);
    at.reach_good = s.reach_good + alone_by;
    at.reach_usable = s.reach_usable + alone_by;
    return at;
}

/// The first that changes the most.
template <typename Size>
Guess greatest(const Doubt& doubt, Size size) {
    return static_cast<Guess>(std::ranges::max_element(doubt.of, {}, size) - doubt.of.begin());
}

}  // namespace

std::vector<std::optional<Doubt>> doubts(const Scene& scene, const LinkTable& links,
                                         RejectionTables& tables, const Receptions& receptions,
                                         const std::vector<Guesses>& guesses) {
    const auto powers_mw = sent_mw(scene);
    std::vector<std::optional<Doubt>> all(receptions.size());
    for (std::size_t v = 0; v < all.size(); ++v) {
        if (!receptions[v]) continue;
        const Ear ear(scene, links, tables, powers_mw, v);
        all[v] = doubt_of(*receptions[v], guesses[v], scene, ear);
    }
    return all;
}

const Doubt& doubt(const std::vector<std::optional<Doubt>>& doubts, const Receptions& receptions,
                   const Viewer& viewer) {
    const auto& way = *std::ranges::max_element(
        viewer.ways, {}, [&](const Way& one) { return margin(receptions, one, good_flight); });
    const auto weakest = *std::ranges::min_element(
        way.hops.back().receivers, {},
        [&](std::size_t v) { return margin(*receptions[v], good_flight); });
    return *doubts[weakest];
}

Outlook outlook(const Standing& standing, const Doubt& doubt) {
    Outlook at{verdict(shifted(standing, doubt.all.worse, doubt.alone.worse)),
               verdict(shifted(standing, doubt.all.better, doubt.alone.better)),
               standing.good + doubt.all.worse,
               standing.good + doubt.all.better,
               {}};
    const auto now = verdict(standing);
    if (at.low != now)
        at.would_settle = greatest(doubt, [](const Change& c) { return -c.worse; });
    else if (at.high != now)
        at.would_settle = greatest(doubt, [](const Change& c) { return c.better; });
    return at;
}

}  // namespace fieldpeg::spectrum
