#pragma once

#include "server/spectrum/antenna.h"
#include "server/spectrum/curve.h"
#include "server/spectrum/units.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <variant>
#include <vector>

namespace fieldpeg::spectrum {

/// Most different frequencies that a scene may use: work grows with their square [ours].
inline constexpr std::size_t distinct_channels_max = 100;

/// The volume an aircraft flies in: an upright cylinder.
struct Envelope {
    double x_m;  ///< centre
    double y_m;
    double radius_m;
    double z_low_m;
    double z_high_m;
    double standoff_m = 30;  ///< it does not come nearer to people than this [ours: assumed]

    bool operator==(const Envelope&) const = default;
};

/// Where a transmitter is: at a fixed point, or somewhere in a flying area.
using Station = std::variant<Point, Envelope>;

struct Emission {
    Density density;
    double sigma_mhz;        ///< rms width, for the products of intermodulation only
    bool constant_envelope;  ///< frequency modulation is, a digital multicarrier signal is not

    bool operator==(const Emission&) const = default;
};

struct ReceiverProfile {
    Selectivity selectivity;
    Decibel noise_figure;
    Dbm iip3;
    Dbm p1db;  ///< 1 dB compression point: what strong signals off the channel cost goes by it
    Dbm strongest_wanted;  ///< its own transmitter may not arrive stronger
    Decibel watchable;     ///< C/(N+I) needed
    Decibel sharp;
    Hertz front_end_low;  ///< what lies outside the front end's band is weakened first
    Hertz front_end_high;
    Decibel front_end_rejection;

    bool operator==(const ReceiverProfile&) const = default;
};

/// Where a transmitter hops about in short bursts.
struct HopBand {
    Hertz low;
    Hertz high;
};

struct Transmitter {
    std::size_t emission;  ///< index into Scene::emissions
    Hertz frequency;       ///< of one that hops: the middle of its band
    Dbm power;             ///< at the transmitter's output
    Antenna antenna;
    Decibel loss;  ///< cable and connectors
    Station at;
    double duty = 1;  ///< share of the time in which it sends
    std::optional<HopBand> hops = std::nullopt;
    Decibel harmonic_filter = {};  ///< what a filter takes off its harmonics
    /// By how much the second and the third lie below the fundamental [ours: assumed], the output
    /// stage alone; 20 log n of path loss come on top.
    std::array<Decibel, 2> harmonics_below = {Decibel(40), Decibel(50)};
    /// The owner whose receivers do not mind it: theirs wait while it sends.
    std::optional<std::size_t> spares = std::nullopt;
};

struct Receiver {
    std::size_t profile;  ///< index into Scene::profiles
    /// The wanted transmitter; it is tuned to its frequency and can show its emission.
    std::optional<std::size_t> hears;
    Antenna antenna;
    Decibel loss;
    Point at;
    std::size_t owner = 0;  ///< a number for each person
    /// The relay whose input it is, or `silent` if that is not on the air; none: goggles or a
    /// screen. Those of one owner, at one relay or at none, that hear one transmitter show one
    /// picture together (diversity).
    std::optional<std::size_t> feeds = std::nullopt;
    static constexpr std::size_t silent = SIZE_MAX;
    Decibel body = {};  ///< what a head or a body takes off the wanted signal
    bool flies = false;
};

/// The receiver by which an aircraft is steered. It hops with its handset over channels of one step
/// each, and is looked at where the aircraft is farthest from it.
struct Control {
    std::size_t handset;  ///< the transmitter that steers it
    std::size_t profile;
    Antenna antenna;
    Decibel loss;
    Envelope area;
    HopBand hops;
    Hertz step;                       ///< greater than 0, at most the band
    std::vector<std::size_t> aboard;  ///< transmitters on the same aircraft
};

/// Everything that radiates and listens at one moment. Indices must be in range.
struct Scene {
    std::vector<Emission> emissions;
    std::vector<ReceiverProfile> profiles;
    std::vector<Transmitter> transmitters;
    std::vector<Receiver> receivers;
    std::vector<Control> controls = {};
};

}  // namespace fieldpeg::spectrum
