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
using testing::one_of;
using testing::random_antenna;
using testing::random_envelope;
using testing::random_place;

constexpr double c = 299.792458;  // m MHz
constexpr double rounding_db = 1e-9;
constexpr double many_ways_db = 1e-3;  // gains of many places at once are single precision

/// A link's gain by sections 4 and 5 of docs/model.md, written down once more in plain numbers.
class Plain {
public:
    Plain(const Antenna& a, Decibel loss_a, bool a_flies, const Antenna& b, Decibel loss_b,
          bool b_flies, Role role)
        : a_(a),
          b_(b),
          losses_(loss_a.count() + loss_b.count()),
          a_flies_(a_flies),
          b_flies_(b_flies),
          role_(role) {}

    double gain(const Point& from, const Point& to, double reference_mhz) const {
        const double d = std::hypot(to.x_m - from.x_m, to.y_m - from.y_m, to.z_m - from.z_m);
        const double ends = d < 0.1 ? a_.pattern.peak_gain.count() + b_.pattern.peak_gain.count()
                                    : end(a_, a_flies_, from, to) + end(b_, b_flies_, to, from);
        return ends - losses_ - path(d, from.z_m, to.z_m, reference_mhz) - polarisation();
    }

private:
    static double path(double d, double z1, double z2, double f_mhz) {
        const double lambda = c / f_mhz;
        d = std::max(d, 0.3);
        const double crossover =
            std::max(0.3, 4 * std::numbers::pi * std::max(z1, 0.5) * std::max(z2, 0.5) / lambda);
        const double free = 20 * std::log10(4 * std::numbers::pi * d / lambda);
        return d <= crossover ? free : free + 20 * std::log10(d / crossover);
    }

    double end(const Antenna& antenna, bool flies, const Point& at, const Point& to) const {
        const auto& p = antenna.pattern;
        const double degrees = 180 / std::numbers::pi;
        const double ground = std::hypot(to.x_m - at.x_m, to.y_m - at.y_m);
        const double up = std::atan2(to.z_m - at.z_m, ground) * degrees;
        const double v = (up - antenna.elevation.count()) / p.vertical_width.count();
        const double a_v = std::min(12 * v * v, p.floor.count());
        if (!p.horizontal_width) return p.peak_gain.count() - a_v;
        double off =
            std::atan2(to.x_m - at.x_m, to.y_m - at.y_m) * degrees - antenna.azimuth.count();
        off = std::remainder(off, 360);
        if (flies && !antenna.turns) off = role_ == Role::wanted ? 180 : 0;
        if (antenna.turns) off = 0;
        const double h = off / p.horizontal_width->count();
        const double a_h = std::min(12 * h * h, p.floor.count());
        return p.peak_gain.count() - std::min(a_h + a_v, p.floor.count());
    }

    static double q(const Antenna& antenna) {
        if (is_linear(antenna.polarisation)) return 0;
        const double q = std::pow(10, -antenna.pattern.axial_ratio.count() / 20);
        return antenna.polarisation == Polarisation::rhcp ? q : -q;
    }
    double polarisation() const {
        const bool flying = a_flies_ || b_flies_;
        const bool linear = is_linear(a_.polarisation) && is_linear(b_.polarisation);
        const bool same = a_.polarisation == b_.polarisation;
        const double tilt_rad = 20 * std::numbers::pi / 180;
        double cos_2d = flying ? 0 : role_ == Role::wanted ? -1 : 1;
        if (linear && flying) cos_2d = (same ? 1 : -1) * std::exp(-2 * tilt_rad * tilt_rad);
        if (linear && !flying && role_ == Role::unwanted) cos_2d = same ? 1 : -0.5;  // 60 degrees
        if (linear && !flying && role_ == Role::wanted) cos_2d = same ? 0.5 : -1;  // 30, 90 degrees
        const double q1 = q(a_), q2 = q(b_);
        const double eta = 0.5 + (4 * q1 * q2 + (1 - q1 * q1) * (1 - q2 * q2) * cos_2d) /
                                     (2 * (1 + q1 * q1) * (1 + q2 * q2));
        const double cap = flying ? 0.1 : std::pow(10, -1.7);
        return -10 * std::log10(std::min(1.0, std::max(eta, cap)));
    }

