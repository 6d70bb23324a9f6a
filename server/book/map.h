#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <optional>

/// Where something is on a map, and where on the field: metres from the field's origin along the
/// shortest way, by its direction there (azimuthal equidistant, WGS 84).
namespace fieldpeg::book {

struct MapPoint {
    double latitude_deg, longitude_deg;
};

struct FieldPoint {
    double east_m, north_m;
};

/// None if the field does not say where its point 0, 0 is.
std::optional<MapPoint> origin_of(const v1::Field& field);

FieldPoint on_field(const MapPoint& origin, const MapPoint& point);
/// Longitudes from -180 to 180.
MapPoint on_map(const MapPoint& origin, const FieldPoint& point);

}  // namespace fieldpeg::book
