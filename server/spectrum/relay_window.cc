#include "server/spectrum/relay_window.h"

#include "server/spectrum/standing.h"
#include "server/spectrum/viewer.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

namespace fieldpeg::spectrum {
namespace {

constexpr double power_resolution_db = 1e-3;
constexpr double distance_resolution_m = 0.1;
constexpr double step_back_max_m = 500;

/// The greatest x in [low, high] for which `holds`, which must hold at `low` and, where it fails,
/// fail from there on.
template <class Holds>
double greatest(double low, double high, double resolution, Holds holds) {
    if (holds(high)) return high;
    while (high - low > resolution) {
        const double middle = (low + high) / 2;
        (holds(middle) ? low : high) = middle;
    }
    return low;
}

/// A scene in which one transmitter's power is turned up and down, and the transmitter moved.
class Trial {
public:
    Trial(Scene scene, LinkTable links, std::size_t turned, Geometry geometry)
        : scene_(std::move(scene)),
          turned_(turned),
          geometry_(geometry),
          links_(std::move(links)),
          tables_(scene_) {
        power(switched_off);
        for (const auto& viewer : viewers(scene_)) add_neighbours(viewer);
        for (std::size_t v = 0; v < scene_.receivers.size(); ++v)
            if (scene_.receivers[v].hears == turned_) own_.push_back(v);
    }

    void power(Dbm power) {
        scene_.transmitters[turned_].power = power;
        receptions_ = assess(scene_, links_, tables_);
    }
    void move_to(const Point& at) {
        scene_.transmitters[turned_].at = at;
        links_.update(scene_, turned_);
        receptions_ = assess(scene_, links_, tables_);
    }

    Decibel margin(const Hop& hop) const { return worst(spectrum::standing(receptions_, hop)); }
    Decibel margin(std::size_t v) const { return worst(spectrum::standing(reception(v))); }
    const Reception& reception(std::size_t v) const { return *receptions_[v]; }

    /// Whether a receiver has a good flight and a sharp picture, but for being too close.
    bool is_sharp(std::size_t v) const {
        const auto has = [&](Demand demand, double share, Air air) {
            return spectrum::margin(reception(v), {demand, share, air, false}) >= 0_dB;
        };
        return has(Demand::watchable, good_share, Air::usual) &&
               has(Demand::sharp, usable_share, Air::usual) &&
               (geometry_ == Geometry::usual || has(Demand::sharp, usable_share, Air::closest));
    }
    Decibel closeness(std::size_t v) const { return reception(v).closeness(good_share); }

    const std::vector<std::size_t>& own() const { return own_; }
    const std::vector<Hop>& neighbours() const { return neighbours_; }

    /// What rules at a hop, and at which receiver: the one that carries it.
    PowerLimit limit(const Hop& hop) {
        const auto v = *std::ranges::max_element(
            hop.receivers, {}, [&](std::size_t receiver) { return margin(receiver); });
        const auto geometry = ruling(spectrum::standing(reception(v)));
        return {what_rules(scene_, links_, tables_, reception(v), v, geometry), v};
    }

private:
    Decibel worst(const Standing& s) const {
        return geometry_ == Geometry::usual ? s.good : s.worst();
    }
    /// The geometry in which a receiver's margin is least.
    Geometry ruling(const Standing& s) const {
        return geometry_ == Geometry::closest && s.closest < s.good ? Geometry::closest
                                                                    : Geometry::usual;
    }

    /// The hops of the way by which somebody sees their picture, but for that from here.
    void add_neighbours(const Viewer& viewer) {
        const auto goes_through = [&](const Way& way) {
            return std::ranges::find(way.hops, turned_, &Hop::transmitter) != way.hops.end();
        };
        const auto good = [&](const Way& way) { return spectrum::margin(receptions_, way, {}); };
        auto way = std::ranges::find_if(viewer.ways, goes_through);
        if (way == viewer.ways.end()) way = std::ranges::max_element(viewer.ways, {}, good);
        for (const auto& hop : way->hops)
            if (hop.transmitter != turned_) neighbours_.push_back(hop);
    }

