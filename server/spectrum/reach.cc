#include "server/spectrum/reach.h"

#include "server/spectrum/link.h"

#include <boost/math/distributions/normal.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

constexpr double step = 1.01;

Point in(const Direction& direction, const Point& from, double distance_m) {
    const double angle = direction.azimuth.count() * std::numbers::pi / 180;
    return {from.x_m + distance_m * std::sin(angle), from.y_m + distance_m * std::cos(angle),
            direction.height.count()};
}

}  // namespace

Decibel margin_from(const Point& place, const Transmitter& transmitter, const Receiver& receiver,
                    const Reception& reception, double share, Air air) {
    const End there{transmitter.antenna, transmitter.loss, place, true};
    const End here{receiver.antenna, receiver.loss, receiver.at, false};
    const Decibel median = link_gain(there, here, transmitter.frequency, Role::wanted);
    const double faded = boost::math::quantile(boost::math::normal(), 1 - share);
    const Dbm weak = reception.sent + median + faded * fading_flying - reception.body;
    const Dbm strong = reception.sent + median - faded * fading_flying;
    return std::min(weak - reception.floor(air) - reception.profile->watchable,
                    reception.profile->strongest_wanted - strong);
}

std::optional<Reach> reach(const Direction& direction, const Transmitter& transmitter,
                           const Receiver& receiver, const Reception& reception, double share,
                           Air air) {
    const auto is_seen = [&](double distance_m) {
        return margin_from(in(direction, receiver.at, distance_m), transmitter, receiver, reception,
                           share, air) >= Decibel(0);
    };
    constexpr double nearest_m = 1;
    double to = reach_farthest.count();
    while (to > nearest_m && !is_seen(to)) to /= step;
    if (to <= nearest_m) return std::nullopt;
    double from = to;
    while (from > nearest_m && is_seen(from / step)) from /= step;
    return Reach{Metres(from <= nearest_m ? 0 : from), Metres(to)};
}

Rim far_rim(const Envelope& envelope, const Point& receiver) {
    const Ray to_centre(receiver, {envelope.x_m, envelope.y_m, receiver.z_m});
    return {to_centre.azimuth(), Metres(to_centre.slant_m() + envelope.radius_m)};
}

}  // namespace fieldpeg::spectrum
