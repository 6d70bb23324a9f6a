#include "tests/monte_carlo/simulation.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/rejection.h"
#include "tests/support/random.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <optional>
#include <utility>
#include <variant>

namespace fieldpeg::testing {
namespace {

using spectrum::Decibel;
using spectrum::Degrees;
using spectrum::Envelope;
using spectrum::Hertz;
using spectrum::Hop;
using spectrum::Metres;
using spectrum::Point;
using spectrum::Polarisation;
using spectrum::Ray;
using spectrum::Scene;
using spectrum::Viewer;
using spectrum::Way;
using namespace spectrum::literals;

constexpr double radians_per_degree = std::numbers::pi / 180;

double ratio(double db) {
    return std::pow(10.0, db / 10);
}

double normal(std::mt19937_64& rng, double sigma) {
    return std::normal_distribution(0.0, sigma)(rng);
}

/// Products farther off than this are left out: the model stops at 60 MHz.
constexpr Hertz products_within = 200_MHz;

/// Polarisation as a point of the Poincare sphere: twice the ellipticity.
double twice_ellipticity_rad(const Ending& end) {
    const auto hand = end.antenna->polarisation;
    if (is_linear(hand)) return 0;
    const double angle = 2 * std::atan(std::pow(10.0, -end.axial_ratio_db / 20));
    return hand == Polarisation::rhcp ? angle : -angle;
}

/// How far the major axes are turned against each other.
double turned_rad(std::mt19937_64& rng, const Ending& a, const Ending& b) {
    const auto pa = a.antenna->polarisation, pb = b.antenna->polarisation;
    if (!is_linear(pa) || !is_linear(pb)) return between(rng, 0, std::numbers::pi);
    const double tilt = a.flies || b.flies ? normal(rng, tilt_of_aircraft_deg)
                                           : between(rng, -tilt_of_fixed_deg, tilt_of_fixed_deg);
    return (tilt + (pa == pb ? 0 : 90)) * radians_per_degree;
}

double gain_db(const Ending& end, const Ray& leaving) {
    const auto& antenna = *end.antenna;
    const Degrees azimuth_off(leaving.azimuth().count() - end.azimuth_deg);
    return spectrum::gain(antenna.pattern, azimuth_off, leaving.elevation() - antenna.elevation)
        .count();
}

/// The far rim of an area, for each moment at another height.
Point far_rim(std::mt19937_64& rng, const Envelope& area, const Point& seen_from) {
    const double dx = area.x_m - seen_from.x_m, dy = area.y_m - seen_from.y_m;
    const double away = std::hypot(dx, dy);
    const double east = away > 0 ? dx / away : 0, north = away > 0 ? dy / away : 1;
    return {area.x_m + area.radius_m * east, area.y_m + area.radius_m * north,
            between(rng, area.z_low_m, area.z_high_m)};
}

/// What a receiver gets at one moment.
struct Heard {
    double cn;          ///< C/(N+I), desensitisation taken off, as a power ratio
    bool is_too_close;  ///< its transmitter is too strong for it

    bool has_picture(const spectrum::ReceiverProfile& profile) const {
        return !is_too_close && cn >= linear(profile.watchable);
    }
};

/// Everybody's place at one moment, and what leaks from one transmitter into another.
struct Moment {
    std::vector<Ending> transmitters;
    std::vector<double> coupling;  ///< [into][from]
};

/// One receiver: what it leaves of everybody and of all the products, one by one.
class Listener {
public:
    Listener(const Scene& scene, std::size_t v)
        : scene_(scene),
          receiver_(scene.receivers[v]),
          profile_(scene.profiles[receiver_.profile]),
          wanted_(*receiver_.hears),
          tuned_(scene.transmitters[wanted_].frequency),
          noise_mw_(milliwatts(spectrum::noise_power(noise_bandwidth(profile_.selectivity),
                                                     profile_.noise_figure))) {
        for (std::size_t t = 0; t < scene.transmitters.size(); ++t) {
            front_end_.push_back(let_through(scene.transmitters[t].frequency));
            direct_.push_back(disturbs(t) ? left_of(t) : 0);
        }
        add_products();
    }

