#pragma once

#include "server/spectrum/units.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace fieldpeg::spectrum {

/// A good flight has a picture for this share of it, a usable one for that
/// [ours: docs/model.md, section 7].
inline constexpr double good_share = 0.98;
inline constexpr double usable_share = 0.80;

/// How far reflections, tilt and people scatter a level about its median: log-normal.
inline constexpr Decibel fading_flying{3.8};  ///< [ours: by simulation, docs/model.md, section 5]
inline constexpr Decibel fading_fixed{3.5};   ///< [ours: two-ray over grass, docs/model.md]

/// The gain of a link over a whole flight: a median for each place, all of equal share, and fading.
/// A link between fixed points has one place.
class FlightGain {
public:
    /// Requires at least one place; fading > 0 dB.
    FlightGain(std::vector<double> medians_db, Decibel fading);

    std::span<const double> medians_db() const { return medians_db_; }
    Decibel fading() const { return fading_; }

    /// The gain that is exceeded for a share of the flight. Requires 0 < share < 1.
    Decibel exceeded(double share) const;
    /// The share of the flight for which a gain is exceeded.
    double share_above(Decibel gain) const;

private:
    std::vector<double> medians_db_;
    Decibel fading_;
};

/// The normal distribution function from a table, within 1e-5, and how steeply it rises.
struct NormalAt {
    double share;
    double slope;
};

/// At every 64th from -8 to 8.
inline constexpr double normal_limit = 8, normal_steps_per_unit = 64;
extern const std::array<double,
                        static_cast<std::size_t>(2 * normal_limit * normal_steps_per_unit) + 1>
    normal_table;

inline NormalAt normal_at(double x) {
    const double within = std::clamp(x, -normal_limit, normal_limit - 1 / normal_steps_per_unit);
    const double steps = (within + normal_limit) * normal_steps_per_unit;
    const auto i = static_cast<std::size_t>(steps);
    const double rise = normal_table[i + 1] - normal_table[i];
    return {normal_table[i] + (steps - static_cast<double>(i)) * rise,
            rise * normal_steps_per_unit};
}

}  // namespace fieldpeg::spectrum
