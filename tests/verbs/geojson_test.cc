#include "tests/support/days.h"
#include "tests/support/temporary.h"
#include "tests/verbs/ran.h"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <string>

/// A field for a map program, held against what RFC 7946 asks of GeoJSON (from memory): section
/// 3.1.1, longitude before latitude; 3.1.6, a ring is closed, has four positions or more, and an
/// outer one runs against the clock; 3.2, a feature has geometry and properties; 3.1.9, none
/// crosses the antimeridian.
namespace fieldpeg::verbs {
namespace {

using nlohmann::json;
using testing::changed;
using testing::ran;

class GeoJson : public ::testing::Test {
protected:
    json map_of(const std::string& origin) {
        testing::write_file(
            folder_.at("day.toml"),
            changed(testing::whole_day(), "origin = [52.0, -1.0]", "origin = " + origin));
        const auto outcome = ran({"field", "geojson", "--day", folder_.at("day.toml")});
        EXPECT_EQ(outcome.status, 0) << outcome.err;
        said_ = outcome.err;
        return json::parse(outcome.out);
    }

    testing::TemporaryFolder folder_;
    std::string said_;
};

/// Twice the area that a ring goes round, in square degrees; above 0: against the clock.
double twice_around(const json& ring) {
    double sum = 0;
    for (std::size_t i = 0; i + 1 < ring.size(); ++i)
        sum += ring[i][0].get<double>() * ring[i + 1][1].get<double>() -
               ring[i + 1][0].get<double>() * ring[i][1].get<double>();
    return sum;
}

TEST_F(GeoJson, IsACollectionOfPointsAndOfRingsAgainstTheClock) {
    const auto map = map_of("[52.0, -1.0]");
    EXPECT_EQ(map["type"], "FeatureCollection");
    std::size_t points = 0, rings = 0;
    for (const auto& feature : map["features"]) {
        EXPECT_EQ(feature["type"], "Feature");
        EXPECT_TRUE(feature["properties"]["name"].is_string());
        const auto& geometry = feature["geometry"];
        if (geometry["type"] == "Point") {
            ++points;
            EXPECT_NEAR(geometry["coordinates"][0].get<double>(), -1, 0.1);
            EXPECT_NEAR(geometry["coordinates"][1].get<double>(), 52, 0.1);
            continue;
        }
        ++rings;
        EXPECT_EQ(geometry["type"], "Polygon");
        const auto& ring = geometry["coordinates"][0];
        EXPECT_GE(ring.size(), 4U);
        EXPECT_EQ(ring.front(), ring.back());
        EXPECT_GT(twice_around(ring), 0);
    }
    EXPECT_GT(points, 0U);
    EXPECT_GT(rings, 0U);
}

TEST_F(GeoJson, DrawsNoRingAcrossTheAntimeridianOrRoundAPole) {
    for (const auto* origin : {"[10.0, 180.0]", "[90.0, 0.0]"}) {
        const auto map = map_of(origin);
        for (const auto& feature : map["features"])
            EXPECT_TRUE(feature["geometry"]["type"] == "Point" ||
                        std::abs(feature["geometry"]["coordinates"][0][0][0].get<double>()) < 180);
        EXPECT_NE(said_.find("only its middle"), std::string::npos) << origin;
    }
}

TEST_F(GeoJson, NeedsTheFieldsOrigin) {
    testing::write_file(folder_.at("day.toml"),
                        changed(testing::whole_day(), "origin = [52.0, -1.0]\n", ""));
    const auto outcome = ran({"field", "geojson", "--day", folder_.at("day.toml")});
    EXPECT_NE(outcome.status, 0);
    EXPECT_NE(outcome.err.find("day set --origin"), std::string::npos) << outcome.err;
}

}  // namespace
}  // namespace fieldpeg::verbs
