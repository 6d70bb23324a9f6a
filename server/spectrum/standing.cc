#include "server/spectrum/standing.h"

#include <boost/assert.hpp>

#include <cmath>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

/// Receivers of a hop, with what each lacks of the picture at a place with gain 0 dB.
class Together {
public:
    void add(const Reception& reception, Demand demand, Air air) {
        all_.push_back(
            {reception.gain->flight.medians_db(),
             (reception.sent - reception.body - reception.floor(air) - reception.required(demand))
                 .count()});
        sigma_ = reception.gain->flight.fading().count();
    }

    struct At {
        double share;  ///< of the flight in which at least one has a picture with dB to spare
        double slope;  ///< by which it falls a dB
    };
    At at(double spare_db) const {
        double share = 0, slope = 0;
        const std::size_t places = all_.front().medians_db.size();
        for (std::size_t g = 0; g < places; ++g) {
            double none = 1, none_slope = 0;
            for (const auto& one : all_) {
                const auto [has, rise] =
                    normal_at((one.medians_db[g] + one.above_db - spare_db) / sigma_);
                none_slope = none_slope * (1 - has) + none * rise;
                none *= 1 - has;
            }
            share += 1 - none;
            slope += none_slope;
        }
        const auto count = static_cast<double>(places);
        return {share / count, slope / (count * sigma_)};
    }

    /// The margin for a share of the flight, not less than `least_db`.
    Decibel margin(double wanted, double least_db) const {
        constexpr double resolution_db = 1e-6;
        double low = least_db, high = least_db + 1;
        for (double step = 2; at(high).share > wanted; step *= 2) {
            low = high;
            high += step;
        }
        double x = low;
        while (high - low > resolution_db) {
            const auto [share, slope] = at(x);
            (share > wanted ? low : high) = x;
            const double newton = x + (share - wanted) / slope;
            if (std::abs(newton - x) < resolution_db) return Decibel(newton);
            x = low < newton && newton < high ? newton : (low + high) / 2;
        }
        return Decibel(x);
    }

private:
    struct One {
        std::span<const double> medians_db;
        double above_db;
    };
    std::vector<One> all_;
    double sigma_ = 1;
};

/// C less J and what is required.
Decibel without_closeness(const Reception& r, const Aim& aim) {
    return r.wanted(aim.share) - r.floor(aim.air) - r.required(aim.demand);
}

/// What a hop offers: a margin, if that of closeness is not less.
struct Offer {
    Decibel margin;
    Decibel closeness;

    Decibel least() const { return std::min(margin, closeness); }
};

constexpr Decibel any_closeness{1e9};

/// The receivers of a hop, the roomiest first.
std::vector<const Reception*> roomiest_first(const Receptions& receptions, const Hop& hop,
                                             double share) {
    std::vector<const Reception*> all;
    for (const auto v : hop.receivers) all.push_back(&*receptions[v]);
    if (all.size() > 1)
        std::ranges::stable_sort(all, std::greater<>{},
                                 [&](const auto* r) { return r->closeness(share); });
    return all;
}

Decibel together(std::span<const Reception* const> receivers, const Aim& aim) {
    Together all;
    Decibel best_single{-1e9};
    for (const auto* r : receivers) {
        all.add(*r, aim.demand, aim.air);
        best_single = std::max(best_single, without_closeness(*r, aim));
    }
    return receivers.size() == 1 ? best_single : all.margin(aim.share, best_single.count());
}

/// What a hop offers with all its receivers; where that is too close for one of them, with all but
/// the least roomy, and so on down to the roomiest.
std::vector<Offer> offers(const Receptions& receptions, const Hop& hop, const Aim& aim) {
    const auto all = roomiest_first(receptions, hop, aim.share);
    std::vector<Offer> found;
    for (std::span<const Reception* const> left = all; !left.empty();
         left = left.first(left.size() - 1)) {
        const auto& offer = found.emplace_back(
            Offer{together(left, aim),
                  aim.heeds_closeness ? left.back()->closeness(aim.share) : any_closeness});
        if (offer.margin <= offer.closeness) break;  // fewer receivers cannot do better
    }
    return found;
}

Decibel best(const std::vector<Offer>& offers) {
    Decibel best{-1e9};
    for (const auto& offer : offers) best = std::max(best, offer.least());
    return best;
}

bool is_analogue(const Receptions& receptions, const Way& way) {
    return std::ranges::all_of(way.hops, [&](const Hop& hop) {
        return receptions[hop.receivers.front()]->hears_analogue;
    });
}

/// The best of a chain whose hops add their noise, over what each hop offers.
Decibel best_analogue(const Receptions& receptions, const Way& way, const Aim& aim, std::size_t hop,
                      double noise_share, Decibel closeness) {
    const auto required = receptions[way.hops[hop].receivers.front()]->required(aim.demand);
    Decibel found{-1e9};
    for (const auto& offer : offers(receptions, way.hops[hop], aim)) {
        const double noise = noise_share + linear(-(offer.margin + required));
        const Decibel room = std::min(closeness, offer.closeness);
        found = std::max(found, hop + 1 == way.hops.size()
                                    ? std::min(-decibel(noise) - required, room)
                                    : best_analogue(receptions, way, aim, hop + 1, noise, room));
    }
    return found;
}

