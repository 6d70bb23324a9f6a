#include "server/spectrum/many_ways.h"

#include "server/spectrum/flight.h"
#include "server/spectrum/geometry.h"
#include "server/spectrum/propagation.h"

#include <boost/math/distributions/normal.hpp>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

constexpr float degrees_per_radian = static_cast<float>(180 / std::numbers::pi);

float lesser(float a, float b) {
    return a < b ? a : b;
}
float greater(float a, float b) {
    return a > b ? a : b;
}

/// 10 log10 x for x > 0, within 1e-5 dB. The mantissa's logarithm by its series in (m-1)/(m+1).
float ten_log10(float x) {
    const auto bits = std::bit_cast<std::int32_t>(x);
    // Halved where the mantissa is above sqrt 2, so that the series is short.
    const auto shifted = bits - 0x3f3504f3;
    const auto exponent = static_cast<float>(shifted >> 23);
    const auto mantissa = std::bit_cast<float>((shifted & 0x007fffff) + 0x3f3504f3);
    const float s = (mantissa - 1) / (mantissa + 1);
    const float s2 = s * s;
    const float series =
        s * (2.0F + s2 * (0.66666667F + s2 * (0.4F + s2 * (0.28571429F + s2 * 0.22222222F))));
    constexpr float db_per_octave = 3.01029996F, db_per_neper = 4.34294482F;
    return db_per_octave * exponent + db_per_neper * series;
}

/// Degrees, for a, b >= 0 and not both 0: atan(a / b), within 2e-5 degrees.
float arc_tangent_deg(float a, float b) {
    const float ratio = lesser(a, b) / greater(a, b);
    // Half the angle first: the series converges fast up to 22.5 degrees.
    const float half = ratio / (1 + std::sqrt(1 + ratio * ratio));
    const float h2 = half * half;
    const float series =
        half *
        (1 + h2 * (-0.33333333F +
                   h2 * (0.2F + h2 * (-0.14285714F + h2 * (0.11111111F + h2 * -0.09090909F)))));
    const float angle = 2 * degrees_per_radian * series;
    return a > b ? 90 - angle : angle;
}

float square(float x) {
    return x * x;
}

/// What an end lacks of its peak gain towards an elevation and azimuth.
struct Down {
    explicit Down(const EndGain& end)
        : per_elevation2(static_cast<float>(
              12 / (end.pattern.vertical_width.count() * end.pattern.vertical_width.count()))),
          elevation(static_cast<float>(end.elevation.count())),
          floor(static_cast<float>(end.pattern.floor.count())),
          azimuth_down(static_cast<float>(end.azimuth_down.count())) {
        if (!end.looks_one_way) return;
        const double width = end.pattern.horizontal_width->count();
        per_azimuth2 = static_cast<float>(12 / (width * width));
        azimuth = static_cast<float>(end.azimuth.count());
    }

    float at(float elevation_deg) const {
        return lesser(per_elevation2 * square(elevation_deg - elevation) + azimuth_down, floor);
    }
    float at(float elevation_deg, float azimuth_deg) const {
        float off = azimuth_deg - azimuth;
        off = off > 180 ? off - 360 : off;
        off = off < -180 ? off + 360 : off;
        return lesser(per_elevation2 * square(elevation_deg - elevation) +
                          lesser(per_azimuth2 * square(off), floor),
                      floor);
    }

    float per_elevation2, elevation, floor, azimuth_down;
    float per_azimuth2 = 0, azimuth = 0;
};

/// Path loss less that of one metre in free space, for a squared distance.
struct Loss {
    Loss(Hertz reference, double height_m)
        : one_metre(static_cast<float>(free_space_loss(reference, Metres(1)).count())),
          per_height2(static_cast<float>(
              std::pow(4 * std::numbers::pi * std::max(height_m, height_min.count()) /
                           wavelength_m(reference),
                       2))) {}

    float at(float distance2, float height_m) const {
        constexpr auto nearest2 = static_cast<float>(path_min.count() * path_min.count());
        const float d2 = greater(distance2, nearest2);
        const float h = greater(height_m, static_cast<float>(height_min.count()));
        const float crossover2 = greater(per_height2 * h * h, nearest2);
        return one_metre + ten_log10(d2 * greater(d2 / crossover2, 1));
    }

    float one_metre, per_height2;
};

}  // namespace

Places::Places(std::span<const Point> points) {
    for (const auto& p : points) {
        x_m.push_back(static_cast<float>(p.x_m));
        y_m.push_back(static_cast<float>(p.y_m));
        z_m.push_back(static_cast<float>(p.z_m));
    }
}