    const Point& at() const { return receiver_.at; }
    const spectrum::ReceiverProfile& profile() const { return profile_; }

    Heard hear(std::mt19937_64& rng, const Moment& moment) const {
        std::vector<double> path(scene_.transmitters.size()), p(path.size());
        const Ending here = at_one_moment(receiver_, moment.transmitters[wanted_].at);
        for (std::size_t t = 0; t < path.size(); ++t) {
            path[t] = link_power(rng, moment.transmitters[t], here, frequency(t));
            p[t] = milliwatts(scene_.transmitters[t].power) * path[t] * front_end_[t];
        }
        const double carrier = p[wanted_] / linear(receiver_.body);
        return {carrier / floor_mw(moment, path, p),
                p[wanted_] > milliwatts(profile_.strongest_wanted)};
    }

private:
    struct Two {
        std::size_t a, b;  ///< 2a-b; made in a transmitter: in a
        double weight;
    };
    struct Three {
        std::size_t a, b, c;  ///< a+b-c
        double weight;
    };

    Hertz frequency(std::size_t t) const { return scene_.transmitters[t].frequency; }
    const spectrum::Emission& emission(std::size_t t) const {
        return scene_.emissions[scene_.transmitters[t].emission];
    }
    bool disturbs(std::size_t t) const {
        return t != wanted_ && scene_.transmitters[t].spares != receiver_.owner;
    }
    double let_through(Hertz f) const { return 1 / linear(front_end_loss(profile_, f)); }

    double left_of(std::size_t t) const {
        const auto& density = emission(t).density;
        const Hertz off = frequency(t) - tuned_;
        if (distance(off, 0_Hz) > density.curve().last() + profile_.selectivity.curve().last())
            return 0;
        return 1 / linear(frequency_dependent_rejection(density, profile_.selectivity, off));
    }
    double left_of_product(double sigma_mhz, Hertz product) const {
        const Hertz off = product - tuned_;
        if (distance(off, 0_Hz) > products_within) return 0;
        return 1 / linear(product_rejection(sigma_mhz, profile_.selectivity, off));
    }
    spectrum::ProductShape shape(std::size_t t) const {
        return {emission(t).sigma_mhz, emission(t).constant_envelope};
    }

    void add_products() {
        const std::size_t n = scene_.transmitters.size();
        for (std::size_t a = 0; a < n; ++a) {
            for (std::size_t b = 0; b < n; ++b) {
                if (a == b || !disturbs(b)) continue;
                if (disturbs(a) || a == wanted_) add_made_in_transmitter(a, b);
                if (!disturbs(a)) continue;
                add_two(a, b);
                for (std::size_t c = 0; c < n; ++c)
                    if (a < b && c != a && c != b && disturbs(c)) add_three(a, b, c);
            }
        }
    }
    void add_two(std::size_t a, std::size_t b) {
        const Hertz product = spectrum::two_signal_frequency(frequency(a), frequency(b));
        const double left = left_of_product(two_signal_sigma_mhz(shape(a), shape(b)), product);
        const auto of_0_dbm = spectrum::two_signal_product(0_dBm, 0_dBm, profile_.iip3,
                                                           emission(a).constant_envelope);
        if (left > 0) two_.push_back({a, b, left * milliwatts(of_0_dbm)});
    }
    void add_three(std::size_t a, std::size_t b, std::size_t c) {
        const Hertz product =
            spectrum::three_signal_frequency(frequency(a), frequency(b), frequency(c));
        const double left =
            left_of_product(three_signal_sigma_mhz(shape(a), shape(b), shape(c)), product);
        const auto of_0_dbm = spectrum::three_signal_product(0_dBm, 0_dBm, 0_dBm, profile_.iip3);
        if (left > 0) three_.push_back({a, b, c, left * milliwatts(of_0_dbm)});
    }
    void add_made_in_transmitter(std::size_t host, std::size_t b) {
        const Hertz product = spectrum::two_signal_frequency(frequency(host), frequency(b));
        const double left = let_through(product) *
                            left_of_product(two_signal_sigma_mhz(shape(host), shape(b)), product);
        if (left > 0)
            in_transmitters_.push_back({host, b,
                                        left * milliwatts(scene_.transmitters[b].power) /
                                            linear(spectrum::conversion_loss)});
    }

