#pragma once

#include "server/spectrum/antenna.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <span>
#include <vector>

/// Gains of many ways at once, by loops that a compiler turns into vector instructions: this is
/// where tables from nothing spend their time. Used by link.cc.
namespace fieldpeg::spectrum {

/// Places side by side, coordinate by coordinate.
struct Places {
    explicit Places(std::span<const Point> points);

    std::size_t size() const { return x_m.size(); }

    std::vector<float> x_m, y_m, z_m;
};

/// An end of a link as the loops see it.
struct EndGain {
    /// `looks_one_way`: the direction off its azimuth counts; else `azimuth_down` is taken off,
    /// whatever the direction.
    AntennaPattern pattern;
    Degrees elevation;
    Degrees azimuth;
    bool looks_one_way;
    Decibel azimuth_down;
};

/// Gain from each place to `to`, antennas and path loss, without cables and polarisation, as
/// link_gain() has it: within 0.001 dB.
std::vector<float> gains_db(const Places& places, const EndGain& there, const Point& to,
                            const EndGain& here, Hertz reference);

/// The level exceeded for a share of places that fade independently about their medians. By a
/// histogram of the medians: within 0.002 dB of FlightGain::exceeded().
Decibel exceeded_by_many(std::span<const float> medians_db, Decibel fading, double share);

}  // namespace fieldpeg::spectrum
