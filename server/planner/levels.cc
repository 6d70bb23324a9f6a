#include "server/planner/levels.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace fieldpeg::planner {

LevelTables::LevelTables(const Problem& problem)
    : problem_(problem),
      kinds_(problem.pair_gain.size()),
      bands_(problem.bands.size()),
      product_(problem.profiles.size() * kinds_ * kinds_ * (kinds_ + 1) * bands_) {
    for (const auto& profile : problem.profiles) {
        for (std::size_t kind = 0; kind < kinds_; ++kind)
            for (std::size_t into = 0; into < bands_; ++into)
                for (const auto& from : problem.bands) {
                    auto& rows = leak_.emplace_back();
                    auto& least = least_leak_.emplace_back();
                    least.fill(INFINITY);
                    for (const auto step : from) {
                        rows.push_back(levels(profile.leak[kind], into, step, INT64_MAX));
                        for (std::size_t c = 0; c < band_size_max; ++c)
                            least[c] = std::min(least[c], rows.back()[c]);
                    }
                }
        for (const auto& band : problem.bands) {
            auto& levels = front_.emplace_back(Levels{});
            for (std::size_t c = 0; c < band.size(); ++c)
                levels[c] = static_cast<float>(problem.front(profile, band[c]));
        }
    }
}

const Levels* LevelTables::product(std::size_t profile, std::size_t a, std::size_t b, std::size_t c,
                                   std::size_t into, std::int64_t step) {
    const auto& band = problem_.bands[into];
    const std::int64_t reach = problem_.product_reach;
    if (step < band.front() - reach || step > band.back() + reach) return nullptr;
    auto& known =
        product_[(((profile * kinds_ + a) * kinds_ + b) * (kinds_ + 1) + c) * bands_ + into];
    const std::int64_t lowest = band.front() - reach, span = band.back() + reach - lowest + 1;
    if (span <= dense_max && known.by_step.empty())
        known.by_step.resize(static_cast<std::size_t>(span));
    auto& index = span <= dense_max ? known.by_step[static_cast<std::size_t>(step - lowest)]
                                    : known.by_fine_step[step];
    if (index == 0) {
        const auto& p = problem_.profiles[profile];
        const auto& curve =
            c == kinds_ ? p.two[a * kinds_ + b] : p.three[(a * kinds_ + b) * kinds_ + c];
        known.all.push_back(levels(curve, into, step, reach));
        index = static_cast<std::uint32_t>(known.all.size());
    }
    return &known.all[index - 1];
}

Levels LevelTables::levels(const Falloff& curve, std::size_t into, std::int64_t step,
                           std::int64_t reach) const {
    Levels levels{};
    const auto& band = problem_.bands[into];
    for (std::size_t c = 0; c < band.size(); ++c) {
        const std::int64_t off = std::abs(step - band[c]);
        if (off <= reach) levels[c] = static_cast<float>(curve(off));
    }
    return levels;
}

}  // namespace fieldpeg::planner