    const Antenna& a_;
    const Antenna& b_;
    double losses_;
    bool a_flies_, b_flies_;
    Role role_;
};

struct Band {
    Hertz frequency;
    double reference_mhz;
};
Band some_band(std::mt19937_64& rng) {
    return one_of<Band>(rng, {{5'658_MHz, 5800}, {1'258_MHz, 1280}, {2'414_MHz, 2440}});
}

Transmitter random_transmitter(std::mt19937_64& rng, Hertz frequency, const Station& at) {
    return {0, frequency, 14_dBm, random_antenna(rng), Decibel(between(rng, 0, 2)), at};
}
Receiver random_receiver(std::mt19937_64& rng) {
    return {0, 0, random_antenna(rng), Decibel(between(rng, 0, 2)), random_place(rng)};
}

Plain plain(const Transmitter& t, const Receiver& v, Role role) {
    return {t.antenna, t.loss, std::holds_alternative<Envelope>(t.at), v.antenna, v.loss,
            false,     role};
}

TEST(FlightGain, IsTheGainFromEveryPlaceOfTheArea) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto [frequency, reference_mhz] = some_band(rng);
        const auto area = random_envelope(rng);
        const auto t = random_transmitter(rng, frequency, area);
        const auto v = random_receiver(rng);
        for (const auto role : {Role::wanted, Role::unwanted}) {
            const auto flight = flight_gain(t, v, role);
            ASSERT_EQ(flight.medians_db().size(), 240u);
            EXPECT_EQ(flight.fading(), 3.8_dB);
            std::size_t i = 0;
            for (const auto& place : places(area))
                EXPECT_NEAR(flight.medians_db()[i++],
                            plain(t, v, role).gain(place, v.at, reference_mhz), many_ways_db);
        }
    });
}

TEST(FlightGain, OfAFixedLinkHasOnePlaceAndItsOwnFading) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto [frequency, reference_mhz] = some_band(rng);
        const auto mast = random_place(rng);
        const auto t = random_transmitter(rng, frequency, mast);
        const auto v = random_receiver(rng);
        for (const auto role : {Role::wanted, Role::unwanted}) {
            const auto flight = flight_gain(t, v, role);
            ASSERT_EQ(flight.medians_db().size(), 1u);
            EXPECT_EQ(flight.fading(), 3.5_dB);
            EXPECT_NEAR(flight.medians_db()[0], plain(t, v, role).gain(mast, v.at, reference_mhz),
                        rounding_db);
        }
    });
}

// Nearer than a hand's breadth both antennas count with their peak.
TEST(LinkGain, OfTwoThatTouchIsThatOfTheirPeaks) {
    const auto patch = testing::upright("circular-patch", Polarisation::rhcp);
    const End a{patch, 0.5_dB, {0, 0, 1.7}, false};
    const auto towards = [&](const Point& at) {
        return link_gain(a, {patch, 0.5_dB, at, false}, 5'800_MHz, Role::unwanted).count();
    };
    const double free_db = 20 * std::log10(4 * std::numbers::pi * 0.3 * 5800 / c);
    EXPECT_NEAR(towards({0, 0, 1.79}), 17 - 1 - free_db, rounding_db);
    EXPECT_NEAR(towards({0, 0, 1.81}), 17 - 30 - 1 - free_db, rounding_db);  // both look north
}

// What counts of a disturbance is exceeded 15 % of the time over its area.
TEST(UnwantedGain, IsExceededFifteenPercentOfTheTime) {
    for_all(60, [](std::mt19937_64& rng) {
        const bool flies = chance(rng, 70);
        const auto t = random_transmitter(
            rng, 5'800_MHz, flies ? Station(random_envelope(rng)) : Station(random_place(rng)));
        const auto v = random_receiver(rng);
        const auto usual = unwanted_gain(t, v, Geometry::usual);
        EXPECT_NEAR(flight_gain(t, v, Role::unwanted).share_above(usual), 0.15, 2e-4);
    });
}

// The loudest of the near points, and no fading.
TEST(UnwantedGain, AtTheClosestPassIsTheGreatestOfTheNearPoints) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto area = random_envelope(rng);
        const auto t = random_transmitter(rng, 5'800_MHz, area);
        const auto v = random_receiver(rng);
        double greatest = -1e9;
        for (const auto& p : near_points(area, v.at))
            greatest = std::max(greatest, plain(t, v, Role::unwanted).gain(p, v.at, 5800));
        EXPECT_NEAR(unwanted_gain(t, v, Geometry::closest).count(), greatest, many_ways_db);
    });
}

