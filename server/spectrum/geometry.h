#pragma once

#include "server/spectrum/scene.h"

#include <vector>

namespace fieldpeg::spectrum {

/// Every margin is computed twice. The wanted signal is the same in both.
enum class Geometry {
    ref,    ///< disturbers where one time in ten they are nearer
    worst,  ///< disturbers as near as the safety line lets them come
};
inline constexpr Geometry geometries[] = {Geometry::ref, Geometry::worst};

/// A disturber is nearer than its `ref` place this share of the time [ours: docs/model.md, 12].
inline constexpr double ref_share = 0.10;
/// The club's safety-line distance: no aircraft comes nearer to a receiver [ours: assumed].
inline constexpr Metres standoff = 30_m;
/// The same between two aircraft.
inline constexpr Metres air_standoff = 10_m;
/// Nearer than this a direction means nothing, and both antennas count with their peak gain.
inline constexpr Metres touching = 0.1_m;

/// The distance within which a point, uniform in a disc of `radius_m` whose centre is `rho_m`
/// away, is found a share q of the time: lens(rho, r, d) = q pi r^2, the area of two overlapping
/// circles [ours: closed form, plane geometry]. Requires radius_m > 0 and 0 < q < 1.
double quantile_distance_m(double rho_m, double radius_m, double q);

/// Where the wanted aircraft may be when its picture is weakest: the far half of the rim, low and
/// high. Leaving out the part above the receiver is on purpose (docs/model.md, section 12).
std::vector<Point> far_half(const Envelope& envelope, const Point& receiver);

/// Where a disturbing aircraft is in the `ref` geometry.
Point at_quantile(const Envelope& envelope, const Point& receiver);

/// Where a disturbing aircraft may be in the `worst` geometry; none nearer than the standoff.
std::vector<Point> near_points(const Envelope& envelope, const Point& receiver);

}  // namespace fieldpeg::spectrum
