#include "server/spectrum/rejection_table.h"

#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"

#include <algorithm>
#include <numeric>
#include <utility>

namespace fieldpeg::spectrum {
namespace {

ProductShape shape(const Emission& emission) {
    return {emission.sigma_mhz, emission.constant_envelope};
}

OffsetTable product_table(Hertz grid, double sigma_mhz, const Selectivity& selectivity) {
    return {grid, product_reach, [sigma_mhz, selectivity](Hertz offset) {
                return 1 / linear(product_rejection(sigma_mhz, selectivity, offset));
            }};
}

Density stretched(const Density& density, std::int64_t n) {
    std::vector<Curve::Knot> knots;
    for (const auto& knot : density.curve().knots())  // far off the limits of a curve it ends
        if (n * knot.offset < Curve::offset_limit) knots.push_back({n * knot.offset, knot.level});
    if (knots.size() < 2) knots.push_back({Curve::offset_limit, knots.front().level});
    return Density::make(std::move(knots)).value();
}

OffsetTable direct_table(Hertz grid, Hertz reach, const Density& density,
                         const Selectivity& selectivity) {
    return {grid, reach, [density, selectivity](Hertz offset) {
                return std::min(
                    1.0, 1 / linear(frequency_dependent_rejection(density, selectivity, offset)));
            }};
}

}  // namespace

OffsetTable::OffsetTable(Hertz grid, Hertz limit, std::function<double(Hertz)> function)
    : grid_(grid), function_(std::move(function)) {
    const auto steps = limit.count() / grid.count() + 1;
    size_ = steps <= dense_max ? static_cast<std::size_t>(steps) : 0;
}

double OffsetTable::first_or_sparse(std::int64_t steps) {
    if (size_ > 0) {
        dense_.assign(size_, -1);
        return at(steps);
    }
    const auto [entry, is_new] = sparse_.try_emplace(steps, 0);
    if (is_new) entry->second = function_(Hertz(steps * grid_.count()));
    return entry->second;
}

void OffsetTable::complete() {
    for (std::size_t steps = 0; steps < size_; ++steps) at(static_cast<std::int64_t>(steps));
    complete_ = true;
}

Hertz frequency_grid(const Scene& scene) {
    std::int64_t grid = 0;
    for (const auto& transmitter : scene.transmitters)
        grid = std::gcd(grid, transmitter.frequency.count());
    return Hertz(std::max<std::int64_t>(grid, 1));
}

RejectionTables::RejectionTables(const Scene& scene, Hertz grid)
    : grid_(grid),
      emissions_(scene.emissions.size()),
      products_(scene.profiles.size() * scene.emissions.size()) {
    for (const auto& a : scene.emissions) shapes_.push_back(shape(a));
    for (const auto& profile : scene.profiles) {
        const auto& selectivity = profile.selectivity;
        front_ends_.push_back({profile.front_end_low, profile.front_end_high,
                               1 / linear(profile.front_end_rejection)});
        noise_.push_back(noise_power(noise_bandwidth(selectivity), profile.noise_figure));
        for (const auto& a : scene.emissions) {
            const Hertz reach = a.density.curve().last() + selectivity.curve().last();
            direct_.push_back({reach.count() / grid_.count(),
                               direct_table(grid_, reach, a.density, selectivity)});
            for (const std::int64_t n : {2, 3}) {
                const Hertz limit = n * harmonic_reach;
                harmonic_.push_back(
                    {limit.count() / grid_.count(),
                     direct_table(grid_, limit, stretched(a.density, n), selectivity)});
            }
        }
        selectivities_.push_back(selectivity);
    }
}

double RejectionTables::emission(std::size_t profile, std::size_t emission, std::int64_t steps) {
    auto& [reach, table] = direct_[profile * emissions_ + emission];
    return steps > reach ? 0 : table.at(steps);
}

double RejectionTables::harmonic(std::size_t profile, std::size_t emission, std::int64_t n,
                                 std::int64_t steps) {
    auto& [reach, table] =
        harmonic_[(profile * emissions_ + emission) * 2 + static_cast<std::size_t>(n - 2)];
    return steps > reach ? 0 : table.at(steps);
}

template <class Sigma>
OffsetTable& RejectionTables::product(std::vector<std::unique_ptr<OffsetTable>>& tables,
                                      std::size_t size, std::size_t at, std::size_t profile,
                                      Sigma sigma_mhz) const {
    if (tables.empty()) tables.resize(size);
    auto& table = tables[at];
    if (!table)
        table = std::make_unique<OffsetTable>(
            product_table(grid_, sigma_mhz(), selectivities_[profile]));
    return *table;
}

OffsetTable& RejectionTables::two_signal(std::size_t profile, std::size_t a, std::size_t b) {
    return product(products_[profile * emissions_ + a].two_signal, emissions_, b, profile,
                   [&] { return two_signal_sigma_mhz(shapes_[a], shapes_[b]); });
}

OffsetTable& RejectionTables::three_signal(std::size_t profile, std::size_t a, std::size_t b,
                                           std::size_t c) {
    return product(products_[profile * emissions_ + a].three_signal, emissions_ * emissions_,
                   b * emissions_ + c, profile,
                   [&] { return three_signal_sigma_mhz(shapes_[a], shapes_[b], shapes_[c]); });
}

std::shared_ptr<RejectionTables> RejectionMemory::tables(const Scene& scene, Hertz grid) {
    const auto known = std::ranges::find_if(known_, [&](const Known& one) {
        return one.tables->grid() == grid && one.emissions == scene.emissions &&
               one.profiles == scene.profiles;
    });
    if (known != known_.end()) {
        std::rotate(known, known + 1, known_.end());
        return known_.back().tables;
    }
    auto made = std::make_shared<RejectionTables>(scene, grid);
    if (grid < finest_kept) return made;
    if (known_.size() == kept_max) known_.erase(known_.begin());
    known_.push_back({scene.emissions, scene.profiles, made});
    return made;
}

}  // namespace fieldpeg::spectrum
