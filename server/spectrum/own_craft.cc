#include "server/spectrum/own_craft.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/control.h"
#include "server/spectrum/ear.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/link.h"
#include "server/spectrum/noise.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::spectrum {
namespace {

constexpr Hertz bandwidth = 20_MHz, beside_band = 10_MHz;
constexpr Decibel outside_rejection = 40_dB;
constexpr Dbm iip3 = -15_dBm, p1db{-24.6};
/// Noise that rises by 1 dB [ITU-R M.1903, protection criterion -6 dB I/N], by 3 dB.
constexpr Decibel steady_up_to = -6_dB, tight_up_to = 0_dB;

bool is_in(const Positioning& positioning, Hertz at, Hertz beside) {
    return std::ranges::any_of(positioning.bands, [&](const HopBand& band) {
        return band.low - beside <= at && at <= band.high + beside;
    });
}

/// Its antenna looks everywhere and knows no hand.
Receiver as_receiver(const Positioning& positioning) {
    constexpr Degrees everywhere{360};
    Receiver receiver{0, std::nullopt, {}, Decibel(0), positioning.at};
    receiver.antenna.pattern = {Decibel(0), std::nullopt, everywhere, Decibel(0), Decibel(0)};
    receiver.antenna.polarisation = Polarisation::rhcp;
    receiver.flies = true;
    return receiver;
}

/// What arrives of the pilot's own transmitters, before the front end.
std::vector<Dbm> arriving(const Scene& scene, const Positioning& positioning) {
    std::vector<Dbm> all;
    for (const auto t : positioning.own) {
        const auto& transmitter = scene.transmitters[t];
        const bool aboard = std::ranges::find(positioning.aboard, t) != positioning.aboard.end();
        all.push_back(
            transmitter.power +
            (aboard ? -own_isolation
                    : unwanted_gain(transmitter, as_receiver(positioning), Geometry::usual)));
    }
    return all;
}

/// What falls into its bands, term by term.
struct InBand {
    double mw = 0, strongest_mw = 0;
    std::vector<std::size_t> from;
    Hertz at{0};

    void add(double term_mw, std::vector<std::size_t> of, Hertz frequency) {
        mw += term_mw;
        if (term_mw <= strongest_mw) return;
        strongest_mw = term_mw;
        from = std::move(of);
        at = frequency;
    }
};

}  // namespace

Point far_rim_half_way_up(const Envelope& area, const Point& from) {
    const double dx = area.x_m - from.x_m, dy = area.y_m - from.y_m;
    const double away = std::hypot(dx, dy);
    const double x = away > 0 ? dx / away : 0, y = away > 0 ? dy / away : 1;
    return {area.x_m + area.radius_m * x, area.y_m + area.radius_m * y,
            (area.z_low_m + area.z_high_m) / 2};
}

PositioningStanding own_craft(const Scene& scene, const Positioning& positioning) {
    const auto arrives = arriving(scene, positioning);
    const auto& own = positioning.own;
    const auto at_front_end = [&](std::size_t i) {
        const bool inside = is_in(positioning, scene.transmitters[own[i]].frequency, Hertz(0));
        return inside ? arrives[i] : arrives[i] - outside_rejection;
    };
    InBand in_band;
    double blockers = 0, strongest_mw = 0;
    PositioningStanding standing{PositioningWord::steady, {}, {}, {}, Decibel(0), false, {}};
    for (std::size_t i = 0; i < own.size(); ++i) {
        const auto& transmitter = scene.transmitters[own[i]];
        const double mw = milliwatts(at_front_end(i));
        blockers += mw;
        if (mw > strongest_mw) {
            strongest_mw = mw;
            standing.blocker = own[i];
        }
        if (transmitter.hops) continue;
        for (const auto n : harmonics)
            if (const Hertz at = n * transmitter.frequency; is_in(positioning, at, beside_band))
                in_band.add(milliwatts(arrives[i]) * radiated_share(transmitter, n), {own[i]}, at);
        for (std::size_t j = 0; j < own.size(); ++j) {
            const auto& other = scene.transmitters[own[j]];
            if (j == i || other.hops) continue;
            const Hertz at = two_signal_frequency(transmitter.frequency, other.frequency);
            if (is_in(positioning, at, beside_band))
                in_band.add(milliwatts(two_signal_product(
                                at_front_end(i), at_front_end(j), iip3,
                                scene.emissions[transmitter.emission].constant_envelope)),
                            {own[i], own[j]}, at);
        }
    }
    if (in_band.mw > 0) {
        standing.over_noise = dbm(in_band.mw) - noise_power(bandwidth, positioning.noise_figure);
        standing.word = *standing.over_noise <= steady_up_to  ? PositioningWord::steady
                        : *standing.over_noise <= tight_up_to ? PositioningWord::tight
                                                              : PositioningWord::clash;
        standing.from = in_band.from;
        standing.strongest = in_band.at;
    }
    if (blockers > 0) standing.desensitisation = desensitisation(dbm(blockers), p1db);
    standing.is_swamped = blockers > 0 && dbm(blockers) > p1db;
    return standing;
}

}  // namespace fieldpeg::spectrum
