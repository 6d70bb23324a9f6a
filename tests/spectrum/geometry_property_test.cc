#include "server/spectrum/geometry.h"

#include "server/spectrum/link.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

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

/// Anywhere near the area, under it as often as not, now and then right in its middle.
Point random_receiver(std::mt19937_64& rng, const Envelope& e) {
    if (chance(rng, 10)) return {e.x_m, e.y_m, e.z_low_m};
    const double far_m = e.radius_m * 2;
    return {e.x_m + between(rng, -far_m, far_m), e.y_m + between(rng, -far_m, far_m),
            chance(rng, 20) ? between(rng, e.z_low_m, e.z_high_m + 1e-9) : between(rng, 0.5, 5)};
}

/// The share of a disc within d of a point rho from its middle, counted on rings of equal area.
double counted_share(double rho_m, double radius_m, double d_m) {
    constexpr int rings = 150, spokes = 240;
    int within = 0;
    for (int i = 0; i < rings; ++i) {
        const double r = radius_m * std::sqrt((i + 0.5) / rings);
        for (int k = 0; k < spokes; ++k) {
            const double angle = 2 * std::numbers::pi * (k + 0.5) / spokes;
            if (std::hypot(rho_m + r * std::cos(angle), r * std::sin(angle)) <= d_m) ++within;
        }
    }
    return static_cast<double>(within) / (rings * spokes);
}

TEST(QuantileDistance, LeavesTheShareNearer) {
    for_all(40, [](std::mt19937_64& rng) {
        const double radius_m = between(rng, 5, 500);
        const double rho_m = chance(rng, 20) ? 0 : between(rng, 0, 3 * radius_m);
        const double q = between(rng, 0.05, 0.95);
        const double d_m = quantile_distance_m(rho_m, radius_m, q);
        EXPECT_NEAR(counted_share(rho_m, radius_m, d_m), q, 0.01)
            << "rho " << rho_m << " m, radius " << radius_m << " m";
    });
}

// In the middle of a disc, a tenth of it lies within sqrt(0.1) of its radius.
TEST(QuantileDistance, HasAClosedFormInTheMiddle) {
    EXPECT_NEAR(quantile_distance_m(0, 100, 0.1), 31.6227766, 1e-6);
    EXPECT_NEAR(quantile_distance_m(0, 50, 0.25), 25, 1e-6);
}

TEST(QuantileDistance, GrowsWithTheShareAndTheDistance) {
    for_all(60, [](std::mt19937_64& rng) {
        const double radius_m = between(rng, 5, 500);
        const double rho_m = between(rng, 0, 3 * radius_m);
        const double q = between(rng, 0.05, 0.9);
        const double d_m = quantile_distance_m(rho_m, radius_m, q);
        EXPECT_GT(quantile_distance_m(rho_m, radius_m, q + 0.05), d_m);
        EXPECT_GE(quantile_distance_m(rho_m + 10, radius_m, q), d_m - 1e-6);
        EXPECT_GE(d_m, rho_m - radius_m);
        EXPECT_LE(d_m, rho_m + radius_m);
    });
}

TEST(FarHalf, IsTheRimAwayFromTheReceiver) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const auto receiver = random_receiver(rng, e);
        const double rho_m = apart_on_ground_m(centre(e), receiver);
        const auto points = far_half(e, receiver);
        double farthest_m = 0;
        for (const auto& p : points) {
            EXPECT_NEAR(apart_on_ground_m(p, centre(e)), e.radius_m, rounding_m);
            EXPECT_GE(apart_on_ground_m(p, receiver), rho_m - rounding_m);
            EXPECT_TRUE(p.z_m == e.z_low_m || p.z_m == e.z_high_m);
            farthest_m = std::max(farthest_m, apart_on_ground_m(p, receiver));
        }
        EXPECT_NEAR(farthest_m, rho_m + e.radius_m, rounding_m);
        if (rho_m <= 0) {  // in the middle, all of the rim is equally far
            EXPECT_EQ(points.size(), 18u);
        }
    });
}