    /// N + I, raised by what strong signals off the channel cost.
    double floor_mw(const Moment& moment, const std::vector<double>& path,
                    const std::vector<double>& p) const {
        double sum = noise_mw_, blockers = 0;
        for (std::size_t t = 0; t < p.size(); ++t) {
            sum += direct_[t] * p[t];
            if (disturbs(t)) blockers += p[t];
        }
        for (const auto& [a, b, weight] : two_) sum += weight * p[a] * p[a] * p[b];
        for (const auto& [a, b, c, weight] : three_) sum += weight * p[a] * p[b] * p[c];
        for (const auto& [a, b, weight] : in_transmitters_)
            sum += weight * moment.coupling[a * p.size() + b] * path[a];
        if (blockers <= 0) return sum;
        return sum * linear(desensitisation(spectrum::dbm(blockers), profile_.p1db));
    }

    const Scene& scene_;
    const spectrum::Receiver& receiver_;
    const spectrum::ReceiverProfile& profile_;
    std::size_t wanted_;
    Hertz tuned_;
    double noise_mw_;
    std::vector<double> front_end_, direct_;
    std::vector<Two> two_, in_transmitters_;
    std::vector<Three> three_;
};

/// An aircraft that is held somewhere while all the others fly.
struct Held {
    std::size_t transmitter;
    Point seen_from;
};

class Play {
public:
    explicit Play(const Scene& scene) : scene_(scene) {
        for (const auto& t : scene.transmitters) BOOST_ASSERT(!t.hops && t.duty == 1);
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            listeners_.emplace_back();
            if (scene.receivers[v].hears) listeners_.back().emplace(scene, v);
        }
    }

    /// The share of the moments that each of those viewers loses.
    std::vector<double> lost(std::mt19937_64& rng, std::span<const Viewer* const> viewers,
                             const std::optional<Held>& held, int moments) const {
        std::vector<int> lost(viewers.size());
        const auto needed = receivers_of(viewers);
        std::vector<Heard> heard(listeners_.size());
        for (int i = 0; i < moments; ++i) {
            const Moment moment = draw(rng, held);
            for (const auto v : needed) heard[v] = listeners_[v]->hear(rng, moment);
            for (std::size_t u = 0; u < viewers.size(); ++u)
                if (!sees(*viewers[u], heard)) ++lost[u];
        }
        std::vector<double> shares;
        for (const int n : lost) shares.push_back(n / static_cast<double>(moments));
        return shares;
    }

    /// Where the aircraft of a viewer's picture is farthest; none if it does not fly.
    std::optional<Held> rim(const Viewer& viewer) const {
        const auto& first = viewer.ways.front().hops.front();
        if (!std::holds_alternative<Envelope>(scene_.transmitters[first.transmitter].at))
            return std::nullopt;
        return Held{first.transmitter, listeners_[first.receivers.front()]->at()};
    }

private:
    static std::vector<std::size_t> receivers_of(std::span<const Viewer* const> viewers) {
        std::vector<std::size_t> all;
        for (const auto* viewer : viewers)
            for (const auto& way : viewer->ways)
                for (const auto& hop : way.hops)
                    all.insert(all.end(), hop.receivers.begin(), hop.receivers.end());
        std::ranges::sort(all);
        all.erase(std::unique(all.begin(), all.end()), all.end());
        return all;
    }