// With omnidirectional antennas no place of the area beyond the stand-off is louder by much than
// the few that are looked at.
TEST(UnwantedGain, AtTheClosestPassIsThatOfTheLoudestPlace) {
    constexpr double missed_db = 1.5;
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    for_all(60, [&](std::mt19937_64& rng) {
        const auto area = random_envelope(rng);
        const Transmitter t{0, 5'800_MHz, 14_dBm, omni, 0.5_dB, area};
        const Receiver v{0, 0, omni, 0.5_dB, random_place(rng)};
        double greatest = -1e9;
        for (int i = 0; i < 3000; ++i) {
            const double rho = area.radius_m * std::sqrt(between(rng, 0, 1));
            const double angle = between(rng, 0, 2 * std::numbers::pi);
            const Point p{area.x_m + rho * std::sin(angle), area.y_m + rho * std::cos(angle),
                          area.z_low_m + (area.z_high_m - area.z_low_m) * between(rng, 0, 1)};
            if (std::hypot(p.x_m - v.at.x_m, p.y_m - v.at.y_m, p.z_m - v.at.z_m) >=
                standoff(area).count())
                greatest = std::max(greatest, plain(t, v, Role::unwanted).gain(p, v.at, 5800));
        }
        EXPECT_GE(unwanted_gain(t, v, Geometry::closest).count(), greatest - missed_db);
    });
}

// Something that stands still is where it is; usually it counts with its fading, and at the closest
// pass without: 15 % of the time it is 1.0364 times 3.5 dB up.
TEST(UnwantedGain, OfAFixedTransmitterDiffersByItsFading) {
    for_all(50, [](std::mt19937_64& rng) {
        const auto t = random_transmitter(rng, 5'800_MHz, random_place(rng));
        const auto v = random_receiver(rng);
        EXPECT_NEAR(
            (unwanted_gain(t, v, Geometry::usual) - unwanted_gain(t, v, Geometry::closest)).count(),
            1.0364 * 3.5, 0.001);
    });
}

// The wanted signal is judged by its worst azimuth and the unwanted by its best.
TEST(FlightGain, OfTheWantedIsNowhereAboveThatOfADisturbance) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto t = random_transmitter(
            rng, 5'800_MHz,
            chance(rng, 50) ? Station(random_envelope(rng)) : Station(random_place(rng)));
        const auto v = random_receiver(rng);
        const auto wanted = flight_gain(t, v, Role::wanted);
        const auto unwanted = flight_gain(t, v, Role::unwanted);
        for (std::size_t g = 0; g < wanted.medians_db().size(); ++g)
            EXPECT_LE(wanted.medians_db()[g], unwanted.medians_db()[g] + rounding_db);
    });
}

