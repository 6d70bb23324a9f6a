#include "server/spectrum/geometry.h"

#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::chance;
using testing::for_all;
using testing::random_envelope;

constexpr double rounding_m = 1e-9;

double apart_m(const Point& a, const Point& b) {
    return std::hypot(a.x_m - b.x_m, a.y_m - b.y_m, a.z_m - b.z_m);
}
double apart_on_ground_m(const Point& a, const Point& b) {
    return std::hypot(a.x_m - b.x_m, a.y_m - b.y_m);
}
Point centre(const Envelope& e) {
    return {e.x_m, e.y_m, 0};
}
bool is_within(const Envelope& e, const Point& p) {
    return apart_on_ground_m(p, centre(e)) <= e.radius_m + rounding_m &&
           e.z_low_m - rounding_m <= p.z_m && p.z_m <= e.z_high_m + rounding_m;
}

/// Anywhere near the area, under it as often as not, now and then right in its middle.
Point random_receiver(std::mt19937_64& rng, const Envelope& e) {
    if (chance(rng, 10)) return {e.x_m, e.y_m, e.z_low_m};
    const double far_m = e.radius_m * 2;
    return {e.x_m + between(rng, -far_m, far_m), e.y_m + between(rng, -far_m, far_m),
            chance(rng, 20) ? between(rng, e.z_low_m, e.z_high_m + 1e-9) : between(rng, 0.5, 5)};
}

/// Somewhere in an area, each part of it as likely as any other of the same volume: thrown into a
/// box until it hits.
Point somewhere_in(std::mt19937_64& rng, const Envelope& e) {
    for (;;) {
        const double x = between(rng, -1, 1), y = between(rng, -1, 1);
        if (x * x + y * y <= 1)
            return {e.x_m + e.radius_m * x, e.y_m + e.radius_m * y,
                    e.z_low_m + (e.z_high_m - e.z_low_m) * between(rng, 0, 1)};
    }
}

template <class Of>
double mean(const Envelope& e, Of of) {
    double sum = 0;
    for (const auto& p : places(e)) sum += of(p);
    return sum / static_cast<double>(flight_places);
}

// The moments of a uniform cylinder: r^2/4 along each axis, r^2/2 and r^4/3 from the middle, h^2/12
// in height. Rings and layers leave out a little of what lies within each.
TEST(Places, HaveTheMomentsOfACylinder) {
    for_all(50, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const double r = e.radius_m, h = e.z_high_m - e.z_low_m;
        const auto x = [&](const Point& p) { return p.x_m - e.x_m; };
        const auto y = [&](const Point& p) { return p.y_m - e.y_m; };
        const auto z = [&](const Point& p) { return p.z_m - (e.z_low_m + e.z_high_m) / 2; };
        const auto rho = [&](const Point& p) { return std::hypot(x(p), y(p)); };
        EXPECT_NEAR(mean(e, x), 0, 1e-9 * r);
        EXPECT_NEAR(mean(e, y), 0, 1e-9 * r);
        EXPECT_NEAR(mean(e, z), 0, 1e-9);
        EXPECT_NEAR(mean(e, [&](auto& p) { return x(p) * x(p); }), r * r / 4, 1e-9 * r * r);
        EXPECT_NEAR(mean(e, [&](auto& p) { return y(p) * y(p); }), r * r / 4, 1e-9 * r * r);
        EXPECT_NEAR(mean(e, [&](auto& p) { return x(p) * y(p); }), 0, 1e-9 * r * r);
        EXPECT_NEAR(mean(e, [&](auto& p) { return x(p) * z(p); }), 0, 1e-9 * r * (h + 1));
        EXPECT_NEAR(mean(e, [&](auto& p) { return rho(p); }), 2 * r / 3, 0.01 * r);
        EXPECT_NEAR(mean(e, [&](auto& p) { return std::pow(rho(p), 4); }), std::pow(r, 4) / 3,
                    0.011 * std::pow(r, 4));
        EXPECT_NEAR(mean(e, [&](auto& p) { return z(p) * z(p); }), h * h / 12, 0.006 * h * h);
    });
}