std::vector<float> gains_db(const Places& places, const EndGain& there, const Point& to,
                            const EndGain& here, Hertz reference) {
    const std::size_t count = places.size();
    const float *x = places.x_m.data(), *y = places.y_m.data(), *z = places.z_m.data();
    const auto to_x = static_cast<float>(to.x_m), to_y = static_cast<float>(to.y_m),
               to_z = static_cast<float>(to.z_m);
    const Down there_down(there), here_down(here);
    const Loss loss(reference, to.z_m);
    const auto peak =
        static_cast<float>((there.pattern.peak_gain + here.pattern.peak_gain).count());
    constexpr auto touching2 = static_cast<float>(touching.count() * touching.count());
    std::vector<float> all(count);
    float* gain = all.data();
    if (!here.looks_one_way) {
        for (std::size_t i = 0; i < count; ++i) {
            const float east = x[i] - to_x, north = y[i] - to_y, up = z[i] - to_z;
            const float ground2 = east * east + north * north;
            const float distance2 = ground2 + up * up;
            const float steep =
                arc_tangent_deg(up < 0 ? -up : up, greater(std::sqrt(ground2), 1e-6F));
            const float elevation = up < 0 ? -steep : steep;  // of the place, seen from here
            const float down = there_down.at(-elevation) + here_down.at(elevation);
            gain[i] = peak - (distance2 < touching2 ? 0 : down) - loss.at(distance2, z[i]);
        }
        return all;
    }
    for (std::size_t i = 0; i < count; ++i) {
        const float east = x[i] - to_x, north = y[i] - to_y, up = z[i] - to_z;
        const float ground2 = east * east + north * north;
        const float distance2 = ground2 + up * up;
        const float steep = arc_tangent_deg(up < 0 ? -up : up, greater(std::sqrt(ground2), 1e-6F));
        const float elevation = up < 0 ? -steep : steep;
        const float quarter =
            arc_tangent_deg(east < 0 ? -east : east, greater(north < 0 ? -north : north, 1e-6F));
        const float from_north = north < 0 ? 180 - quarter : quarter;
        const float azimuth = east < 0 ? -from_north : from_north;
        const float down = there_down.at(-elevation) + here_down.at(elevation, azimuth);
        gain[i] = peak - (distance2 < touching2 ? 0 : down) - loss.at(distance2, z[i]);
    }
    return all;
}

Decibel exceeded_by_many(std::span<const float> medians_db, Decibel fading, double share) {
    // Each median is dealt out to the two nearest bins by distance: of second order, as the
    // distribution between them is smooth.
    constexpr float bins_per_db = 4;
    const auto [least, greatest] = std::ranges::minmax(medians_db);
    const auto bins = static_cast<std::size_t>((greatest - least) * bins_per_db) + 2;
    std::vector<double> weights(bins, 0);
    double sum = 0, squares = 0;
    for (const float median : medians_db) {
        const float at = (median - least) * bins_per_db;
        const auto bin = static_cast<std::size_t>(at);
        const auto over = static_cast<double>(at - static_cast<float>(bin));
        weights[bin] += 1 - over;
        weights[bin + 1] += over;
        sum += static_cast<double>(median);
        squares += static_cast<double>(median) * static_cast<double>(median);
    }
    const auto count = static_cast<double>(medians_db.size());
    const double sigma = fading.count(), mean = sum / count;
    const double z = boost::math::quantile(boost::math::normal(), 1 - share);
    double low = static_cast<double>(least) + sigma * z,
           high = static_cast<double>(greatest) + sigma * z;
    double x = std::clamp(
        mean + z * std::sqrt(std::max(squares / count - mean * mean, 0.0) + sigma * sigma), low,
        high);
    constexpr double resolution_db = 1e-3;
    constexpr int steps_max = 60;
    for (int step = 0; step < steps_max && high - low > resolution_db; ++step) {
        double above = 0, falls = 0;
        for (std::size_t bin = 0; bin < bins; ++bin) {
            if (weights[bin] == 0) continue;
            const double median = static_cast<double>(least) +
                                  static_cast<double>(bin) / static_cast<double>(bins_per_db);
            const auto [over, slope] = normal_at((median - x) / sigma);
            above += weights[bin] * over;
            falls += weights[bin] * slope;
        }
        const double too_much = above / count - share;
        (too_much > 0 ? low : high) = x;
        const double newton = x + too_much * count * sigma / falls;
        if (std::abs(newton - x) < resolution_db) return Decibel(newton);
        x = low < newton && newton < high ? newton : (low + high) / 2;
    }
    return Decibel(x);
}

}  // namespace fieldpeg::spectrum
