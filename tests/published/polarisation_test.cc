#include "server/spectrum/antenna.h"
#include "tests/published/published.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

using testing::published;

constexpr double printed_db = 0.0006;  // three decimals
constexpr double as_good_as_nothing_db = 100;

/// Inverse axial ratio; 0 for a linear antenna.
double inverse(double axial_ratio_db) {
    return std::pow(10, -axial_ratio_db / 20);
}

double cos_twice(double deg) {
    return std::cos(2 * deg * std::numbers::pi / 180);
}

TEST(EllipseCouplingLoss, IsThatOfTheJonesVectors) {
    for (const auto& row : published("polarisation.csv"))
        EXPECT_NEAR(
            ellipse_coupling_loss(inverse(row.number("axial_ratio_1_db")),
                                  row.number("sense") * inverse(row.number("axial_ratio_2_db")),
                                  cos_twice(row.number("between_axes_deg")))
                .count(),
            row.number("loss_db"), printed_db)
            << row.where();
}

// Opposite hands with perfect circles, or with like ellipses crossed, have nothing in common.
TEST(EllipseCouplingLoss, OfOppositeHandsIsWithoutLimit) {
    EXPECT_GT(ellipse_coupling_loss(1, -1, 1).count(), as_good_as_nothing_db);
    EXPECT_GT(ellipse_coupling_loss(inverse(3), -inverse(3), -1).count(), as_good_as_nothing_db);
}

// Cross-polar discrimination 20 log((r + 1) / (r - 1)), derived, recomputed: what a perfect antenna
// of the right hand hears of an ellipse more than one of the wrong hand.
TEST(EllipseCouplingLoss, GivesTheCrossPolarDiscrimination) {
    const auto discrimination_db = [](double axial_ratio_db) {
        const double q = inverse(axial_ratio_db);
        return (ellipse_coupling_loss(q, -1, 1) - ellipse_coupling_loss(q, 1, 1)).count();
    };
    EXPECT_NEAR(discrimination_db(1), 24.806, printed_db);
    EXPECT_NEAR(discrimination_db(2), 18.815, printed_db);
    EXPECT_NEAR(discrimination_db(3), 15.340, printed_db);
}

// What the roles make of the table above between fixed ends: the axes crossed for the wanted,
// aligned for the unwanted.
TEST(FixedPolarisationLoss, TakesTheWorstOfTheTableForTheWantedAndTheBestForTheOthers) {
    const auto loss_db = [](Polarisation a, Polarisation b, Role role) {
        return fixed_polarisation_loss(a, 3_dB, b, 3_dB, role).count();
    };
    using enum Polarisation;
    EXPECT_NEAR(loss_db(rhcp, rhcp, Role::wanted), 0.508, printed_db);
    EXPECT_NEAR(loss_db(rhcp, rhcp, Role::unwanted), 0.000, printed_db);
    EXPECT_NEAR(loss_db(rhcp, lhcp, Role::unwanted), 9.570, printed_db);
    EXPECT_NEAR(loss_db(rhcp, vertical, Role::wanted), 4.764, printed_db);
    EXPECT_NEAR(loss_db(vertical, rhcp, Role::unwanted), 1.764, printed_db);
}

// Masts and heads lean by 30 degrees against each other at most [ours]: two whips lose 1.249 dB by
// the table, crossed ones still 6.021 at 60 degrees.
TEST(FixedPolarisationLoss, TakesTwoWhipsLeaningByThirtyDegrees) {
    const auto loss_db = [](Polarisation a, Polarisation b, Role role) {
        return fixed_polarisation_loss(a, 99_dB, b, 99_dB, role).count();
    };
    using enum Polarisation;
    EXPECT_NEAR(loss_db(vertical, vertical, Role::wanted), 1.249, printed_db);
    EXPECT_NEAR(loss_db(vertical, vertical, Role::unwanted), 0.000, printed_db);
    EXPECT_NEAR(loss_db(vertical, horizontal, Role::unwanted), 6.021, printed_db);
    EXPECT_EQ(loss_db(vertical, horizontal, Role::wanted), 17);
}

// Reflections bring back what hands part: 17 dB between fixed ends, 10 dB in the air [ours].
TEST(PolarisationLoss, IsNoMoreThanReflectionsLeave) {
    using enum Polarisation;
    EXPECT_EQ(fixed_polarisation_loss(rhcp, 0_dB, lhcp, 0_dB, Role::unwanted), 17_dB);
    EXPECT_EQ(flying_polarisation_loss(rhcp, 0_dB, lhcp, 0_dB), 10_dB);
    EXPECT_LT(flying_polarisation_loss(rhcp, 6_dB, lhcp, 6_dB), 10_dB);  // far from circular
}

// In the air all angles between the axes come by: the power that couples is the mean over the
// angles, derived, checked by taking it. Of the table's rows 45 degrees is the middle one.
TEST(FlyingPolarisationLoss, IsThatOfTheMeanOverAllAngles) {
    using enum Polarisation;
    EXPECT_NEAR(flying_polarisation_loss(rhcp, 2_dB, rhcp, 2_dB).count(), 0.113, printed_db);
    EXPECT_NEAR(flying_polarisation_loss(rhcp, 0_dB, vertical, 99_dB).count(), 3.010, printed_db);
    const auto mean_db = [](double ar_1, double ar_2, double sense) {
        double power = 0;
        for (int deg = 0; deg < 180; ++deg)
            power += 1 / linear(ellipse_coupling_loss(inverse(ar_1), sense * inverse(ar_2),
                                                      cos_twice(deg)));
        return -decibel(power / 180).count();
    };
    EXPECT_NEAR(flying_polarisation_loss(rhcp, 1_dB, rhcp, 3_dB).count(), mean_db(1, 3, 1), 1e-9);
    EXPECT_NEAR(flying_polarisation_loss(rhcp, 5_dB, lhcp, 4_dB).count(), mean_db(5, 4, -1), 1e-9);
}

// Two whips: the mean over a tilt that is normally distributed with 20 degrees, taken from samples
// at equal steps. Crossed ones couple by as much as the others lose.
TEST(FlyingPolarisationLoss, OfTwoWhipsIsThatOfTheMeanTilt) {
    double along = 0, across = 0, weights = 0;
    for (double tilt_deg = -100; tilt_deg <= 100; tilt_deg += 0.25) {
        const double weight = std::exp(-tilt_deg * tilt_deg / (2 * 20 * 20));
        const double cosine = std::cos(tilt_deg * std::numbers::pi / 180);
        weights += weight;
        along += weight * cosine * cosine;
        across += weight * (1 - cosine * cosine);
    }
    using enum Polarisation;
    const auto loss_db = [](Polarisation a, Polarisation b) {
        return flying_polarisation_loss(a, 99_dB, b, 99_dB).count();
    };
    EXPECT_NEAR(loss_db(vertical, vertical), -decibel(along / weights).count(), printed_db);
    EXPECT_NEAR(loss_db(vertical, horizontal), -decibel(across / weights).count(), 0.005);
}

}  // namespace
}  // namespace fieldpeg::spectrum
