#pragma once

#include "server/spectrum/scene.h"

#include <cstddef>
#include <optional>
#include <vector>

/// What a pilot's own transmitters do to the receiver by which their aircraft knows where it is
/// (docs/model.md, section 14). All its values are assumed.
namespace fieldpeg::spectrum {

/// A receiver for satellite positioning on an aircraft.
struct Positioning {
    std::vector<HopBand> bands;  ///< that its front end lets through
    Decibel noise_figure;
    Point at;                         ///< where it is looked at
    std::vector<std::size_t> own;     ///< the pilot's transmitters
    std::vector<std::size_t> aboard;  ///< of these those on the aircraft
};

/// By the rise of its noise: 1 dB is steady, 3 dB clash.
enum class PositioningWord { steady, tight, clash };

struct PositioningStanding {
    PositioningWord word;
    std::optional<Decibel> over_noise;  ///< of what falls into its bands; none: nothing does
    std::vector<std::size_t> from;  ///< of the strongest of that: one of a harmonic, two of 2A-B
    Hertz strongest{0};             ///< where it lies
    Decibel desensitisation;        ///< by strong signals beside its bands
    bool is_swamped;
    std::optional<std::size_t> blocker;  ///< the strongest of those
};

PositioningStanding own_craft(const Scene& scene, const Positioning& positioning);

/// Where what an aircraft carries is looked at: at the rim farthest from somebody, half way up.
Point far_rim_half_way_up(const Envelope& area, const Point& from);

}  // namespace fieldpeg::spectrum
