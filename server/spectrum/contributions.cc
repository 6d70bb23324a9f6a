#include "server/spectrum/contributions.h"

#include "server/spectrum/ear.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/products.h"

#include <algorithm>
#include <functional>
#include <utility>

namespace fieldpeg::spectrum {
namespace {

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

void add_direct(const Ear& ear, std::size_t g, Strongest& strongest) {
    for (std::size_t t = 0; t < ear.received().size(); ++t) {
        if (const double mw = ear.burst(t)[g]; mw > 0)
            strongest.add({Contribution::Kind::burst, {t}, std::nullopt, dbm(mw)});
        const double mw = ear.leak(t)[g];
        if (mw <= 0) continue;
        const bool co_channel = ear.left(t) * linear(co_channel_below) > 1;
        strongest.add({co_channel ? Contribution::Kind::co_channel : Contribution::Kind::adjacent,
                       {t},
                       std::nullopt,
                       dbm(mw)});
    }
}

void add_harmonics(const Scene& scene, const Ear& ear, std::size_t g, Strongest& strongest) {
    for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
        for (const auto n : harmonics)
            if (const double mw = ear.harmonic(t, n)[g]; mw > 0)
                strongest.add({Contribution::Kind::harmonic,
                               {t},
                               n * scene.transmitters[t].frequency,
                               dbm(mw)});
}

void add_receiver_products(const Scene& scene, RejectionTables& tables, const Ear& ear,
                           std::size_t g, std::size_t most, Strongest& strongest) {
    const Carriers carriers(scene, tables.grid());
    const auto mixing = ear.mixing();
    const auto sums = carriers.sums(mixing, ear.absent());
    for (const auto& term : strongest_receiver_products(carriers, sums, tables, ear.profile_index(),
                                                        ear.tuned(), g, most)) {
        for (const auto& from : carriers.makers(term, mixing, ear.absent(), g, most)) {
            const auto level = [&](std::size_t i) { return dbm(mixing[from[i]][g]); };
            const bool constant =
                scene.emissions[scene.transmitters[from[0]].emission].constant_envelope;
            const Dbm iip3 = ear.profile().iip3;
            const Dbm made = from.size() == 3
                                 ? three_signal_product(level(0), level(1), level(2), iip3)
                                 : two_signal_product(level(0), level(1), iip3, constant);
            strongest.add({Contribution::Kind::receiver_product, from, term.product,
                           made + decibel(term.left)});
        }
    }
}

void add_transmitter_products(const Scene& scene, const LinkTable& links, RejectionTables& tables,
                              const Ear& ear, std::span<const double> powers_mw, std::size_t g,
                              Strongest& strongest) {
    for (std::size_t host = 0; host < scene.transmitters.size(); ++host) {
        const auto& a = scene.transmitters[host];
        for (std::size_t b = 0; b < scene.transmitters.size(); ++b) {
            if (b == host || ear.is_absent(b) || scene.transmitters[b].hops) continue;
            const Hertz product =
                two_signal_frequency(a.frequency, scene.transmitters[b].frequency);
            if (distance(product, ear.tuned()) > product_reach) continue;
            const double mw =
                powers_mw[b] * links.coupling(b, host) / linear(conversion_loss) *
                ear.from_host(host, product)[g] *
                tables.two_signal(ear.profile_index(), a.emission, scene.transmitters[b].emission)
                    .at(distance(product, ear.tuned()).count() / tables.grid().count());
            if (mw > 0)
                strongest.add(
                    {Contribution::Kind::transmitter_product, {host, b}, product, dbm(mw)});
        }
    }
}

}  // namespace

std::vector<Contribution> contributions(const Scene& scene, const LinkTable& links,
                                        RejectionTables& tables, std::size_t receiver,
                                        Geometry geometry, std::size_t most) {
    const auto powers_mw = sent_mw(scene);
    const Ear ear(scene, links, tables, powers_mw, receiver);
    const auto g = static_cast<std::size_t>(geometry);
    Strongest strongest(most);
    add_direct(ear, g, strongest);
    add_harmonics(scene, ear, g, strongest);
    add_receiver_products(scene, tables, ear, g, most, strongest);
    add_transmitter_products(scene, links, tables, ear, powers_mw, g, strongest);
    return strongest.take();
}

std::vector<FrontEndSignal> front_end_signals(const Scene& scene, const LinkTable& links,
                                              RejectionTables& tables, std::size_t receiver,
                                              Geometry geometry, std::size_t most) {
    const auto powers_mw = sent_mw(scene);
    const Ear ear(scene, links, tables, powers_mw, receiver);
    std::vector<FrontEndSignal> signals;
    for (std::size_t t = 0; t < ear.received().size(); ++t)
        if (const double mw = ear.received()[t][static_cast<std::size_t>(geometry)]; mw > 0)
            signals.push_back({t, dbm(mw)});
    std::ranges::stable_sort(signals, std::greater<>{}, &FrontEndSignal::level);
    if (signals.size() > most) signals.resize(most);
    return signals;
}

std::vector<FifthOrder> fifth_order(const Scene& scene, std::size_t receiver, std::size_t most) {
    const std::size_t wanted = scene.receivers[receiver].hears.value();
    const Hertz tuned = scene.transmitters[wanted].frequency;
    const auto makes_none = [&](const Transmitter& t) {
        return t.hops || t.spares == scene.receivers[receiver].owner;
    };
    std::vector<FifthOrder> found;
    for (std::size_t a = 0; a < scene.transmitters.size(); ++a) {
        for (std::size_t b = 0; b < scene.transmitters.size(); ++b) {
            if (a == b || a == wanted || b == wanted) continue;
            if (makes_none(scene.transmitters[a]) || makes_none(scene.transmitters[b])) continue;
            const Hertz product = fifth_order_frequency(scene.transmitters[a].frequency,
                                                        scene.transmitters[b].frequency);
            const Hertz offset = distance(product, tuned);
            if (offset <= product_reach) found.push_back({a, b, product, offset});
        }
    }
    std::ranges::stable_sort(found, {}, &FifthOrder::offset);
    if (found.size() > most) found.resize(most);
    return found;
}

}  // namespace fieldpeg::spectrum
