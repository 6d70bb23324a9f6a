#include "server/spectrum/margin.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/ear.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/products.h"
#include "server/spectrum/rejection.h"

#include <cstdlib>
#include <span>

namespace fieldpeg::spectrum {
namespace {

double squared(Dbm level) {
    const double mw = milliwatts(level);
    return mw * mw;
}

/// The products made in transmitters, as they arrive. What those absent would make of a host is
/// taken out again.
PowerPair transmitter_products(const Scene& scene, RejectionTables& tables,
                               const Carriers& carriers, Intruders& intruders, const Ear& ear) {
    PowerPair sum{};
    const std::int64_t channel = carriers.steps_of(ear.tuned());
    const auto& radiated =
        intruders.radiated(carriers, tables, scene, ear.profile_index(), ear.tuned());
    const auto of_absent = [&](std::size_t host, std::size_t absent) {
        const auto product =
            std::abs(2 * carriers.step(carriers.of(host)) - carriers.step(carriers.of(absent)));
        const auto off = std::abs(product - channel);
        if (absent == host || off > carriers.reach()) return 0.0;
        return intruders.single_mw(host, absent) *
               tables
                   .two_signal(ear.profile_index(), scene.transmitters[host].emission,
                               scene.transmitters[absent].emission)
                   .at(off) *
               tables.through_front_end(ear.profile_index(), carriers.frequency(product));
    };
    for (std::size_t host = 0; host < radiated.size(); ++host) {
        double mw = radiated[host];
        if (mw <= 0) continue;
        for (const auto absent : ear.absent()) mw -= of_absent(host, absent);
        if (mw > 0) sum += mw * ear.from_host(host);
    }
    return sum;
}

std::array<Budget, 2> budgets_of(const Scene& scene, RejectionTables& tables,
                                 const Carriers& carriers, Intruders& intruders, const Ear& ear) {
    PowerPair blockers{}, adjacent{}, bursts{}, of_harmonics{};
    for (std::size_t t = 0; t < scene.transmitters.size(); ++t) {
        blockers += ear.received()[t];
        adjacent += ear.leak(t);
        bursts += ear.burst(t);
        for (const auto n : harmonics) of_harmonics += ear.harmonic(t, n);
    }
    const PowerPair receiver_products =
        (1 / squared(ear.profile().iip3)) *
        receiver_product_sum(carriers, carriers.sums(ear.mixing(), ear.absent()), tables,
                             ear.profile_index(), ear.tuned());
    const PowerPair of_transmitters = transmitter_products(scene, tables, carriers, intruders, ear);
    std::array<Budget, 2> budgets;
    for (std::size_t g = 0; g < budgets.size(); ++g) {
        auto& budget = budgets[g];
        if (blockers[g] > 0) {
            budget.blockers = dbm(blockers[g]);
            budget.desensitisation = desensitisation(*budget.blockers, ear.profile().p1db);
        }
        budget.adjacent_mw = adjacent[g];
        budget.burst_mw = bursts[g];
        budget.harmonic_mw = of_harmonics[g];
        budget.receiver_product_mw = receiver_products[g];
        budget.transmitter_product_mw = of_transmitters[g];
    }
    return budgets;
}

}  // namespace

Dbm Reception::floor(Air air) const {
    if (air == Air::alone) return noise;
    const auto& b = budget(air == Air::usual ? Geometry::usual : Geometry::closest);
    return dbm(milliwatts(noise) + b.interference_mw()) + b.desensitisation;
}

bool is_ruled_by_desensitisation(const Reception& reception, Geometry geometry) {
    const auto& budget = reception.budget(geometry);
    const double noise_mw = milliwatts(reception.noise);
    return budget.desensitisation > decibel((noise_mw + budget.interference_mw()) / noise_mw);
}

bool is_swamped(const Reception& reception, Geometry geometry) {
    const auto& blockers = reception.budget(geometry).blockers;
    return blockers && (*blockers > reception.profile->p1db ||
                        is_ruled_by_desensitisation(reception, geometry));
}

bool is_in_front_end(const ReceiverProfile& profile, Hertz frequency) {
    return profile.front_end_low <= frequency && frequency <= profile.front_end_high;
}

Decibel front_end_loss(const ReceiverProfile& profile, Hertz frequency) {
    return is_in_front_end(profile, frequency) ? 0_dB : profile.front_end_rejection;
}

Receptions assess(const Scene& scene, const LinkTable& links, RejectionTables& tables) {
    const auto powers_mw = sent_mw(scene);
    const Carriers carriers(scene, tables.grid());
    Intruders intruders(scene, links, carriers, powers_mw);
    Receptions all(scene.receivers.size());
    for (std::size_t v = 0; v < all.size(); ++v) {
        const auto& receiver = scene.receivers[v];
        if (!receiver.hears) continue;
        const Ear ear(scene, links, tables, powers_mw, v);
        const auto& profile = ear.profile();
        const auto& transmitter = scene.transmitters[ear.hears()];
        all[v] = Reception{
            &profile, &links.wanted(v),
            // Tuned to something outside its own front end, a receiver loses that too.
            transmitter.power - front_end_loss(profile, transmitter.frequency), receiver.body,
            tables.noise(receiver.profile), scene.emissions[transmitter.emission].constant_envelope,
            budgets_of(scene, tables, carriers, intruders, ear)};
    }
    return all;
}

}  // namespace fieldpeg::spectrum