template <class Of>
Standing standing_of(const Of& margin_of) {
    const auto with = [&](Demand demand, double share, Air air, bool heeds_closeness = true) {
        return margin_of(Aim{demand, share, air, heeds_closeness});
    };
    Standing s{};
    s.good = with(Demand::watchable, good_share, Air::usual);
    s.usable = with(Demand::watchable, usable_share, Air::usual);
    s.closest = with(Demand::watchable, usable_share, Air::closest);
    s.sharp = with(Demand::sharp, usable_share, Air::usual);
    s.alone_good = with(Demand::watchable, good_share, Air::alone);
    s.alone_usable = with(Demand::watchable, usable_share, Air::alone);
    s.reach_good = with(Demand::watchable, good_share, Air::alone, false);
    s.reach_usable = with(Demand::watchable, usable_share, Air::alone, false);
    return s;
}

/// The share that is not lost to a transmitter that is too strong.
double share_with_room(const Reception& r) {
    return 1 - r.gain->flight.share_above(r.profile->strongest_wanted - r.sent);
}

}  // namespace

Decibel margin(const Reception& r, const Aim& aim) {
    const Decibel m = without_closeness(r, aim);
    return aim.heeds_closeness ? std::min(m, r.closeness(aim.share)) : m;
}

Decibel margin(const Receptions& receptions, const Hop& hop, const Aim& aim) {
    if (hop.receivers.size() == 1) return margin(*receptions[hop.receivers.front()], aim);
    return best(offers(receptions, hop, aim));
}

Decibel margin(const Receptions& receptions, const Way& way, const Aim& aim) {
    if (way.hops.size() == 1) return margin(receptions, way.hops.front(), aim);
    if (is_analogue(receptions, way))
        return best_analogue(receptions, way, aim, 0, 0, any_closeness);
    Decibel least = any_closeness;
    for (const auto& hop : way.hops) least = std::min(least, margin(receptions, hop, aim));
    return least;
}

Decibel margin(const Receptions& receptions, const Viewer& viewer, const Aim& aim) {
    Decibel best{-1e9};
    for (const auto& way : viewer.ways) best = std::max(best, margin(receptions, way, aim));
    return best;
}

double share(const Reception& r, Demand demand, Air air) {
    const Dbm needed = r.floor(air) + r.required(demand) + r.body;
    return std::min(r.gain->flight.share_above(needed - r.sent), share_with_room(r));
}

double share(const Receptions& receptions, const Hop& hop, Demand demand, Air air) {
    if (hop.receivers.size() == 1) return share(*receptions[hop.receivers.front()], demand, air);
    // For a share to be had, those with room for it must have the picture together for it: the
    // roomiest one, or the two roomiest, and so on.
    std::vector<std::pair<double, const Reception*>> by_room;
    for (const auto v : hop.receivers)
        by_room.emplace_back(share_with_room(*receptions[v]), &*receptions[v]);
    std::ranges::stable_sort(by_room, std::greater<>{}, [](const auto& of) { return of.first; });
    double best = 0;
    Together together;
    for (const auto& [room, r] : by_room) {
        together.add(*r, demand, air);
        best = std::max(best, std::min(room, together.at(0).share));
    }
    return best;
}

double share(const Receptions& receptions, const Way& way, Demand demand, Air air) {
    if (way.hops.size() == 1 || !is_analogue(receptions, way)) {
        double least = 1;
        for (const auto& hop : way.hops)
            least = std::min(least, share(receptions, hop, demand, air));
        return least;
    }
    constexpr double resolution = 1e-5;
    double low = 0, high = 1;
    while (high - low > resolution) {
        const double middle = (low + high) / 2;
        (margin(receptions, way, {demand, middle, air}) >= Decibel(0) ? low : high) = middle;
    }
    // Above the last step that was tried it may as well be all.
    return high == 1 ? 1 : low;
}

double share(const Receptions& receptions, const Viewer& viewer, Demand demand, Air air) {
    double best = 0;
    for (const auto& way : viewer.ways) best = std::max(best, share(receptions, way, demand, air));
    return best;
}

Standing standing(const Reception& reception) {
    return standing_of([&](const Aim& aim) { return margin(reception, aim); });
}
Standing standing(const Receptions& receptions, const Hop& hop) {
    return standing_of([&](const Aim& aim) { return margin(receptions, hop, aim); });
}
Standing standing(const Receptions& receptions, const Way& way) {
    return standing_of([&](const Aim& aim) { return margin(receptions, way, aim); });
}
Standing standing(const Receptions& receptions, const Viewer& viewer) {
    return standing_of([&](const Aim& aim) { return margin(receptions, viewer, aim); });
}

}  // namespace fieldpeg::spectrum