// Nobody knows how an aircraft flies: a patch on it counts with the back of its head when its own
// picture is at stake, and with its front when it disturbs; goggles that turn with the head with
// their front both times.
TEST(FlightGain, TakesADirectionalAntennaOnAnAircraftFromBehind) {
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    const auto patch = testing::upright("circular-patch", Polarisation::rhcp);
    const Envelope far{0, 500, 20, 1.7, 1.7};  // level with the goggles
    const Receiver goggles{0, 0, omni, 0.5_dB, {0, 0, 1.7}};
    const auto from = [&](const Antenna& antenna) {
        return Transmitter{0, 5'800_MHz, 14_dBm, antenna, 0.5_dB, far};
    };
    const auto wanted = [](const Transmitter& t, const Receiver& v) {
        return flight_gain(t, v, Role::wanted).exceeded(0.98);
    };
    const auto more = [&](Decibel with_patch, Decibel with_omni) {
        return (with_patch - with_omni).count();
    };
    constexpr double resolution_db = 1e-5;
    const double front_db = 8.5 - 1.2, back_db = front_db - 15;
    EXPECT_NEAR(more(wanted(from(patch), goggles), wanted(from(omni), goggles)), back_db,
                resolution_db);
    for (const auto geometry : geometries)
        EXPECT_NEAR(more(unwanted_gain(from(patch), goggles, geometry),
                         unwanted_gain(from(omni), goggles, geometry)),
                    front_db, resolution_db);
    auto worn = goggles;
    worn.antenna = patch;
    worn.antenna.azimuth = 180_deg;  // looks away from the aircraft, if it did not turn
    worn.antenna.turns = true;
    EXPECT_NEAR(more(wanted(from(omni), worn), wanted(from(omni), goggles)), front_db,
                resolution_db);
}

// Its prepared levels are those of the flight.
TEST(WantedGain, IsExceededAsItsFlightIs) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto t = random_transmitter(rng, 5'800_MHz, random_envelope(rng));
        const WantedGain gain(flight_gain(t, random_receiver(rng), Role::wanted));
        for (const double share : {0.02, 1 - 0.98, 0.2, 1 - 0.8, 0.5, 0.8, 0.98})
            EXPECT_NEAR(gain.exceeded(share).count(), gain.flight.exceeded(share).count(), 1e-5)
                << share;
    });
}

// The table holds what the functions say, also for those that share an area and an antenna and
// differ in their cables only.
TEST(LinkTable, HoldsTheGainsOfEveryPair) {
    for_all(20, [](std::mt19937_64& rng) {
        auto scene = testing::random_scene(rng, testing::Channels::three_bands, 6);
        auto twin = scene.transmitters[0];
        twin.loss = twin.loss + 1.5_dB;
        scene.transmitters.push_back(twin);
        const LinkTable links(scene);
        const auto db = [](double ratio) { return decibel(ratio).count(); };
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            const auto& receiver = scene.receivers[v];
            if (receiver.hears) {
                EXPECT_NEAR(links.wanted(v).exceeded(0.9).count(),
                            flight_gain(scene.transmitters[*receiver.hears], receiver, Role::wanted)
                                .exceeded(0.9)
                                .count(),
                            rounding_db);
            }
            for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
                for (const auto geometry : geometries)
                    EXPECT_NEAR(db(links.unwanted(geometry, v, t)),
                                unwanted_gain(scene.transmitters[t], receiver, geometry).count(),
                                1e-5);
        }
        for (std::size_t a = 0; a < scene.transmitters.size(); ++a)
            for (std::size_t b = 0; b < scene.transmitters.size(); ++b)
                if (a != b) {
                    EXPECT_NEAR(db(links.coupling(a, b)),
                                coupling(scene.transmitters[a], scene.transmitters[b]).count(),
                                rounding_db);
                } else {
                    EXPECT_EQ(links.coupling(a, b), 0);
                }
    });
}

