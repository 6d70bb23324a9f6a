#include "server/spectrum/margin.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/products.h"
#include "server/spectrum/rejection.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cstdlib>
#include <utility>

namespace fieldpeg::spectrum {
namespace {

/// What a receiver's front end leaves of a signal at `frequency`.
double through_front_end(const ReceiverProfile& profile, Hertz frequency) {
    const Decibel loss = front_end_loss(profile, frequency);
    return loss == 0_dB ? 1 : 1 / linear(loss);
}

/// One receiver as the sums below see it.
struct Ear {
    const ReceiverProfile& profile;
    std::size_t profile_index;
    std::size_t index;
    std::size_t hears;
    Hertz tuned;
};

Ear ear(const Scene& scene, std::size_t receiver) {
    const auto& r = scene.receivers[receiver];
    BOOST_ASSERT(r.hears);
    return {scene.profiles[r.profile], r.profile, receiver, *r.hears,
            scene.transmitters[*r.hears].frequency};
}

/// Powers of all transmitters as they get into a receiver, in both geometries, the wanted one at 0.
std::vector<PowerPair> received_mw(const Scene& scene, const LinkTable& links, const Ear& at,
                                   std::span<const double> powers_mw) {
    std::vector<PowerPair> received(scene.transmitters.size());
    for (std::size_t t = 0; t < received.size(); ++t) {
        if (t == at.hears) continue;
        const double sent =
            powers_mw[t] * through_front_end(at.profile, scene.transmitters[t].frequency);
        received[t] = {sent * links.unwanted(Geometry::ref, at.index, t),
                       sent * links.unwanted(Geometry::worst, at.index, t)};
    }
    return received;
}

std::vector<double> sent_mw(const Scene& scene) {
    std::vector<double> powers;
    powers.reserve(scene.transmitters.size());
    for (const auto& transmitter : scene.transmitters)
        powers.push_back(milliwatts(transmitter.power));
    return powers;
}

/// What one transmitter leaks into a receiver.
PowerPair leak(const Scene& scene, RejectionTables& tables, const Ear& at, std::size_t t,
               const PowerPair& received) {
    const auto& transmitter = scene.transmitters[t];
    return tables.emission(
               at.profile_index, transmitter.emission,
               distance(transmitter.frequency, at.tuned).count() / tables.grid().count()) *
           received;
}

double squared(Dbm level) {
    const double mw = milliwatts(level);
    return mw * mw;
}

/// Share of host a's radiated product that arrives at the receiver, front end included.
PowerPair host_to_receiver(const LinkTable& links, const Ear& at, std::size_t host, Hertz product) {
    return through_front_end(at.profile, product) *
           PowerPair{links.unwanted(Geometry::ref, at.index, host),
                     links.unwanted(Geometry::worst, at.index, host)};
}

std::array<Budget, 2> budgets_of(const Scene& scene, const LinkTable& links,
                                 RejectionTables& tables, const Carriers& carriers,
                                 const Intruders& intruders, std::span<const double> powers_mw,
                                 std::size_t receiver) {
    const Ear at = ear(scene, receiver);
    const auto received = received_mw(scene, links, at, powers_mw);

    PowerPair blockers{}, adjacent{};
    for (std::size_t t = 0; t < received.size(); ++t) {
        blockers += received[t];
        adjacent += leak(scene, tables, at, t, received[t]);
    }
    const PowerPair receiver_products =
        (1 / squared(at.profile.iip3)) * receiver_product_sum(carriers,
                                                              carriers.sums(received, at.hears),
                                                              tables, at.profile_index, at.tuned);

    PowerPair transmitter_products{};
    const std::int64_t channel = carriers.steps_of(at.tuned);
    intruders.for_each(
        carriers, at.tuned, at.hears,
        [&](std::size_t host, std::size_t carrier, std::int64_t product, double radiated_mw) {
            auto& table = tables.two_signal(at.profile_index, scene.transmitters[host].emission,
                                            carriers.emission(carrier));
            transmitter_products += radiated_mw * table.at(std::abs(product - channel)) *
                                    host_to_receiver(links, at, host, carriers.frequency(product));
        });

    // Tuned to something outside its own front end, a receiver loses that too.
    const Dbm wanted_power =
        scene.transmitters[at.hears].power + decibel(through_front_end(at.profile, at.tuned));
    std::array<Budget, 2> budgets;
    for (const auto geometry : geometries) {
        const auto g = static_cast<std::size_t>(geometry);
        auto& budget = budgets[g];
        budget.wanted = wanted_power + decibel(links.wanted(receiver));
        budget.wanted_strongest =
            wanted_power + decibel(links.unwanted(geometry, receiver, at.hears));
        budget.noise =
            noise_power(noise_bandwidth(at.profile.selectivity), at.profile.noise_figure);
        if (blockers[g] > 0) {
            budget.blockers = dbm(blockers[g]);
            budget.desensitisation = desensitisation(*budget.blockers, at.profile.iip3);
        }
        budget.adjacent_mw = adjacent[g];
        budget.receiver_product_mw = receiver_products[g];
        budget.transmitter_product_mw = transmitter_products[g];
    }
    return budgets;
}

/// Keeps the strongest of what it is given.
class Strongest {
public:
    explicit Strongest(std::size_t most) : most_(most) {}

