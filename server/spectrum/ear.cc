#include "server/spectrum/ear.h"

#include "server/spectrum/rejection.h"

#include <boost/assert.hpp>

#include <algorithm>

namespace fieldpeg::spectrum {

std::vector<double> sent_mw(const Scene& scene) {
    std::vector<double> powers;
    powers.reserve(scene.transmitters.size());
    for (const auto& transmitter : scene.transmitters)
        powers.push_back(milliwatts(transmitter.power));
    return powers;
}

double radiated_share(const Transmitter& transmitter, std::int64_t n) {
    return 1 / (static_cast<double>(n * n) *
                linear(transmitter.harmonics_below[static_cast<std::size_t>(n - harmonics[0])] +
                       transmitter.harmonic_filter));
}

double counted(double hit) {
    return std::min(1.0, hit / full_duty);
}

Ear::Ear(const Scene& scene, const LinkTable& links, RejectionTables& tables,
         std::span<const double> powers_mw, std::size_t receiver)
    : scene_(scene),
      links_(links),
      tables_(tables),
      powers_mw_(powers_mw),
      index_(receiver),
      receiver_(scene.receivers[receiver]),
      profile_(scene.profiles[receiver_.profile]),
      received_(scene.transmitters.size()) {
    BOOST_ASSERT(receiver_.hears);
    tuned_ = scene.transmitters[hears()].frequency;
    for (std::size_t t = 0; t < received_.size(); ++t) {
        const auto& transmitter = scene.transmitters[t];
        if (t == hears() || transmitter.spares == receiver_.owner)
            absent_.push_back(t);
        else
            received_[t] = powers_mw[t] *
                           tables_.through_front_end(receiver_.profile, transmitter.frequency) *
                           path(t);
    }
}

std::vector<PowerPair> Ear::mixing() const {
    auto all = received_;
    for (std::size_t t = 0; t < all.size(); ++t)
        if (scene_.transmitters[t].hops) all[t] = {};
    return all;
}

PowerPair Ear::path(std::size_t t) const {
    return {links_.unwanted(Geometry::usual, index_, t),
            links_.unwanted(Geometry::closest, index_, t)};
}

double Ear::left(std::size_t t) const {
    const auto& transmitter = scene_.transmitters[t];
    const auto steps = distance(transmitter.frequency, tuned_).count() / tables_.grid().count();
    return tables_.emission(receiver_.profile, transmitter.emission, steps);
}

PowerPair Ear::leak(std::size_t t) const {
    const auto& transmitter = scene_.transmitters[t];
    if (transmitter.hops) return {};
    return counted(transmitter.duty) * left(t) * received_[t];
}

PowerPair Ear::burst(std::size_t t) const {
    const auto& transmitter = scene_.transmitters[t];
    if (!transmitter.hops) return {};
    const double half_mhz = mhz(noise_bandwidth(profile_.selectivity)) / 2;
    const double low = std::max(mhz(transmitter.hops->low), mhz(tuned_) - half_mhz);
    const double high = std::min(mhz(transmitter.hops->high), mhz(tuned_) + half_mhz);
    const double band = mhz(transmitter.hops->high) - mhz(transmitter.hops->low);
    BOOST_ASSERT(band > 0);
    return counted(transmitter.duty * std::max(0.0, high - low) / band) * received_[t];
}

PowerPair Ear::harmonic(std::size_t t, std::int64_t n) const {
    const auto& transmitter = scene_.transmitters[t];
    if (transmitter.hops || is_absent(t)) return {};
    const Hertz at = n * transmitter.frequency;
    if (distance(at, tuned_) > n * harmonic_reach) return {};
    const auto steps = distance(at, tuned_).count() / tables_.grid().count();
    const double left = tables_.harmonic(receiver_.profile, transmitter.emission, n, steps);
    if (left == 0) return {};
    return counted(transmitter.duty) * powers_mw_[t] * radiated_share(transmitter, n) * left *
           tables_.through_front_end(receiver_.profile, at) * path(t);
}

PowerPair Ear::from_host(std::size_t host) const {
    const bool is_silent = is_absent(host) && host != hears();
    if (is_silent || scene_.transmitters[host].hops) return {};
    return path(host);
}

PowerPair Ear::from_host(std::size_t host, Hertz product) const {
    return tables_.through_front_end(receiver_.profile, product) * from_host(host);
}

}  // namespace fieldpeg::spectrum
