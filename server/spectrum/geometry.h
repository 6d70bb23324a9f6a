#pragma once

#include "server/spectrum/scene.h"

#include <array>
#include <cstddef>
#include <vector>

namespace fieldpeg::spectrum {

/// Where those who disturb are.
enum class Geometry {
    usual,    ///< all over their areas: the level that counts is exceeded `usual_share` of the time
    closest,  ///< passing as near as their standoff lets them
};
inline constexpr Geometry geometries[] = {Geometry::usual, Geometry::closest};

/// A disturbance is stronger than its `usual` level this share of the time [ours: by simulation,
/// docs/model.md, section 12].
inline constexpr double usual_share = 0.15;
/// No two aircraft come nearer to each other [ours: assumed].
inline constexpr Metres air_standoff = 10_m;
/// Nearer than this a direction means nothing, and both antennas count with their peak gain.
inline constexpr Metres touching = 0.1_m;

/// What stands for a whole flight: places of equal share of the area, 5 rings of 12 at 4 heights.
/// [ours: docs/model.md, section 5]
inline constexpr std::size_t flight_places = 240;
std::array<Point, flight_places> places(const Envelope& envelope);

/// How near an aircraft comes to people: as declared, but at most half of the greatest distance
/// within its area.
Metres standoff(const Envelope& envelope);
/// Half of the greatest distance within an area.
Metres half_extent(const Envelope& envelope);

/// Where a disturbing aircraft may be as it passes a receiver closest; none nearer than the
/// standoff.
std::vector<Point> near_points(const Envelope& envelope, const Point& receiver);

}  // namespace fieldpeg::spectrum
