#include "server/book/map.h"

#include <GeographicLib/AzimuthalEquidistant.hpp>
#include <GeographicLib/Geodesic.hpp>

namespace fieldpeg::book {

std::optional<MapPoint> origin_of(const v1::Field& field) {
    if (!field.has_latitude_deg() || !field.has_longitude_deg()) return std::nullopt;
    return MapPoint{field.latitude_deg(), field.longitude_deg()};
}

FieldPoint on_field(const MapPoint& origin, const MapPoint& point) {
    FieldPoint at{};
    GeographicLib::AzimuthalEquidistant(GeographicLib::Geodesic::WGS84())
        .Forward(origin.latitude_deg, origin.longitude_deg, point.latitude_deg, point.longitude_deg,
                 at.east_m, at.north_m);
    return at;
}

MapPoint on_map(const MapPoint& origin, const FieldPoint& point) {
    MapPoint at{};
    GeographicLib::AzimuthalEquidistant(GeographicLib::Geodesic::WGS84())
        .Reverse(origin.latitude_deg, origin.longitude_deg, point.east_m, point.north_m,
                 at.latitude_deg, at.longitude_deg);
    return at;
}

}  // namespace fieldpeg::book