// Seen from anywhere, as much of the flight is nearer than any distance as of a uniform cylinder.
TEST(Places, AreAsFarFromAnyPointAsAUniformFlight) {
    constexpr double coarse = 0.07;  // 12 sectors, 5 rings and 4 layers are no continuum
    for_all(40, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const auto seen_from = random_receiver(rng, e);
        std::vector<double> thrown(4000);
        for (auto& d : thrown) d = apart_m(somewhere_in(rng, e), seen_from);
        std::ranges::sort(thrown);
        for (const double share : {0.1, 0.25, 0.5, 0.75, 0.9}) {
            const double d = thrown[static_cast<std::size_t>(share * 4000)];
            EXPECT_NEAR(mean(e, [&](auto& p) { return apart_m(p, seen_from) < d ? 1.0 : 0.0; }),
                        share, coarse);
        }
    });
}

TEST(Places, LieInTheAreaAndAreAllDifferent) {
    for_all(50, [](std::mt19937_64& rng) {
        auto e = random_envelope(rng);
        e.z_high_m += 1;
        auto all = places(e);
        for (const auto& p : all) EXPECT_TRUE(is_within(e, p));
        const auto order = [](const Point& a, const Point& b) {
            return std::tuple(a.x_m, a.y_m, a.z_m) < std::tuple(b.x_m, b.y_m, b.z_m);
        };
        std::ranges::sort(all, order);
        EXPECT_EQ(std::ranges::adjacent_find(all), all.end());
    });
}

// Every other ring is turned by half a step, so that a narrow beam does not meet all or none.
TEST(Places, LieOnTwiceAsManyBearingsAsARingHolds) {
    std::map<long, int> on_bearing;
    for (const auto& p : places({0, 0, 100, 3, 40}))
        ++on_bearing[std::lround(std::atan2(p.x_m, p.y_m) * 180 / std::numbers::pi)];
    EXPECT_EQ(on_bearing.size(), 24u);
    EXPECT_EQ(on_bearing[0], 3 * 4);  // three of five rings, four layers
    EXPECT_EQ(on_bearing[15], 2 * 4);
}

// The farthest apart that two points of an area can be, found by trying its rims.
TEST(HalfExtent, IsHalfOfTheGreatestDistanceWithinTheArea) {
    for_all(50, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        double greatest_m = 0;
        for (int i = 0; i < 360; ++i) {
            const double angle = i * std::numbers::pi / 180;
            const Point low{e.x_m + e.radius_m, e.y_m, e.z_low_m};
            const Point high{e.x_m + e.radius_m * std::cos(angle),
                             e.y_m + e.radius_m * std::sin(angle), e.z_high_m};
            greatest_m = std::max(greatest_m, apart_m(low, high));
        }
        EXPECT_NEAR(half_extent(e).count(), greatest_m / 2, rounding_m);
    });
}

TEST(Standoff, IsTheDeclaredOneButAtMostHalfOfTheGreatestDistance) {
    EXPECT_EQ(standoff(Envelope{0, 80, 50, 3, 40}), 30_m);  // 30 m unless declared
    EXPECT_EQ(standoff(Envelope{0, 80, 50, 3, 40, 2}), 2_m);
    EXPECT_EQ(standoff(Envelope{0, 80, 50, 3, 40, 45}), 45_m);
    EXPECT_NEAR(standoff(Envelope{0, 80, 50, 3, 40, 80}).count(), 53.3, 0.05);
    EXPECT_NEAR(standoff(Envelope{0, 80, 12, 3, 13}).count(), 13, rounding_m);  // a small circle
}

TEST(NearPoints, AreNeverNearerThanTheStandoff) {
    for_all(300, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const auto receiver = random_receiver(rng, e);
        for (const auto& p : near_points(e, receiver))
            EXPECT_GE(apart_m(p, receiver), standoff(e).count() - rounding_m);
    });
}

// One that had not to be pushed out is where the aircraft may be.
TEST(NearPoints, LieInTheAreaUnlessTheyWerePushedOut) {
    for_all(300, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const auto receiver = random_receiver(rng, e);
        int within = 0;
        for (const auto& p : near_points(e, receiver)) {
            if (apart_m(p, receiver) <= standoff(e).count() + rounding_m) continue;
            EXPECT_TRUE(is_within(e, p));
            ++within;
        }
        EXPECT_GT(within, 0);  // half of the greatest distance leaves room somewhere
    });
}

