#include "server/spectrum/geometry.h"

#include <algorithm>
#include <array>
#include <cmath>
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

/// The points of a circle at bearings 0, 45, ... 315 degrees.
std::array<Flat, 8> circle(const Flat& centre, double radius_m) {
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
        x = centre.x_m + radius_m * x;
        y = centre.y_m + radius_m * y;
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

Point pushed_out(const Point& point, const Point& receiver, double standoff_m) {
    const double dx = point.x_m - receiver.x_m;
    const double dy = point.y_m - receiver.y_m;
    const double dz = point.z_m - receiver.z_m;
    const double d = std::sqrt(dx * dx + dy * dy + dz * dz);
    if (d >= standoff_m) return point;
    if (d <= 0) return {receiver.x_m, receiver.y_m + standoff_m, receiver.z_m};
    const double k = standoff_m / d;
    return {receiver.x_m + k * dx, receiver.y_m + k * dy, receiver.z_m + k * dz};
}

}  // namespace

std::array<Point, flight_places> places(const Envelope& envelope) {
    constexpr std::size_t rings = 5, sectors = 12, heights = 4;
    static_assert(rings * sectors * heights == flight_places);
    std::array<Point, flight_places> all;
    auto* place = all.data();
    for (std::size_t k = 0; k < rings; ++k) {
        const auto ring = static_cast<double>(k);
        const double rho = envelope.radius_m * std::sqrt((ring + 0.5) / rings);
        for (std::size_t j = 0; j < sectors; ++j) {
            const double turn = (static_cast<double>(j) + (k % 2 == 1 ? 0.5 : 0)) / sectors;
            const double x = envelope.x_m + rho * std::sin(2 * std::numbers::pi * turn);
            const double y = envelope.y_m + rho * std::cos(2 * std::numbers::pi * turn);
            for (std::size_t i = 0; i < heights; ++i) {
                const double up = (static_cast<double>(i) + 0.5) / heights;
                *place++ = {x, y, envelope.z_low_m + (envelope.z_high_m - envelope.z_low_m) * up};
            }
        }
    }
    return all;
}

Metres half_extent(const Envelope& envelope) {
    return Metres(std::hypot(2 * envelope.radius_m, envelope.z_high_m - envelope.z_low_m) / 2);
}

Metres standoff(const Envelope& envelope) {
    return std::min(Metres(envelope.standoff_m), half_extent(envelope));
}

std::vector<Point> near_points(const Envelope& envelope, const Point& receiver) {
    const double standoff_m = standoff(envelope).count();
    std::vector<Point> points;
    points.reserve(32);
    const auto add = [&](const Flat& at, double z) {
        points.push_back(pushed_out({at.x_m, at.y_m, z}, receiver, standoff_m));
    };
    const auto add_low_and_high = [&](const Flat& at) {
        add(at, envelope.z_low_m);
        add(at, envelope.z_high_m);
    };
    add_low_and_high({envelope.x_m, envelope.y_m});
    for (const auto& at : circle({envelope.x_m, envelope.y_m}, envelope.radius_m))
        add_low_and_high(at);
    add_low_and_high(rim_point(envelope, receiver, 1));
    // At the height of a head too: overhead both antennas are in their nulls.
    const double head = std::clamp(receiver.z_m, envelope.z_low_m, envelope.z_high_m);
    if (!is_under(envelope, receiver)) {
        const auto nearest = rim_point(envelope, receiver, -1);
        add_low_and_high(nearest);
        add(nearest, head);
        return points;
    }
    add_low_and_high({receiver.x_m, receiver.y_m});
    for (const auto& at : circle({receiver.x_m, receiver.y_m}, standoff_m))
        if (is_under(envelope, {at.x_m, at.y_m, 0})) add(at, head);
    return points;
}

}  // namespace fieldpeg::spectrum
