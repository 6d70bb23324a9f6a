#include "server/book/map.h"
#include "server/book/parts.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <string>

/// Points of a map on a field. WGS 84 [TR8350.2, table 3.1]: a = 6 378 137 m, 1/f = 298.257 223 563
/// (from memory; they define the system). A step north by little is as long as the meridian's
/// radius of curvature makes it, a step east as the prime vertical's [TR8350.2, chapter 4; any
/// handbook of geodesy]: M = a (1 - e2) / w^3, N = a / w, w = sqrt(1 - e2 sin2 lat).
namespace fieldpeg::book {
namespace {

constexpr double a_m = 6'378'137, flattening = 1 / 298.257223563;
constexpr double e2 = flattening * (2 - flattening);

double radians(double degrees) {
    return degrees * std::numbers::pi / 180;
}

TEST(Map, AStepNorthIsAsLongAsTheMeridianHasIt) {
    for (const double latitude : {-60.0, 0.0, 35.0, 52.0, 80.0}) {
        const double w = std::sqrt(1 - e2 * std::pow(std::sin(radians(latitude)), 2));
        const double along = a_m * (1 - e2) / std::pow(w, 3) * radians(0.001);
        const auto at = on_field({latitude, 7}, {latitude + 0.001, 7});
        EXPECT_NEAR(at.north_m, along, 0.002) << latitude;
        EXPECT_NEAR(at.east_m, 0, 1e-6) << latitude;
    }
}

TEST(Map, AStepEastIsAsLongAsTheParallelHasIt) {
    for (const double latitude : {-60.0, 0.0, 35.0, 52.0, 80.0}) {
        const double w = std::sqrt(1 - e2 * std::pow(std::sin(radians(latitude)), 2));
        const double along = a_m / w * std::cos(radians(latitude)) * radians(0.001);
        const auto at = on_field({latitude, 7}, {latitude, 7.001});
        EXPECT_NEAR(at.east_m, along, 0.002) << latitude;
        EXPECT_NEAR(at.north_m, 0, 0.01)
            << latitude;  // the parallel bends away from the shortest way
    }
}

// The metre was made so that a quarter of a meridian has ten million: it has 10 001 965.7 on WGS 84
// [common value, from memory].
TEST(Map, FromTheEquatorToAPoleIsAQuarterOfAMeridian) {
    EXPECT_NEAR(on_field({0, 20}, {90, 20}).north_m, 10'001'965.7, 0.1);
}

TEST(Map, IsLeftAsItWasEntered) {
    std::mt19937 random(17);
    std::uniform_real_distribution<double> latitude(-89.9, 89.9), longitude(-180, 180),
        metres(-20'000, 20'000);
    for (int i = 0; i < 500; ++i) {
        const MapPoint origin{latitude(random), longitude(random)};
        const FieldPoint at{metres(random), metres(random)};
        const auto again = on_field(origin, on_map(origin, at));
        EXPECT_NEAR(again.east_m, at.east_m, 1e-4);
        EXPECT_NEAR(again.north_m, at.north_m, 1e-4);
    }
}

TEST(Map, KnowsNoEdgeAtTheAntimeridianAndNoneAtThePoles) {
    const auto across = on_field({10, 179.9999}, {10, -179.9999});
    EXPECT_NEAR(across.east_m, on_field({10, 0}, {10, 0.0002}).east_m, 1e-3);
    const auto beyond = on_map({10, 179.9999}, {100, 0});
    EXPECT_LT(beyond.longitude_deg, -179.99);
    const auto pole = on_field({90, 0}, {89.999, 90});
    EXPECT_NEAR(std::hypot(pole.east_m, pole.north_m), on_field({89.999, 0}, {90, 0}).north_m,
                0.01);
}

// --- as a file has them

v1::DaySheet field(bool has_origin) {
    v1::DaySheet day;
    day.mutable_field()->set_name("Long meadow");
    if (!has_origin) return day;
    day.mutable_field()->set_latitude_deg(52.045);
    day.mutable_field()->set_longitude_deg(-1.2035);
    return day;
}

std::string place_at(const std::string& at) {
    return "[[field.place]]\nname = \"hut\"\nheight_m = 2\n" + at + "\n";
}

std::string wrong(const std::string& toml, bool has_origin = true) {
    Problems problems;
    EXPECT_FALSE(read_parts(toml, "parts", field(has_origin), problems));
    return problems.empty() ? "" : to_string(problems.front());
}

TEST(Map, GivesAPlaceItsMetres) {
    Problems problems;
    const auto parts =
        read_parts(place_at("at_deg = [52.046, -1.2035]"), "parts", field(true), problems);
    ASSERT_TRUE(parts) << to_string(problems.front());
    EXPECT_NEAR(parts->sheet.field().places(0).north_m(), 111.3, 0.1);  // M of 52 degrees, above
    EXPECT_NEAR(parts->sheet.field().places(0).east_m(), 0, 1e-6);
}

TEST(Map, TellsWhatWasWrittenTheWrongWayRound) {
    const auto text = wrong(place_at("at_deg = [-1.2035, 52.046]"));
    EXPECT_NE(text.find("km from the field's origin"), std::string::npos) << text;
    EXPECT_NE(text.find("did you mean '[52.046, -1.2035]'"), std::string::npos) << text;
    EXPECT_EQ(wrong(place_at("at_deg = [10, 10]")).find("did you mean"), std::string::npos);
}

TEST(Map, NeedsTheFieldsOrigin) {
    EXPECT_NE(wrong(place_at("at_deg = [52.046, -1.2035]"), false).find("origin"),
              std::string::npos);
    Problems problems;
    EXPECT_TRUE(read_parts("[field]\norigin = [52, -1]\n" + place_at("at_deg = [52, -1]"), "parts",
                           field(false), problems));
}

TEST(Map, IsNotMixedWithMetres) {
    EXPECT_NE(wrong(place_at("at_m = [0, 0]\nat_deg = [52.046, -1.2035]")).find("one of the two"),
              std::string::npos);
    EXPECT_NE(wrong(place_at("at_deg = [95, -1.2035]")).find("beyond 90"), std::string::npos);
}

}  // namespace
}  // namespace fieldpeg::book
