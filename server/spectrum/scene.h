#pragma once

#include "server/spectrum/antenna.h"
#include "server/spectrum/curve.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <optional>
#include <variant>
#include <vector>

namespace fieldpeg::spectrum {

/// Most different frequencies that a scene may use: work grows with their cube [ours].
inline constexpr std::size_t distinct_channels_max = 100;

/// The volume an aircraft flies in: an upright cylinder.
struct Envelope {
    double x_m;  ///< centre
    double y_m;
    double radius_m;
    double z_low_m;
    double z_high_m;

    bool operator==(const Envelope&) const = default;
};

/// Where a transmitter is: at a fixed point, or somewhere in a flying area.
using Station = std::variant<Point, Envelope>;

struct Emission {
    Density density;
    double sigma_mhz;        ///< rms width, for the products of intermodulation only
    bool constant_envelope;  ///< frequency modulation is, a digital multicarrier signal is not
};

struct ReceiverProfile {
    Selectivity selectivity;
    Decibel noise_figure;
    Dbm iip3;
    Dbm p1db;              ///< blockers above this swamp it
    Dbm strongest_wanted;  ///< its own transmitter may not arrive stronger
    Decibel watchable;     ///< C/(N+I) needed
    Decibel sharp;
    Hertz front_end_low;  ///< what lies outside the front end's band is weakened first
    Hertz front_end_high;
    Decibel front_end_rejection;
};

struct Transmitter {
    std::size_t emission;  ///< index into Scene::emissions
    Hertz frequency;
    Dbm power;  ///< at the transmitter's output
    Antenna antenna;
    Decibel loss;  ///< cable and connectors
    Station at;
};

struct Receiver {
    std::size_t profile;               ///< index into Scene::profiles
    std::optional<std::size_t> hears;  ///< the wanted transmitter; it is tuned to its frequency
    Antenna antenna;
    Decibel loss;
    Point at;
    /// Receivers of one number that hear one transmitter belong together: the better picture
    /// counts.
    std::size_t link = 0;
};

/// Everything that radiates and listens at one moment. Indices must be in range.
struct Scene {
    std::vector<Emission> emissions;
    std::vector<ReceiverProfile> profiles;
    std::vector<Transmitter> transmitters;
    std::vector<Receiver> receivers;
};

}  // namespace fieldpeg::spectrum
