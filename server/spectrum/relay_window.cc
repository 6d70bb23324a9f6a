#include "server/spectrum/relay_window.h"

#include "server/spectrum/verdict.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>
#include <map>
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
    using Link = std::pair<std::size_t, std::size_t>;  ///< the transmitter heard, Receiver::link

    Trial(Scene scene, LinkTable links, std::size_t turned, Geometry geometry)
        : scene_(std::move(scene)),
          turned_(turned),
          g_(static_cast<std::size_t>(geometry)),
          links_(std::move(links)),
          tables_(scene_) {
        for (std::size_t v = 0; v < scene_.receivers.size(); ++v)
            if (const auto hears = scene_.receivers[v].hears)
                (*hears == turned_ ? own_ : neighbours_[{*hears, scene_.receivers[v].link}])
                    .push_back(v);
    }

    void power(Dbm power) {
        scene_.transmitters[turned_].power = power;
        budgets_ = assess(scene_, links_, tables_);
    }
    void move_to(const Point& at) {
        scene_.transmitters[turned_].at = at;
        links_.update(scene_, turned_);
        budgets_ = assess(scene_, links_, tables_);
    }

    Margins margin(std::size_t receiver, Demand demand) const {
        return margins(budget(receiver), profile(receiver), demand);
    }
    const Budget& budget(std::size_t receiver) const { return (*budgets_[receiver])[g_]; }
    const ReceiverProfile& profile(std::size_t receiver) const {
        return scene_.profiles[scene_.receivers[receiver].profile];
    }

    /// The receiver with the best picture of a link.
    std::size_t best(const std::vector<std::size_t>& receivers) const {
        return *std::ranges::max_element(
            receivers, {}, [&](std::size_t v) { return margin(v, Demand::watchable).least; });
    }
    bool has_picture(const std::vector<std::size_t>& receivers) const {
        return margin(best(receivers), Demand::watchable).least >= 0_dB;
    }

    const std::vector<std::size_t>& own() const { return own_; }
    /// Receivers of the other links.
    const std::map<Link, std::vector<std::size_t>>& neighbours() const { return neighbours_; }

    PowerLimit::Kind largest_interference(std::size_t receiver) {
        const auto terms = contributions(scene_, links_, tables_, receiver, geometries[g_], 1);
        const double noise_mw = milliwatts(budget(receiver).noise);
        if (terms.empty() || milliwatts(terms.front().level) < noise_mw / 100)
            return PowerLimit::Kind::noise;
        switch (terms.front().kind) {
            case Contribution::Kind::co_channel:
                return PowerLimit::Kind::co_channel;
            case Contribution::Kind::adjacent:
                return PowerLimit::Kind::adjacent;
            case Contribution::Kind::receiver_product:
                return PowerLimit::Kind::receiver_product;
            case Contribution::Kind::transmitter_product:
                break;
        }
        return PowerLimit::Kind::transmitter_product;
    }

    /// Which of the three numbers rules at a receiver, and through what.
    PowerLimit limit(std::size_t receiver) {
        const auto m = margin(receiver, Demand::watchable);
        if (is_swamped(budget(receiver), profile(receiver)))
            return {PowerLimit::Kind::swamped, receiver};
        if (m.closeness == m.least) return {PowerLimit::Kind::too_close, receiver};
        return {largest_interference(receiver), receiver};
    }

private:
    Scene scene_;
    std::size_t turned_;
    std::size_t g_;
    LinkTable links_;
    RejectionTables tables_;
    std::vector<Budgets> budgets_;
    std::vector<std::size_t> own_;
    std::map<Link, std::vector<std::size_t>> neighbours_;
};

/// The neighbours that have a picture without the trial's transmitter.
std::vector<std::vector<std::size_t>> links_to_keep(Trial& trial,
                                                    std::vector<std::size_t>& below_before) {
    trial.power(switched_off);
    std::vector<std::vector<std::size_t>> kept;
    for (const auto& [link, receivers] : trial.neighbours()) {
        if (trial.has_picture(receivers))
            kept.push_back(receivers);
        else
            below_before.insert(below_before.end(), receivers.begin(), receivers.end());
    }
    std::ranges::sort(below_before);
    return kept;
}