    void add(Contribution contribution) {
        found_.push_back(std::move(contribution));
        if (found_.size() >= 4 * most_ + 64) trim();
    }
    std::vector<Contribution> take() {
        trim();
        return std::move(found_);
    }

private:
    void trim() {
        std::ranges::stable_sort(found_, std::greater<>{}, &Contribution::level);
        if (found_.size() > most_)
            found_.erase(found_.begin() + static_cast<std::ptrdiff_t>(most_), found_.end());
    }

    std::size_t most_;
    std::vector<Contribution> found_;
};

void add_leaks(const Scene& scene, RejectionTables& tables, const Ear& at,
               std::span<const PowerPair> received, std::size_t g, Strongest& strongest) {
    for (std::size_t t = 0; t < received.size(); ++t) {
        const double mw = leak(scene, tables, at, t, received[t])[g];
        if (mw <= 0) continue;
        const bool co_channel = mw * linear(co_channel_below) > received[t][g];
        strongest.add({co_channel ? Contribution::Kind::co_channel : Contribution::Kind::adjacent,
                       {t},
                       std::nullopt,
                       dbm(mw)});
    }
}

void add_receiver_products(const Scene& scene, RejectionTables& tables, const Ear& at,
                           std::span<const PowerPair> received, std::size_t g, std::size_t most,
                           Strongest& strongest) {
    const Carriers carriers(scene, tables.grid());
    const auto sums = carriers.sums(received, at.hears);
    for (const auto& term :
         strongest_receiver_products(carriers, sums, tables, at.profile_index, at.tuned, g, most)) {
        for (const auto& from : carriers.makers(term, received, at.hears, g, most)) {
            const auto level = [&](std::size_t i) { return dbm(received[from[i]][g]); };
            const bool constant =
                scene.emissions[scene.transmitters[from[0]].emission].constant_envelope;
            const Dbm made =
                from.size() == 3
                    ? three_signal_product(level(0), level(1), level(2), at.profile.iip3)
                    : two_signal_product(level(0), level(1), at.profile.iip3, constant);
            strongest.add({Contribution::Kind::receiver_product, from, term.product,
                           made + decibel(term.left)});
        }
    }
}

void add_transmitter_products(const Scene& scene, const LinkTable& links, RejectionTables& tables,
                              const Ear& at, std::span<const double> powers_mw, std::size_t g,
                              Strongest& strongest) {
    for (std::size_t host = 0; host < scene.transmitters.size(); ++host) {
        for (std::size_t b = 0; b < scene.transmitters.size(); ++b) {
            if (b == host || b == at.hears) continue;
            const auto& a = scene.transmitters[host];
            const Hertz product =
                two_signal_frequency(a.frequency, scene.transmitters[b].frequency);
            if (distance(product, at.tuned) > product_reach) continue;
            const double mw =
                powers_mw[b] * links.coupling(b, host) / linear(conversion_loss) *
                host_to_receiver(links, at, host, product)[g] *
                tables.two_signal(at.profile_index, a.emission, scene.transmitters[b].emission)
                    .at(distance(product, at.tuned).count() / tables.grid().count());
            if (mw > 0)
                strongest.add(
                    {Contribution::Kind::transmitter_product, {host, b}, product, dbm(mw)});
        }
    }
}

}  // namespace

Margins margins(const Budget& budget, const ReceiverProfile& profile, Demand demand) {
    const Decibel required = demand == Demand::watchable ? profile.watchable : profile.sharp;
    const Decibel cni = budget.wanted - budget.desensitisation -
                        dbm(milliwatts(budget.noise) + budget.interference_mw());
    Margins m{cni - required, std::nullopt, profile.strongest_wanted - budget.wanted_strongest, {}};
    m.least = std::min(m.noise_and_interference, m.closeness);
    if (budget.blockers) {
        m.swamping = profile.p1db - *budget.blockers;
        m.least = std::min(m.least, *m.swamping);
    }
    return m;
}

bool is_swamped(const Budget& budget, const ReceiverProfile& profile) {
    if (!budget.blockers) return false;
    const double noise_mw = milliwatts(budget.noise);
    const Decibel cost_of_interference = decibel((noise_mw + budget.interference_mw()) / noise_mw);
    return *budget.blockers > profile.p1db || budget.desensitisation > cost_of_interference;
}

bool is_in_front_end(const ReceiverProfile& profile, Hertz frequency) {
    return profile.front_end_low <= frequency && frequency <= profile.front_end_high;
}

Decibel front_end_loss(const ReceiverProfile& profile, Hertz frequency) {
    return is_in_front_end(profile, frequency) ? 0_dB : profile.front_end_rejection;
}

Decibel range_margin(const Budget& budget, const ReceiverProfile& profile) {
    return budget.wanted - budget.noise - profile.watchable;
}

std::vector<Budgets> assess(const Scene& scene, const LinkTable& links, RejectionTables& tables) {
    const auto powers_mw = sent_mw(scene);
    const Carriers carriers(scene, tables.grid());
    const Intruders intruders(scene, links, carriers, powers_mw);
    std::vector<Budgets> all(scene.receivers.size());
    for (std::size_t v = 0; v < all.size(); ++v)
        if (scene.receivers[v].hears)
            all[v] = budgets_of(scene, links, tables, carriers, intruders, powers_mw, v);
    return all;
}

std::vector<Budgets> assess(const Scene& scene) {
    RejectionTables tables(scene);
    return assess(scene, LinkTable(scene), tables);
}

std::vector<Contribution> contributions(const Scene& scene, const LinkTable& links,
                                        RejectionTables& tables, std::size_t receiver,
                                        Geometry geometry, std::size_t most) {
    const Ear at = ear(scene, receiver);
    const auto g = static_cast<std::size_t>(geometry);
    const auto powers_mw = sent_mw(scene);
    const auto received = received_mw(scene, links, at, powers_mw);
    Strongest strongest(most);
    add_leaks(scene, tables, at, received, g, strongest);
    add_receiver_products(scene, tables, at, received, g, most, strongest);
    add_transmitter_products(scene, links, tables, at, powers_mw, g, strongest);
    return strongest.take();
}

std::vector<FrontEndSignal> front_end_signals(const Scene& scene, const LinkTable& links,
                                              std::size_t receiver, Geometry geometry,
                                              std::size_t most) {
    const auto received = received_mw(scene, links, ear(scene, receiver), sent_mw(scene));
    std::vector<FrontEndSignal> signals;
    for (std::size_t t = 0; t < received.size(); ++t)
        if (const double mw = received[t][static_cast<std::size_t>(geometry)]; mw > 0)
            signals.push_back({t, dbm(mw)});
    std::ranges::stable_sort(signals, std::greater<>{}, &FrontEndSignal::level);
    if (signals.size() > most) signals.resize(most);
    return signals;
}

std::vector<FifthOrder> fifth_order(const Scene& scene, std::size_t receiver, std::size_t most) {
    const Ear at = ear(scene, receiver);
    std::vector<FifthOrder> found;
    for (std::size_t a = 0; a < scene.transmitters.size(); ++a) {
        for (std::size_t b = 0; b < scene.transmitters.size(); ++b) {
            if (a == b || a == at.hears || b == at.hears) continue;
            const Hertz product = fifth_order_frequency(scene.transmitters[a].frequency,
                                                        scene.transmitters[b].frequency);
            const Hertz offset = distance(product, at.tuned);
            if (offset <= product_reach) found.push_back({a, b, product, offset});
        }
    }
    std::ranges::stable_sort(found, {}, &FifthOrder::offset);
    if (found.size() > most) found.resize(most);
    return found;
}

}  // namespace fieldpeg::spectrum
