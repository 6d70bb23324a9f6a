#include "server/spectrum/reach.h"

#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::spectrum {
namespace {

/// The level that arrives from a point, without fade.
Dbm arriving(const Transmitter& transmitter, const Receiver& receiver, const Point& from) {
    const End there{transmitter.antenna, transmitter.loss, from, true};
    const End here{receiver.antenna, receiver.loss, receiver.at, false};
    return transmitter.power + link_gain(there, here, transmitter.frequency, Role::wanted);
}

}  // namespace

Reach reach(const Transmitter& transmitter, const Receiver& receiver,
            const ReceiverProfile& profile) {
    constexpr int steps = 400;
    const auto& envelope = std::get<Envelope>(transmitter.at);
    const auto places = far_half(envelope, receiver.at);
    const auto weakest = *std::ranges::min_element(
        places, {}, [&](const Point& at) { return arriving(transmitter, receiver, at); });
    const double east = weakest.x_m - receiver.at.x_m;
    const double north = weakest.y_m - receiver.at.y_m;
    const double rim_m = std::hypot(east, north);
    const Dbm needed = noise_power(noise_bandwidth(profile.selectivity), profile.noise_figure) +
                       profile.watchable + fade_wanted_air +
                       front_end_loss(profile, transmitter.frequency);
    const auto is_seen = [&](double share, double z_m) {
        const Point at{receiver.at.x_m + share * east, receiver.at.y_m + share * north, z_m};
        return arriving(transmitter, receiver, at) >= needed;
    };
    for (int i = steps; i > 0; --i) {
        const double share = static_cast<double>(i) / steps;
        if (is_seen(share, envelope.z_low_m) && is_seen(share, envelope.z_high_m))
            return {Metres(rim_m * share), Metres(rim_m)};
    }
    return {Metres(0), Metres(rim_m)};
}

}  // namespace fieldpeg::spectrum