// After one transmitter moved, the table is that of the new scene.
TEST(LinkTable, IsTheSameUpdatedAsMadeAnew) {
    for_all(20, [](std::mt19937_64& rng) {
        auto scene = testing::random_scene(rng, testing::Channels::one_band, 6);
        LinkTable updated(scene);
        const auto moved = static_cast<std::size_t>(
            testing::whole(rng, 0, static_cast<int>(scene.transmitters.size()) - 1));
        scene.transmitters[moved].at = random_place(rng);
        scene.transmitters[moved].antenna = random_antenna(rng);
        updated.update(scene, moved);
        const LinkTable fresh(scene);
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            if (scene.receivers[v].hears) {
                EXPECT_EQ(updated.wanted(v).exceeded(0.98), fresh.wanted(v).exceeded(0.98));
            }
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
        const auto a = random_transmitter(rng, 5'800_MHz, random_place(rng));
        const auto b = random_transmitter(rng, 5'732_MHz, random_place(rng));
        EXPECT_NEAR(coupling(a, b).count(), coupling(b, a).count(), 1e-9);
        EXPECT_NEAR(coupling(a, b).count(),
                    Plain(a.antenna, a.loss, false, b.antenna, b.loss, false, Role::unwanted)
                        .gain(std::get<Point>(a.at), std::get<Point>(b.at), 5800),
                    rounding_db);
    });
}

// Between the ground and an aircraft: as near as it comes to people, in the place that is loudest.
TEST(Coupling, BetweenGroundAndAirIsThatOfTheClosestPass) {
    for_all(50, [](std::mt19937_64& rng) {
        const auto area = random_envelope(rng);
        const auto mast = random_place(rng);
        const auto flying = random_transmitter(rng, 5'800_MHz, area);
        const auto fixed = random_transmitter(rng, 2'440_MHz, mast);
        const Plain way(flying.antenna, flying.loss, true, fixed.antenna, fixed.loss, false,
                        Role::unwanted);
        const auto greatest = [&](double reference_mhz) {
            double db = -1e9;
            for (const auto& p : near_points(area, mast))
                db = std::max(db, way.gain(p, mast, reference_mhz));
            return db;
        };
        EXPECT_NEAR(coupling(flying, fixed).count(), greatest(5800), many_ways_db);
        EXPECT_NEAR(coupling(fixed, flying).count(), greatest(2440), many_ways_db);
    });
}

/// Two vertical whips in the air, their areas so far apart, at 20 and 50 m.
double whips_in_the_air_db(double gap_m) {
    const auto whip = testing::upright("dipole", Polarisation::vertical);
    const Transmitter a{0, 5'800_MHz, 14_dBm, whip, 0_dB, Envelope{0, 0, 40, 20, 60}};
    const Transmitter b{0, 5'800_MHz, 14_dBm, whip, 0_dB, Envelope{70 + gap_m, 0, 30, 50, 60}};
    EXPECT_NEAR(coupling(a, b).count(), coupling(b, a).count(), rounding_db);
    return coupling(a, b).count();
}

// Two aircraft do not come nearer to each other than ten metres: docs/model.md, section 5. The free
// space loss over them on 5800 MHz is 67.716 dB; two whips of 2.15 dBi, and 0.497 dB of tilt.
TEST(Coupling, OfTwoAircraftIsThatOfTheGapAndOfTenMetresAtTheLeast) {
    constexpr double ten_metres_db = 2 * 2.15 - 67.716 - 0.497;
    constexpr double printed_db = 0.001;
    EXPECT_NEAR(whips_in_the_air_db(-50), ten_metres_db, printed_db);
    EXPECT_NEAR(whips_in_the_air_db(0), ten_metres_db, printed_db);
    EXPECT_NEAR(whips_in_the_air_db(9.9), ten_metres_db, printed_db);
    EXPECT_NEAR(whips_in_the_air_db(20), ten_metres_db - 6.0206, printed_db);
    EXPECT_NEAR(whips_in_the_air_db(100), ten_metres_db - 20, printed_db);
}

}  // namespace
}  // namespace fieldpeg::spectrum