    Moment draw(std::mt19937_64& rng, const std::optional<Held>& held) const {
        Moment moment;
        const auto& all = scene_.transmitters;
        for (std::size_t t = 0; t < all.size(); ++t)
            moment.transmitters.push_back(ending(rng, t, held));
        moment.coupling.resize(all.size() * all.size());
        for (std::size_t into = 0; into < all.size(); ++into)
            for (std::size_t from = 0; from < all.size(); ++from)
                if (from != into)
                    moment.coupling[into * all.size() + from] =
                        link_power(rng, moment.transmitters[from], moment.transmitters[into],
                                   all[from].frequency);
        return moment;
    }

    Ending ending(std::mt19937_64& rng, std::size_t t, const std::optional<Held>& held) const {
        const auto& transmitter = scene_.transmitters[t];
        Ending end = at_one_moment(rng, transmitter, scene_.receivers);
        if (held && held->transmitter == t)
            end.at = far_rim(rng, std::get<Envelope>(transmitter.at), held->seen_from);
        return end;
    }

    bool sees(const Viewer& viewer, const std::vector<Heard>& heard) const {
        return std::ranges::any_of(viewer.ways,
                                   [&](const Way& way) { return comes_by(way, heard); });
    }

    bool is_analogue(const Way& way) const {
        return std::ranges::all_of(way.hops, [&](const Hop& hop) {
            return scene_.emissions[scene_.transmitters[hop.transmitter].emission]
                .constant_envelope;
        });
    }

    bool comes_by(const Way& way, const std::vector<Heard>& heard) const {
        if (way.hops.size() == 1 || !is_analogue(way))
            return std::ranges::all_of(way.hops, [&](const Hop& hop) {
                return std::ranges::any_of(hop.receivers, [&](std::size_t v) {
                    return heard[v].has_picture(listeners_[v]->profile());
                });
            });
        double noise = 0;  // of all hops, to a carrier of 1
        for (const auto& hop : way.hops) {
            double best = 0;
            for (const auto v : hop.receivers)
                if (!heard[v].is_too_close) best = std::max(best, heard[v].cn);
            noise += 1 / best;
        }
        const auto& last = listeners_[way.hops.back().receivers.front()]->profile();
        return 1 / noise >= linear(last.watchable);
    }

    const Scene& scene_;
    std::vector<std::optional<Listener>> listeners_;
};

bool is_within(const Flight& flight, double times) {
    return flight.lost <= times * 0.02 && flight.lost_at_rim <= times * 0.10;
}

bool same(const Held& a, const Held& b) {
    return a.transmitter == b.transmitter && a.seen_from == b.seen_from;
}

}  // namespace

double rician_power(std::mt19937_64& rng, double k_db) {
    const double k = ratio(k_db);
    const double scattered = std::sqrt(0.5 / (k + 1));
    const double in_phase = std::sqrt(k / (k + 1)) + normal(rng, scattered);
    const double quadrature = normal(rng, scattered);
    return in_phase * in_phase + quadrature * quadrature;
}

Ending at_one_moment(std::mt19937_64& rng, const spectrum::Transmitter& transmitter,
                     std::span<const spectrum::Receiver> receivers) {
    const auto& antenna = transmitter.antenna;
    Ending end{.antenna = &antenna, .loss = transmitter.loss, .at = {}};
    if (const auto* point = std::get_if<Point>(&transmitter.at)) {
        end.at = *point;
        end.azimuth_deg = antenna.azimuth.count();
        end.axial_ratio_db = antenna.pattern.axial_ratio.count();
        return end;
    }
    end.at = somewhere(rng, std::get<Envelope>(transmitter.at), receivers);
    end.flies = true;
    end.azimuth_deg = between(rng, -180, 180);
    end.axial_ratio_db = between(rng, 1, 6);
    end.own_shadow_db = normal(rng, shadow_flying_db / std::numbers::sqrt2);
    return end;
}