TEST(AtQuantile, IsOnTheBearingOfTheCentreAtMidHeight) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const auto receiver = random_receiver(rng, e);
        const double rho_m = apart_on_ground_m(centre(e), receiver);
        const auto p = at_quantile(e, receiver);
        const double d_m = apart_on_ground_m(p, receiver);
        EXPECT_NEAR(p.z_m, (e.z_low_m + e.z_high_m) / 2, rounding_m);
        EXPECT_NEAR(d_m, std::max(0.3, quantile_distance_m(rho_m, e.radius_m, 0.1)), 1e-6);
        if (rho_m > 0) {
            EXPECT_NEAR(apart_on_ground_m(p, centre(e)), std::abs(rho_m - d_m), 1e-6);
        } else {
            EXPECT_NEAR(p.x_m, receiver.x_m, rounding_m);  // north
            EXPECT_GT(p.y_m, receiver.y_m);
        }
    });
}

TEST(NearPoints, AreNeverNearerThanTheStandoff) {
    for_all(300, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const auto receiver = random_receiver(rng, e);
        for (const auto& p : near_points(e, receiver))
            EXPECT_GE(apart_m(p, receiver), standoff.count() - rounding_m);
    });
}

// Outside the area and beyond the safety line: the nearest rim, as it is.
TEST(NearPoints, HoldTheNearestRim) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto e = random_envelope(rng);
        const Point receiver{e.x_m, e.y_m - e.radius_m - between(rng, 30, 300), 1.7};
        const double gap_m = -(receiver.y_m - e.y_m) - e.radius_m;
        double nearest_m = 1e9;
        for (const auto& p : near_points(e, receiver))
            nearest_m = std::min(nearest_m, apart_on_ground_m(p, receiver));
        EXPECT_NEAR(nearest_m, gap_m, rounding_m);
    });
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

