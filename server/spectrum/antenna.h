#pragma once

#include "server/spectrum/units.h"

#include <optional>

namespace fieldpeg::spectrum {

/// Metres east, north and above ground of the field's origin.
struct Point {
    double x_m = 0;
    double y_m = 0;
    double z_m = 0;

    bool operator==(const Point&) const = default;
};

/// The way from one point to another.
class Ray {
public:
    Ray(const Point& from, const Point& to);

    double slant_m() const { return slant_m_; }
    Degrees azimuth() const;    ///< clockwise from north, (-180, 180]
    Degrees elevation() const;  ///< above the horizon

private:
    double east_m_, north_m_, up_m_, ground_m_, slant_m_;
};

enum class Polarisation { rhcp, lhcp, vertical, horizontal };
constexpr bool is_linear(Polarisation p) {
    return p == Polarisation::vertical || p == Polarisation::horizontal;
}

/// A pattern without side lobes: parabolic in dB up to a floor [3GPP-38.901, Table 7.3-1, form],
/// with the vertical width of an omnidirectional antenna from its gain [F.1336-5, recommends 2].
struct AntennaPattern {
    Decibel peak_gain;                        ///< dBi
    std::optional<Degrees> horizontal_width;  ///< half power; none: omnidirectional
    Degrees vertical_width;                   ///< half power
    Decibel floor;        ///< least gain below the peak: side lobe level, or front to back
    Decibel axial_ratio;  ///< of a circular antenna; ignored for a linear one

    bool operator==(const AntennaPattern&) const = default;
};

/// An antenna as it is fastened to something.
struct Antenna {
    AntennaPattern pattern;
    Polarisation polarisation = Polarisation::vertical;
    Degrees azimuth;  ///< where a directional antenna looks
    Degrees elevation;
    bool turns = false;  ///< on a head or in hands: its azimuth is that of what it looks at

    bool operator==(const Antenna&) const = default;
};

/// Gain at `azimuth_off` and `elevation_off` from where the antenna looks, dBi.
///
///     G = gain - min(a_h + a_v, floor),  a = 12 (angle / width)^2
///
/// Elsewhere than in its own band an antenna keeps this gain [ours: pessimistic].
Decibel gain(const AntennaPattern& pattern, Degrees azimuth_off, Degrees elevation_off);

/// Gain of a fixed antenna along a ray that leaves it, dBi.
Decibel gain(const Antenna& antenna, const Ray& leaving);

/// What a link is for: where nobody knows which way an antenna is turned, the wanted one counts
/// with the least gain and a disturbance with the greatest.
enum class Role { wanted, unwanted };

/// By how much the antennas at both ends may be turned against each other [ours: assumed].
inline constexpr Degrees tilt_fixed = 30_deg;   ///< two that stand, as masts and worn goggles do
inline constexpr Degrees tilt_flying = 20_deg;  ///< rms, of an aircraft
/// Reflections bring back this much of what hands or planes would part: between fixed ends
/// [ours: assumed], and where one end flies [ours: by simulation, docs/model.md, section 4].
inline constexpr Decibel cross_polar_floor_fixed = 17_dB;
inline constexpr Decibel cross_polar_floor_flying = 10_dB;

/// Polarisation mismatch loss of two ellipses between fixed ends, at the angle between them that is
/// the worst for a wanted and the best for an unwanted signal. [IEEE-149, polarisation efficiency]
///
///     eta = 1/2 + [4 q1 q2 + (1 - q1^2)(1 - q2^2) cos 2D] / [2 (1 + q1^2)(1 + q2^2)]
///
/// q is the signed inverse axial ratio, right hand positive, 0 for a linear antenna.
Decibel fixed_polarisation_loss(Polarisation a, Decibel axial_ratio_a, Polarisation b,
                                Decibel axial_ratio_b, Role role);

/// The same where an end flies, wanted or not: an aircraft turns, and its mean counts. Of two
/// linear antennas cos 2D is its mean under a tilt of `tilt_flying`, exp(-2 tilt^2); else 0.
Decibel flying_polarisation_loss(Polarisation a, Decibel axial_ratio_a, Polarisation b,
                                 Decibel axial_ratio_b);

/// The loss for cos 2D, D being the angle between the major axes; without the floor.
Decibel ellipse_coupling_loss(double q1, double q2, double cos_2d);

/// Vertical half-power width of an omnidirectional antenna: 107.6 * 10^(-0.1 G) degrees.
/// [F.1336-5, recommends 2]
Degrees omnidirectional_vertical_width(Decibel peak_gain);

/// Vertical half-power width of a sector antenna: 31000 * 10^(-0.1 G) / horizontal width.
/// [F.1336-5, recommends 3.1]
Degrees sectoral_vertical_width(Decibel peak_gain, Degrees horizontal_width);

}  // namespace fieldpeg::spectrum