/// The shortest way over ground to any of the points at one height.
double nearest_on_ground_m(const std::vector<Point>& points, const Point& receiver, double z_m) {
    double nearest_m = 1e9;
    for (const auto& p : points)
        if (std::abs(p.z_m - z_m) <= rounding_m)
            nearest_m = std::min(nearest_m, apart_on_ground_m(p, receiver));
    return nearest_m;
}

// Outside the area and beyond the safety line: the nearest rim as it is, low, high and level with
// the head.
TEST(NearPoints, HoldTheNearestRimAtThreeHeights) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const double gap_m = between(rng, 60, 300);
        const Point receiver{e.x_m, e.y_m - e.radius_m - gap_m, between(rng, 0, 70)};
        const auto points = near_points(e, receiver);
        for (const double z_m :
             {e.z_low_m, e.z_high_m, std::clamp(receiver.z_m, e.z_low_m, e.z_high_m)})
            EXPECT_NEAR(nearest_on_ground_m(points, receiver, z_m), gap_m, rounding_m);
    });
}

// Under the area an aircraft may be straight above, and at the stand-off level with the head.
TEST(NearPoints, HoldTheStandoffAllAroundOneUnderTheArea) {
    const Envelope e{0, 0, 80, 0, 60, 20};
    const auto points = near_points(e, {10, 0, 1.7});
    const auto holds = [&](double x, double y, double z) {
        return std::ranges::any_of(points, [&](const Point& p) {
            return apart_m(p, {x, y, z}) <= rounding_m;
        });
    };
    for (const double deg : {0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0}) {
        const double a = deg * std::numbers::pi / 180;
        EXPECT_TRUE(holds(10 + 20 * std::sin(a), 20 * std::cos(a), 1.7)) << deg;
    }
    EXPECT_TRUE(holds(10, 0, 60));
    EXPECT_TRUE(holds(10, 0, -18.3));  // below the ground, pushed straight down: it is 20 m away
}

// Near the rim only those that lie in the area; in an area smaller than the stand-off none.
TEST(NearPoints, AtHeadHeightLieInTheArea) {
    const auto level = [](const std::vector<Point>& points) {
        return std::ranges::count_if(
            points, [](const Point& p) { return std::abs(p.z_m - 1.7) <= rounding_m; });
    };
    EXPECT_EQ(level(near_points({0, 0, 80, 0, 60, 20}, {0, 0, 1.7})), 8);
    EXPECT_EQ(level(near_points({0, 0, 80, 0, 60, 20}, {79, 0, 1.7})), 3);  // west and beside it
    EXPECT_EQ(level(near_points({0, 0, 10, 0, 60, 30}, {0, 0, 1.7})), 0);
}

// The edges of the safety line: 29.9 m is pushed out along the line, 30.1 m stays.
TEST(NearPoints, ArePushedOutAlongTheLine) {
    const auto nearest = [](double gap_m) {
        const Envelope e{0, gap_m + 50, 50, 1.7, 1.7};
        const auto points = near_points(e, {0, 0, 1.7});
        return *std::ranges::min_element(points, {}, &Point::y_m);
    };
    EXPECT_NEAR(nearest(29.9).y_m, 30, rounding_m);
    EXPECT_NEAR(nearest(30.1).y_m, 30.1, rounding_m);
    const auto above = near_points({0, 0, 50, 11.7, 11.7}, {0, 0, 1.7});
    const auto overhead = std::ranges::find_if(
        above, [](const Point& p) { return std::abs(p.x_m) < 1e-9 && std::abs(p.y_m) < 1e-9; });
    ASSERT_NE(overhead, above.end());
    EXPECT_NEAR(overhead->z_m, 31.7, rounding_m);  // 10 m above the goggles, pushed straight up
}

// A point at the receiver itself has no line to be pushed along: due north.
TEST(NearPoints, GoNorthFromTheReceiverItself) {
    const auto points = near_points({0, 0, 50, 1.7, 1.7}, {0, 0, 1.7});
    EXPECT_TRUE(std::ranges::any_of(points, [](const Point& p) {
        return apart_m(p, {0, 30, 1.7}) <= rounding_m;
    }));
}

}  // namespace
}  // namespace fieldpeg::spectrum