/// The first link to lose its picture, as the trial stands.
std::optional<std::size_t> first_harmed(const Trial& trial,
                                        const std::vector<std::vector<std::size_t>>& kept) {
    std::optional<std::size_t> first;
    Decibel least = 0_dB;
    for (const auto& receivers : kept) {
        const auto v = trial.best(receivers);
        const auto m = trial.margin(v, Demand::watchable).least;
        if (m < least) {
            least = m;
            first = v;
        }
    }
    return first;
}

std::optional<Dbm> sharp_from(Trial& trial) {
    if (trial.own().empty()) return std::nullopt;
    const auto is_sharp = [&](double power) {
        trial.power(Dbm(power));
        return std::ranges::any_of(trial.own(), [&](std::size_t v) {
            const auto m = trial.margin(v, Demand::sharp);
            return m.noise_and_interference >= 0_dB && m.swamping.value_or(0_dB) >= 0_dB;
        });
    };
    if (!is_sharp(relay_power_max.count())) return std::nullopt;
    const double below = greatest(relay_power_min.count(), relay_power_max.count(),
                                  power_resolution_db, [&](double p) { return !is_sharp(p); });
    return is_sharp(below) ? Dbm(below) : Dbm(below + power_resolution_db);
}

/// The own goggles that have room for a stronger signal, if there are any.
std::optional<std::size_t> own_overloaded(const Trial& trial) {
    if (trial.own().empty()) return std::nullopt;
    const auto roomiest = *std::ranges::max_element(trial.own(), {}, [&](std::size_t v) {
        return trial.margin(v, Demand::watchable).closeness;
    });
    if (trial.margin(roomiest, Demand::watchable).closeness >= 0_dB) return std::nullopt;
    return roomiest;
}

}  // namespace

PowerWindow relay_window(const Scene& scene, std::size_t relay, Geometry geometry) {
    return relay_window(scene, LinkTable(scene), relay, geometry);
}

PowerWindow relay_window(const Scene& scene, const LinkTable& links, std::size_t relay,
                         Geometry geometry) {
    BOOST_ASSERT(std::holds_alternative<Point>(scene.transmitters[relay].at));
    Trial trial(scene, links, relay, geometry);
    PowerWindow window;
    const auto kept = links_to_keep(trial, window.below_before);
    window.floor = sharp_from(trial);

    const auto harmless = [&](double power) {
        trial.power(Dbm(power));
        return !first_harmed(trial, kept) && !own_overloaded(trial);
    };
    const auto limit_at = [&](double power) -> PowerLimit {
        if (harmless(power)) return {PowerLimit::Kind::range_end, std::nullopt};
        if (const auto neighbour = first_harmed(trial, kept)) return trial.limit(*neighbour);
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

std::optional<Decibel> least_neighbour_margin(const Scene& scene, const LinkTable& links,
                                              std::size_t transmitter, Geometry geometry) {
    Trial trial(scene, links, transmitter, geometry);
    std::vector<std::size_t> below_before;
    const auto kept = links_to_keep(trial, below_before);
    trial.power(scene.transmitters[transmitter].power);
    std::optional<Decibel> least;
    for (const auto& receivers : kept) {
        const auto m = trial.margin(trial.best(receivers), Demand::watchable).least;
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

    Trial trial(scene, links, transmitter, Geometry::ref);
    std::vector<std::size_t> below_before;
    const auto kept = links_to_keep(trial, below_before);
    const auto harmless_at_power = [&](double p) {
        trial.power(Dbm(p));
        return !first_harmed(trial, kept);
    };
    harmless_at_power(power.count());
    advice.harmed_first = first_harmed(trial, kept);
    if (harmless_at_power(power_min.count()))
        advice.power_max = Dbm(greatest(power_min.count(), relay_power_max.count(),
                                        power_resolution_db, harmless_at_power));
    if (!advice.harmed_first) return advice;

    const Point victim = scene.receivers[*advice.harmed_first].at;
    trial.power(power);
    const auto harmful_at_distance = [&](double metres) {
        trial.move_to(moved_away(*bench, victim, Metres(metres)));
        return first_harmed(trial, kept).has_value();
    };
    const double needed = greatest(0, step_back_max_m, distance_resolution_m, harmful_at_distance);
    if (needed < step_back_max_m) advice.step_back = Metres(needed + distance_resolution_m);
    return advice;
}

}  // namespace fieldpeg::spectrum
