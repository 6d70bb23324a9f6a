#include "server/spectrum/geometry.h"

#include "server/spectrum/propagation.h"

#include <boost/assert.hpp>
#include <boost/math/tools/toms748_solve.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

struct Flat {
    double x_m, y_m;
};

double ground_distance(const Flat& a, const Point& b) {
    return std::hypot(a.x_m - b.x_m, a.y_m - b.y_m);
}

/// Unit vector on the ground from the receiver to the envelope's centre; north if it stands there.
Flat bearing(const Envelope& envelope, const Point& receiver) {
    const Flat centre{envelope.x_m, envelope.y_m};
    const double rho = ground_distance(centre, receiver);
    if (rho <= 0) return {0, 1};
    return {(envelope.x_m - receiver.x_m) / rho, (envelope.y_m - receiver.y_m) / rho};
}

/// The rim at bearings 0, 45, ... 315 degrees.
std::array<Flat, 8> rim(const Envelope& envelope) {
    static const auto directions = [] {
        std::array<Flat, 8> unit;
        for (std::size_t i = 0; i < unit.size(); ++i) {
            const double angle = static_cast<double>(i) * std::numbers::pi / 4;
            unit[i] = {std::sin(angle), std::cos(angle)};
        }
        return unit;
    }();
    auto points = directions;
    for (auto& [x, y] : points) {
        x = envelope.x_m + envelope.radius_m * x;
        y = envelope.y_m + envelope.radius_m * y;
    }
    return points;
}

/// The rim point farthest from (side = 1) or nearest to (side = -1) the receiver.
Flat rim_point(const Envelope& envelope, const Point& receiver, double side) {
    const Flat towards = bearing(envelope, receiver);
    return {envelope.x_m + side * envelope.radius_m * towards.x_m,
            envelope.y_m + side * envelope.radius_m * towards.y_m};
}

bool is_under(const Envelope& envelope, const Point& receiver) {
    return ground_distance({envelope.x_m, envelope.y_m}, receiver) <= envelope.radius_m;
}

/// Area common to a circle of radius d about the receiver and the disc.
double lens_area(double rho, double r, double d) {
    if (d <= r - rho) return std::numbers::pi * d * d;
    if (d <= rho - r) return 0;
    if (d >= rho + r) return std::numbers::pi * r * r;
    const auto angle = [](double x) { return std::acos(std::clamp(x, -1.0, 1.0)); };
    const double kite = (-rho + d + r) * (rho + d - r) * (rho - d + r) * (rho + d + r);
    return d * d * angle((rho * rho + d * d - r * r) / (2 * rho * d)) +
           r * r * angle((rho * rho + r * r - d * d) / (2 * rho * r)) -
           0.5 * std::sqrt(std::max(kite, 0.0));
}

Point pushed_out(const Point& point, const Point& receiver) {
    const double dx = point.x_m - receiver.x_m;
    const double dy = point.y_m - receiver.y_m;
    const double dz = point.z_m - receiver.z_m;
    const double d = std::sqrt(dx * dx + dy * dy + dz * dz);
    if (d >= standoff.count()) return point;
    if (d <= 0) return {receiver.x_m, receiver.y_m + standoff.count(), receiver.z_m};
    const double k = standoff.count() / d;
    return {receiver.x_m + k * dx, receiver.y_m + k * dy, receiver.z_m + k * dz};
}

}  // namespace

double quantile_distance_m(double rho_m, double radius_m, double q) {
    BOOST_ASSERT(radius_m > 0 && 0 < q && q < 1);
    const double wanted = q * std::numbers::pi * radius_m * radius_m;
    const double inside = std::sqrt(q) * radius_m;  // as long as the circle stays in the disc
    if (inside <= radius_m - rho_m) return inside;
    std::uintmax_t steps = 100;
    const auto [low, high] = boost::math::tools::toms748_solve(
        [&](double d) { return lens_area(rho_m, radius_m, d) - wanted; },
        std::max(0.0, std::abs(rho_m - radius_m)), rho_m + radius_m,
        boost::math::tools::eps_tolerance<double>(30), steps);
    return (low + high) / 2;
}

std::vector<Point> far_half(const Envelope& envelope, const Point& receiver) {
    const double rho = ground_distance({envelope.x_m, envelope.y_m}, receiver);
    std::vector<Point> points;
    const auto add = [&](const Flat& at) {
        for (const double z : {envelope.z_low_m, envelope.z_high_m})
            points.push_back({at.x_m, at.y_m, z});
    };
    for (const auto& at : rim(envelope))
        if (ground_distance(at, receiver) >= rho) add(at);
    add(rim_point(envelope, receiver, 1));
    return points;
}

Point at_quantile(const Envelope& envelope, const Point& receiver) {
    const double rho = ground_distance({envelope.x_m, envelope.y_m}, receiver);
    const double d =
        std::max(quantile_distance_m(rho, envelope.radius_m, ref_share), path_min.count());
    const Flat towards = bearing(envelope, receiver);
    return {receiver.x_m + d * towards.x_m, receiver.y_m + d * towards.y_m,
            (envelope.z_low_m + envelope.z_high_m) / 2};
}

std::vector<Point> near_points(const Envelope& envelope, const Point& receiver) {
    std::vector<Point> points;
    points.reserve(23);
    const auto add = [&](const Flat& at) {
        for (const double z : {envelope.z_low_m, envelope.z_high_m})
            points.push_back(pushed_out({at.x_m, at.y_m, z}, receiver));
    };
    add({envelope.x_m, envelope.y_m});
    for (const auto& at : rim(envelope)) add(at);
    add(rim_point(envelope, receiver, 1));
    if (is_under(envelope, receiver)) {
        add({receiver.x_m, receiver.y_m});
        const double z = std::clamp(receiver.z_m, envelope.z_low_m, envelope.z_high_m);
        points.push_back(pushed_out({receiver.x_m, receiver.y_m, z}, receiver));
    } else {
        add(rim_point(envelope, receiver, -1));
    }
    return points;
}

}  // namespace fieldpeg::spectrum
