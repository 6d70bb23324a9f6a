#include "server/spectrum/antenna.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

constexpr double degrees_per_radian = 180 / std::numbers::pi;

/// To [-180, 180).
double wrapped(double angle_deg) {
    return angle_deg - 360 * std::floor((angle_deg + 180) / 360);
}

double parabola(double angle_deg, double width_deg) {
    const double x = angle_deg / width_deg;
    return 12 * x * x;
}

/// Signed inverse axial ratio.
double inverse_axial_ratio(Polarisation p, Decibel axial_ratio) {
    if (is_linear(p)) return 0;
    const double q = std::pow(10.0, -axial_ratio.count() / 20);
    return p == Polarisation::rhcp ? q : -q;
}

bool both_linear(Polarisation a, Polarisation b) {
    return is_linear(a) && is_linear(b);
}

double cos_twice(double angle_deg) {
    return std::cos(2 * angle_deg / degrees_per_radian);
}

/// cos 2D at the angle between the major axes that the role assumes.
double assumed_cos_2d(Polarisation a, Polarisation b, Role role) {
    const double crossed_deg = a == b ? 0 : 90;
    if (role == Role::wanted)
        return both_linear(a, b) ? cos_twice(std::min(90.0, tilt_fixed.count() + crossed_deg)) : -1;
    return both_linear(a, b) ? cos_twice(std::max(0.0, crossed_deg - tilt_fixed.count())) : 1;
}

/// cos 2D on average while one end turns as an aircraft does.
double mean_cos_2d(Polarisation a, Polarisation b) {
    if (!both_linear(a, b)) return 0;
    const double tilt_rad = tilt_flying.count() / degrees_per_radian;
    return (a == b ? 1 : -1) * std::exp(-2 * tilt_rad * tilt_rad);
}

}  // namespace

Ray::Ray(const Point& from, const Point& to)
    : east_m_(to.x_m - from.x_m),
      north_m_(to.y_m - from.y_m),
      up_m_(to.z_m - from.z_m),
      ground_m_(std::sqrt(east_m_ * east_m_ + north_m_ * north_m_)),
      slant_m_(std::sqrt(ground_m_ * ground_m_ + up_m_ * up_m_)) {}

Degrees Ray::azimuth() const {
    return Degrees(std::atan2(east_m_, north_m_) * degrees_per_radian);
}

Degrees Ray::elevation() const {
    return Degrees(std::atan2(up_m_, ground_m_) * degrees_per_radian);
}

Decibel gain(const AntennaPattern& pattern, Degrees azimuth_off, Degrees elevation_off) {
    double down = parabola(elevation_off.count(), pattern.vertical_width.count());
    if (pattern.horizontal_width)
        down += std::min(parabola(wrapped(azimuth_off.count()), pattern.horizontal_width->count()),
                         pattern.floor.count());
    return pattern.peak_gain - Decibel(std::min(down, pattern.floor.count()));
}

Decibel gain(const Antenna& antenna, const Ray& leaving) {
    // An omnidirectional antenna looks everywhere: no need to know where the ray goes.
    const Degrees azimuth_off =
        antenna.pattern.horizontal_width ? leaving.azimuth() - antenna.azimuth : 0_deg;
    return gain(antenna.pattern, azimuth_off, leaving.elevation() - antenna.elevation);
}

Decibel ellipse_coupling_loss(double q1, double q2, double cos_2d) {
    const double eta =
        0.5 + (4 * q1 * q2 + (1 - q1 * q1) * (1 - q2 * q2) * cos_2d) /
                  (2 * (1 + q1 * q1) * (1 + q2 * q2));  // [IEEE-149, polarisation efficiency]
    return -decibel(std::clamp(eta, 0.0, 1.0));
}

Decibel fixed_polarisation_loss(Polarisation a, Decibel axial_ratio_a, Polarisation b,
                                Decibel axial_ratio_b, Role role) {
    const Decibel loss =
        ellipse_coupling_loss(inverse_axial_ratio(a, axial_ratio_a),
                              inverse_axial_ratio(b, axial_ratio_b), assumed_cos_2d(a, b, role));
    return std::min(loss, cross_polar_floor_fixed);
}

Decibel flying_polarisation_loss(Polarisation a, Decibel axial_ratio_a, Polarisation b,
                                 Decibel axial_ratio_b) {
    const Decibel loss =
        ellipse_coupling_loss(inverse_axial_ratio(a, axial_ratio_a),
                              inverse_axial_ratio(b, axial_ratio_b), mean_cos_2d(a, b));
    return std::min(loss, cross_polar_floor_flying);
}

Degrees omnidirectional_vertical_width(Decibel peak_gain) {
    return Degrees(107.6 * std::pow(10.0, -0.1 * peak_gain.count()));  // [F.1336-5, recommends 2]
}

Degrees sectoral_vertical_width(Decibel peak_gain, Degrees horizontal_width) {
    return Degrees(31'000 * std::pow(10.0, -0.1 * peak_gain.count()) /
                   horizontal_width.count());  // [F.1336-5, recommends 3.1]
}

}  // namespace fieldpeg::spectrum
