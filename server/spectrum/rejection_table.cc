#include "server/spectrum/rejection_table.h"

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

}  // namespace

OffsetTable::OffsetTable(Hertz grid, Hertz limit, std::function<double(Hertz)> function)
    : grid_(grid), function_(std::move(function)) {
    const auto steps = limit.count() / grid.count() + 1;
    if (steps <= dense_max) dense_.assign(static_cast<std::size_t>(steps), -1);
}

double OffsetTable::sparse(std::int64_t steps) {
    const auto [entry, is_new] = sparse_.try_emplace(steps, 0);
    if (is_new) entry->second = function_(Hertz(steps * grid_.count()));
    return entry->second;
}

void OffsetTable::complete() {
    for (std::size_t steps = 0; steps < dense_.size(); ++steps)
        at(static_cast<std::int64_t>(steps));
    complete_ = true;
}

Hertz frequency_grid(const Scene& scene) {
    std::int64_t grid = 0;
    for (const auto& transmitter : scene.transmitters)
        grid = std::gcd(grid, transmitter.frequency.count());
    return Hertz(std::max<std::int64_t>(grid, 1));
}

RejectionTables::RejectionTables(const Scene& scene)
    : grid_(frequency_grid(scene)), emissions_(scene.emissions.size()) {
    for (const auto& profile : scene.profiles) {
        const auto& selectivity = profile.selectivity;
        for (const auto& a : scene.emissions) {
            const Hertz reach = a.density.curve().last() + selectivity.curve().last();
            const auto rejection = [density = a.density, selectivity](Hertz offset) {
                return std::min(
                    1.0, 1 / linear(frequency_dependent_rejection(density, selectivity, offset)));
            };
            direct_.push_back(
                {reach.count() / grid_.count(), OffsetTable(grid_, reach, rejection)});
            for (const auto& b : scene.emissions) {
                two_signal_.push_back(
                    product_table(grid_, two_signal_sigma_mhz(shape(a), shape(b)), selectivity));
                for (const auto& c : scene.emissions)
                    three_signal_.push_back(product_table(
                        grid_, three_signal_sigma_mhz(shape(a), shape(b), shape(c)), selectivity));
            }
        }
    }
}

double RejectionTables::emission(std::size_t profile, std::size_t emission, std::int64_t steps) {
    auto& [reach, table] = direct_[profile * emissions_ + emission];
    return steps > reach ? 0 : table.at(steps);
}

OffsetTable& RejectionTables::two_signal(std::size_t profile, std::size_t a, std::size_t b) {
    return two_signal_[(profile * emissions_ + a) * emissions_ + b];
}

OffsetTable& RejectionTables::three_signal(std::size_t profile, std::size_t a, std::size_t b,
                                           std::size_t c) {
    return three_signal_[((profile * emissions_ + a) * emissions_ + b) * emissions_ + c];
}

}  // namespace fieldpeg::spectrum