    Scene scene_;
    std::size_t turned_;
    Geometry geometry_;
    LinkTable links_;
    RejectionTables tables_;
    Receptions receptions_;
    std::vector<std::size_t> own_;
    std::vector<Hop> neighbours_;
};

/// The neighbours that have a good flight without the trial's transmitter.
std::vector<Hop> hops_to_keep(Trial& trial, std::vector<std::size_t>& below_before) {
    trial.power(switched_off);
    std::vector<Hop> kept;
    for (const auto& hop : trial.neighbours()) {
        if (trial.margin(hop) >= 0_dB)
            kept.push_back(hop);
        else
            below_before.insert(below_before.end(), hop.receivers.begin(), hop.receivers.end());
    }
    std::ranges::sort(below_before);
    return kept;
}

/// The hop that is worst off below 0 dB, as the trial stands.
const Hop* first_harmed(const Trial& trial, const std::vector<Hop>& kept) {
    const Hop* first = nullptr;
    Decibel least = 0_dB;
    for (const auto& hop : kept) {
        const auto m = trial.margin(hop);
        if (m < least) {
            least = m;
            first = &hop;
        }
    }
    return first;
}

std::optional<Dbm> sharp_from(Trial& trial) {
    if (trial.own().empty()) return std::nullopt;
    const auto is_sharp = [&](double power) {
        trial.power(Dbm(power));
        return std::ranges::any_of(trial.own(), [&](std::size_t v) { return trial.is_sharp(v); });
    };
    if (!is_sharp(relay_power_max.count())) return std::nullopt;
    const double below = greatest(relay_power_min.count(), relay_power_max.count(),
                                  power_resolution_db, [&](double p) { return !is_sharp(p); });
    return is_sharp(below) ? Dbm(below) : Dbm(below + power_resolution_db);
}

/// The roomiest of the own goggles if even they have no room for a stronger signal.
std::optional<std::size_t> own_overloaded(const Trial& trial) {
    if (trial.own().empty()) return std::nullopt;
    const auto roomiest = *std::ranges::max_element(
        trial.own(), {}, [&](std::size_t v) { return trial.closeness(v); });
    if (trial.closeness(roomiest) >= 0_dB) return std::nullopt;
    return roomiest;
}

}  // namespace

PowerLimit::Kind what_rules(const Scene& scene, const LinkTable& links, RejectionTables& tables,
                            const Reception& reception, std::size_t receiver, Geometry geometry) {
    if (is_ruled_by_desensitisation(reception, geometry)) return PowerLimit::Kind::swamped;
    if (reception.closeness(geometry == Geometry::usual ? good_share : usable_share) < 0_dB)
        return PowerLimit::Kind::too_close;
    const auto terms = contributions(scene, links, tables, receiver, geometry, 1);
    if (terms.empty() || terms.front().level < reception.noise) return PowerLimit::Kind::noise;
    return limit_kind(terms.front().kind);
}

PowerLimit::Kind limit_kind(Contribution::Kind kind) {
    switch (kind) {
        case Contribution::Kind::co_channel:
            return PowerLimit::Kind::co_channel;
        case Contribution::Kind::adjacent:
            return PowerLimit::Kind::adjacent;
        case Contribution::Kind::receiver_product:
            return PowerLimit::Kind::receiver_product;
        case Contribution::Kind::burst:
            return PowerLimit::Kind::burst;
        case Contribution::Kind::harmonic:
            return PowerLimit::Kind::harmonic;
        case Contribution::Kind::transmitter_product:
            break;
    }
    return PowerLimit::Kind::transmitter_product;
}

PowerWindow relay_window(const Scene& scene, std::size_t relay, Geometry geometry) {
    return relay_window(scene, LinkTable(scene), relay, geometry);
}

PowerWindow relay_window(const Scene& scene, const LinkTable& links, std::size_t relay,
                         Geometry geometry) {
    BOOST_ASSERT(std::holds_alternative<Point>(scene.transmitters[relay].at));
    Trial trial(scene, links, relay, geometry);
    PowerWindow window;
    const auto kept = hops_to_keep(trial, window.below_before);
    window.floor = sharp_from(trial);

    const auto harmless = [&](double power) {
        trial.power(Dbm(power));
        return !first_harmed(trial, kept) && !own_overloaded(trial);
    };
    const auto limit_at = [&](double power) -> PowerLimit {
        if (harmless(power)) return {PowerLimit::Kind::range_end, std::nullopt};
        if (const auto* neighbour = first_harmed(trial, kept)) return trial.limit(*neighbour);
        return {PowerLimit::Kind::too_close, own_overloaded(trial)};
    };
    if (!harmless(relay_power_min.count())) {
        window.limited_by = limit_at(relay_power_min.count());
        return window;
    }
    const double ceiling =
        greatest(relay_power_min.count(), relay_power_max.count(), power_resolution_db, harmless);
    window.ceiling = Dbm(ceiling);
    window.limited_by = limit_at(std::min(ceiling + power_resolution_db, relay_power_max.count()));
    return window;
}

PowerWindow with_controls(PowerWindow window, const Scene& scene, const ControlLinks& links,
                          std::size_t relay) {
    if (scene.controls.empty() || !window.ceiling) return window;
    RejectionTables tables(scene, control_grid(scene));
    auto trial = scene;
    const auto at = [&](Dbm power) {
        trial.transmitters[relay].power = power;
        return assess_controls(trial, links, tables);
    };
    const auto without = at(switched_off);
    const auto first_at_risk = [&](double power) -> std::optional<std::size_t> {
        const auto with = at(Dbm(power));
        for (std::size_t c = 0; c < with.size(); ++c)
            if (with[c].word == ControlWord::at_risk && without[c].word == ControlWord::ok)
                return c;
        return std::nullopt;
    };
    const auto harmless = [&](double power) { return !first_at_risk(power); };
    const auto limit_at = [&](double power) {
        return PowerLimit{PowerLimit::Kind::control, std::nullopt, first_at_risk(power)};
    };
    if (harmless(window.ceiling->count())) return window;
    if (!harmless(relay_power_min.count())) {
        window.ceiling.reset();
        window.limited_by = limit_at(relay_power_min.count());
        return window;
    }
    const double ceiling =
        greatest(relay_power_min.count(), window.ceiling->count(), power_resolution_db, harmless);
    window.ceiling = Dbm(ceiling);
    window.limited_by = limit_at(ceiling + power_resolution_db);
    return window;
}

std::optional<Decibel> least_neighbour_margin(const Scene& scene, const LinkTable& links,
                                              std::size_t transmitter, Geometry geometry) {
    Trial trial(scene, links, transmitter, geometry);
    std::vector<std::size_t> below_before;
    const auto kept = hops_to_keep(trial, below_before);
    trial.power(scene.transmitters[transmitter].power);
    std::optional<Decibel> least;
    for (const auto& hop : kept) {
        const auto m = trial.margin(hop);
        least = least ? std::min(*least, m) : m;
    }
    return least;
}

Point moved_away(const Point& point, const Point& from, Metres by) {
    const double dx = point.x_m - from.x_m;
    const double dy = point.y_m - from.y_m;
    const double d = std::hypot(dx, dy);
    if (d <= 0) return {point.x_m, point.y_m - by.count(), point.z_m};  // back from the line: south
    return {point.x_m + by.count() * dx / d, point.y_m + by.count() * dy / d, point.z_m};
}

BenchAdvice bench_advice(const Scene& scene, const LinkTable& links, std::size_t transmitter) {
    const auto* bench = std::get_if<Point>(&scene.transmitters[transmitter].at);
    BOOST_ASSERT(bench);
    const Dbm power = scene.transmitters[transmitter].power;
    BenchAdvice advice;

    Trial trial(scene, links, transmitter, Geometry::usual);
    std::vector<std::size_t> below_before;
    const auto kept = hops_to_keep(trial, below_before);
    const auto harmless_at_power = [&](double p) {
        trial.power(Dbm(p));
        return !first_harmed(trial, kept);
    };
    harmless_at_power(power.count());
    if (const auto* harmed = first_harmed(trial, kept))
        advice.harmed_first = trial.limit(*harmed).receiver;
    if (harmless_at_power(power_min.count()))
        advice.power_max = Dbm(greatest(power_min.count(), relay_power_max.count(),
                                        power_resolution_db, harmless_at_power));
    if (!advice.harmed_first) return advice;

    const Point victim = scene.receivers[*advice.harmed_first].at;
    trial.power(power);
    const auto harmful_at_distance = [&](double metres) {
        trial.move_to(moved_away(*bench, victim, Metres(metres)));
        return first_harmed(trial, kept) != nullptr;
    };
    const double needed = greatest(0, step_back_max_m, distance_resolution_m, harmful_at_distance);
    if (needed < step_back_max_m) advice.step_back = Metres(needed + distance_resolution_m);
    return advice;
}

}  // namespace fieldpeg::spectrum