Ending at_one_moment(const spectrum::Receiver& receiver, const Point& wanted) {
    const auto& antenna = receiver.antenna;
    const Degrees azimuth = antenna.turns ? Ray(receiver.at, wanted).azimuth() : antenna.azimuth;
    return {.antenna = &antenna,
            .loss = receiver.loss,
            .at = receiver.at,
            .azimuth_deg = azimuth.count(),
            .axial_ratio_db = antenna.pattern.axial_ratio.count()};
}

double polarisation_share(std::mt19937_64& rng, const Ending& a, const Ending& b) {
    const double ea = twice_ellipticity_rad(a), eb = twice_ellipticity_rad(b);
    const double turned = turned_rad(rng, a, b);
    const double along =
        std::cos(ea) * std::cos(eb) * std::cos(2 * turned) + std::sin(ea) * std::sin(eb);
    const double direct = (1 + along) / 2;
    if (!a.flies && !b.flies) return direct;
    return direct + ratio(between(rng, -16, -9)) * (1 - direct);
}

double link_power(std::mt19937_64& rng, const Ending& a, const Ending& b, Hertz frequency) {
    const bool flies = a.flies || b.flies;
    const Ray way(a.at, b.at);
    const double shadow_db =
        normal(rng, flies ? shadow_flying_db / std::numbers::sqrt2 : shadow_fixed_db) +
        a.own_shadow_db + b.own_shadow_db;
    const double lost_db =
        path_loss(frequency, Metres(way.slant_m()), Metres(a.at.z_m), Metres(b.at.z_m)).count() +
        (a.loss + b.loss).count();
    return ratio(gain_db(a, way) + gain_db(b, Ray(b.at, a.at)) - lost_db + shadow_db) *
           polarisation_share(rng, a, b) *
           rician_power(rng, flies ? rician_k_flying_db : rician_k_fixed_db);
}

Point somewhere(std::mt19937_64& rng, const Envelope& area,
                std::span<const spectrum::Receiver> receivers) {
    const double standoff_m = standoff(area).count();
    Point at;
    for (int i = 0; i < 100; ++i) {
        const double rho = area.radius_m * std::sqrt(between(rng, 0, 1));
        const double bearing = between(rng, 0, 2 * std::numbers::pi);
        at = {area.x_m + rho * std::sin(bearing), area.y_m + rho * std::cos(bearing),
              between(rng, area.z_low_m, area.z_high_m)};
        if (std::ranges::none_of(receivers, [&](const spectrum::Receiver& r) {
                return Ray(r.at, at).slant_m() < standoff_m;
            }))
            return at;
    }
    return at;
}

bool is_good(const Flight& flight) {
    return is_within(flight, 1);
}
bool is_awful(const Flight& flight) {
    return !is_within(flight, 3);
}

std::vector<Flight> fly(const Scene& scene, std::span<const Viewer> viewers, std::mt19937_64& rng,
                        const Moments& moments) {
    const Play play(scene);
    std::vector<const Viewer*> all;
    for (const auto& viewer : viewers) all.push_back(&viewer);
    std::vector<Flight> flights;
    for (const double lost : play.lost(rng, all, std::nullopt, moments.all_over))
        flights.push_back({lost, 0});
    std::vector<bool> done(viewers.size());
    for (std::size_t u = 0; u < viewers.size(); ++u) {
        const auto held = play.rim(viewers[u]);
        if (!held || done[u]) continue;
        std::vector<const Viewer*> there;
        std::vector<std::size_t> which;
        for (std::size_t w = u; w < viewers.size(); ++w) {
            const auto other = play.rim(viewers[w]);
            if (!other || !same(*held, *other)) continue;
            there.push_back(all[w]);
            which.push_back(w);
            done[w] = true;
        }
        const auto lost = play.lost(rng, there, held, moments.at_rim);
        for (std::size_t i = 0; i < which.size(); ++i) flights[which[i]].lost_at_rim = lost[i];
    }
    return flights;
}

Viewer alone(const Scene& scene, std::size_t receiver) {
    const auto& r = scene.receivers[receiver];
    return {r.owner, {Way{{Hop{*r.hears, {receiver}}}}}};
}

}  // namespace fieldpeg::testing