// With omnidirectional antennas, before the ground reflection counts and at flat angles, nearer is
// louder: then the closest approach disturbs at least as much as the usual place.
TEST(UnwantedGain, IsNoLessAtTheClosestApproachOutsideTheArea) {
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    for_all(100, [&](std::mt19937_64& rng) {
        const double low_m = between(rng, 5, 20);
        const Envelope e{0, 0, between(rng, 10, 80), low_m, low_m + between(rng, 0, 30)};
        const double rho_m = e.radius_m + between(rng, 100, 150);
        const double angle = between(rng, 0, 6.28);
        const Receiver receiver{
            0, 0, omni, 0.5_dB, {rho_m * std::sin(angle), rho_m * std::cos(angle), 1.7}};
        const Transmitter transmitter{0, 5'800_MHz, 14_dBm, omni, 0.5_dB, e};
        EXPECT_GE(unwanted_gain(transmitter, receiver, Geometry::worst).count(),
                  unwanted_gain(transmitter, receiver, Geometry::ref).count());
    });
}

// Something that stands still is where it is, usually and at worst.
TEST(UnwantedGain, OfAFixedTransmitterIsTheSameInBothGeometries) {
    for_all(50, [](std::mt19937_64& rng) {
        const Transmitter transmitter{
            0, 5'800_MHz, 14_dBm, testing::random_antenna(rng), 0.5_dB, testing::random_place(rng)};
        const Receiver receiver{0, std::nullopt, testing::random_antenna(rng), 0.5_dB,
                                testing::random_place(rng)};
        EXPECT_EQ(unwanted_gain(transmitter, receiver, Geometry::ref),
                  unwanted_gain(transmitter, receiver, Geometry::worst));
    });
}

// The wanted signal is judged by its worst case and the unwanted by its best.
TEST(WantedGain, IsNeverAboveTheUnwantedGainAndItsFade) {
    for_all(100, [](std::mt19937_64& rng) {
        const Transmitter transmitter{
            0, 5'800_MHz, 14_dBm, testing::random_antenna(rng), 0.5_dB, testing::random_place(rng)};
        const Receiver receiver{0, 0, testing::random_antenna(rng), 0.5_dB,
                                testing::random_place(rng)};
        EXPECT_LE(wanted_gain(transmitter, receiver).count(),
                  unwanted_gain(transmitter, receiver, Geometry::ref).count() -
                      fade_wanted_ground.count() + 1e-9);
    });
}

// Nobody knows how an aircraft flies: a patch on it counts with the back of its head when its own
// picture is at stake, and with its front when it disturbs; goggles that turn with the head with
// their front both times.
TEST(WantedGain, TakesADirectionalAntennaOnAnAircraftFromBehind) {
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    const auto patch = testing::upright("circular-patch", Polarisation::rhcp);
    const Envelope far{0, 500, 20, 1.7, 1.7};  // level with the goggles
    const Receiver goggles{0, 0, omni, 0.5_dB, {0, 0, 1.7}};
    const auto from = [&](const Antenna& antenna) {
        return Transmitter{0, 5'800_MHz, 14_dBm, antenna, 0.5_dB, far};
    };
    const auto more = [&](Decibel with_patch, Decibel with_omni) {
        return (with_patch - with_omni).count();
    };
    const double front_db = 8.5 - 1.2, back_db = front_db - 15;
    EXPECT_NEAR(more(wanted_gain(from(patch), goggles), wanted_gain(from(omni), goggles)), back_db,
                1e-9);
    for (const auto geometry : geometries)
        EXPECT_NEAR(more(unwanted_gain(from(patch), goggles, geometry),
                         unwanted_gain(from(omni), goggles, geometry)),
                    front_db, 1e-9);
    auto worn = goggles;
    worn.antenna = patch;
    worn.antenna.azimuth = 180_deg;  // looks away from the aircraft, if it did not turn
    worn.antenna.turns = true;
    EXPECT_NEAR(more(wanted_gain(from(omni), worn), wanted_gain(from(omni), goggles)), front_db,
                1e-9);
}

// After one transmitter moved, the table is that of the new scene.
TEST(LinkTable, IsTheSameUpdatedAsMadeAnew) {
    for_all(40, [](std::mt19937_64& rng) {
        auto scene = testing::random_scene(rng, testing::Channels::one_band, 6);
        LinkTable updated(scene);
        const auto moved = static_cast<std::size_t>(
            testing::whole(rng, 0, static_cast<int>(scene.transmitters.size()) - 1));
        scene.transmitters[moved].at = testing::random_place(rng);
        scene.transmitters[moved].antenna = testing::random_antenna(rng);
        updated.update(scene, moved);
        const LinkTable fresh(scene);
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            EXPECT_EQ(updated.wanted(v), fresh.wanted(v));
            for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
                for (const auto geometry : geometries)
                    EXPECT_EQ(updated.unwanted(geometry, v, t), fresh.unwanted(geometry, v, t));
        }
        for (std::size_t a = 0; a < scene.transmitters.size(); ++a)
            for (std::size_t b = 0; b < scene.transmitters.size(); ++b)
                EXPECT_EQ(updated.coupling(a, b), fresh.coupling(a, b));
    });
}

// A coupling between two antennas on the ground does not ask who sends.
TEST(Coupling, OfTwoOnTheGroundIsTheSameBothWays) {
    for_all(50, [](std::mt19937_64& rng) {
        const Transmitter a{
            0, 5'800_MHz, 14_dBm, testing::random_antenna(rng), 0.5_dB, testing::random_place(rng)};
        const Transmitter b{
            0, 5'732_MHz, 23_dBm, testing::random_antenna(rng), 1.5_dB, testing::random_place(rng)};
        EXPECT_NEAR(coupling(a, b).count(), coupling(b, a).count(), 1e-9);
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
