#include "server/spectrum/swamp_range.h"

#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/propagation.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::spectrum {
namespace {

constexpr double step = 1.01;

/// Where free space alone, both antennas looking at each other, leaves what the receiver stands: no
/// way loses less.
double farthest_m(const Transmitter& t, const Receiver& v, const ReceiverProfile& profile) {
    const Decibel to_lose = t.power + t.antenna.pattern.peak_gain - t.loss +
                            v.antenna.pattern.peak_gain - v.loss -
                            front_end_loss(profile, t.frequency) - profile.p1db;
    const Decibel of_one_metre = free_space_loss(band_reference(t.frequency), Metres(1));
    return std::pow(10, (to_lose - of_one_metre).count() / 20);
}

}  // namespace

std::optional<Metres> swamp_range(const Transmitter& transmitter, const Receiver& receiver,
                                  const ReceiverProfile& profile, Metres beyond) {
    const auto* from = std::get_if<Point>(&transmitter.at);
    if (!from) return std::nullopt;
    auto moved = receiver;
    const double east = moved.at.x_m - from->x_m, north = moved.at.y_m - from->y_m;
    const double away_m = std::hypot(east, north);
    const auto swamps = [&](double distance_m) {
        moved.at.x_m = from->x_m + (away_m > 0 ? east * distance_m / away_m : distance_m);
        moved.at.y_m = from->y_m + (away_m > 0 ? north * distance_m / away_m : 0);
        return transmitter.power + unwanted_gain(transmitter, moved, Geometry::closest) -
                   front_end_loss(profile, transmitter.frequency) >=
               profile.p1db;
    };
    // From far off inwards: close under a mast its antenna looks past whoever stands there.
    double distance_m =
        std::min(swamp_farthest.count(), step * farthest_m(transmitter, receiver, profile));
    for (; distance_m > beyond.count(); distance_m /= step)
        if (swamps(distance_m)) return Metres(distance_m);
    return std::nullopt;
}

}  // namespace fieldpeg::spectrum
