#pragma once

#include "server/spectrum/geometry.h"
#include "server/spectrum/scene.h"
#include "server/spectrum/viewer.h"

#include <cstddef>
#include <random>
#include <span>
#include <vector>

/// Scenes played moment by moment, after the manner of Report ITU-R SM.2028: a second way to the
/// shares of flights that the radio model gives a formula for (docs/model.md, section 12).
///
/// Shared with the model: path loss, antenna patterns, selectivity, rejection, the third-order
/// formulas, desensitisation and front ends. Not shared: places, fading, levels that count,
/// polarisation, who adds up with whom. Each moment draws everybody's place and every link anew.
namespace fieldpeg::testing {

/// What is random about a link [ours: assumed, docs/model.md, section 12].
inline constexpr double rician_k_flying_db = 10;
inline constexpr double rician_k_fixed_db = 8;
inline constexpr double shadow_flying_db = 3;  ///< half its variance is the aircraft's own
inline constexpr double shadow_fixed_db = 2;
inline constexpr double tilt_of_aircraft_deg = 20;  ///< rms, between linear antennas
inline constexpr double tilt_of_fixed_deg = 30;     ///< at most

/// Power of a Rician fading signal, 1 on average: a constant and a complex Gaussian.
double rician_power(std::mt19937_64& rng, double k_db);

/// One end of a link at one moment.
struct Ending {
    const spectrum::Antenna* antenna;
    spectrum::Decibel loss;
    spectrum::Point at;
    bool flies = false;
    double azimuth_deg = 0;     ///< where a directional antenna looks
    double axial_ratio_db = 0;  ///< of a circular antenna
    double own_shadow_db = 0;   ///< what all links of an aircraft have in common
};

/// A transmitter at one moment: an aircraft somewhere in its area, headed somewhere.
Ending at_one_moment(std::mt19937_64& rng, const spectrum::Transmitter& transmitter,
                     std::span<const spectrum::Receiver> receivers);
/// A receiver, while what it hears is at `wanted`: an antenna on a head looks there.
Ending at_one_moment(const spectrum::Receiver& receiver, const spectrum::Point& wanted);

/// The share of the power that gets from one polarisation into the other, the ray that the ground
/// sends back with the other hand included where an end flies.
double polarisation_share(std::mt19937_64& rng, const Ending& a, const Ending& b);

/// The power ratio from cable to cable.
double link_power(std::mt19937_64& rng, const Ending& a, const Ending& b,
                  spectrum::Hertz frequency);

/// Somewhere in the area, nearer to none of the receivers than the area's standoff: theirs who fly
/// there and all others', since all are people or stand among them. After a hundred draws it stays
/// where it is.
spectrum::Point somewhere(std::mt19937_64& rng, const spectrum::Envelope& area,
                          std::span<const spectrum::Receiver> receivers);

struct Moments {
    int all_over = 4000;
    int at_rim = 2000;
};

/// What became of somebody's picture.
struct Flight {
    double lost;         ///< share of the flight
    double lost_at_rim;  ///< with the wanted aircraft at the far rim, as seen from its receiver
};
/// At most 2 % lost, and at most 10 % at the far rim.
bool is_good(const Flight& flight);
/// Three times as much.
bool is_awful(const Flight& flight);

/// Plays a scene for those who see pictures in it. Requires that nobody hops and that everybody is
/// on the air all the time; harmonics are left out.
std::vector<Flight> fly(const spectrum::Scene& scene, std::span<const spectrum::Viewer> viewers,
                        std::mt19937_64& rng, const Moments& moments = {});

/// By itself: a receiver with nobody else at its ears.
spectrum::Viewer alone(const spectrum::Scene& scene, std::size_t receiver);

}  // namespace fieldpeg::testing
