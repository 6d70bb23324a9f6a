#include "server/spectrum/antenna.h"
#include "tests/published/published.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fieldpeg::spectrum {
namespace {

using testing::published;

constexpr double printed_db = 0.0006;  // three decimals
constexpr double as_good_as_nothing_db = 100;

/// Inverse axial ratio; 0 for a linear antenna.
double inverse(double axial_ratio_db) {
    return std::pow(10, -axial_ratio_db / 20);
}

TEST(EllipseCouplingLoss, IsThatOfTheJonesVectors) {
    for (const auto& row : published("polarisation.csv"))
        EXPECT_NEAR(
            ellipse_coupling_loss(inverse(row.number("axial_ratio_1_db")),
                                  row.number("sense") * inverse(row.number("axial_ratio_2_db")),
                                  Degrees(row.number("between_axes_deg")))
                .count(),
            row.number("loss_db"), printed_db)
            << row.where();
}

// Opposite hands with perfect circles, or with like ellipses crossed, have nothing in common.
TEST(EllipseCouplingLoss, OfOppositeHandsIsWithoutLimit) {
    EXPECT_GT(ellipse_coupling_loss(1, -1, 0_deg).count(), as_good_as_nothing_db);
    EXPECT_GT(ellipse_coupling_loss(inverse(3), -inverse(3), 90_deg).count(),
              as_good_as_nothing_db);
}

// Cross-polar discrimination 20 log((r + 1) / (r - 1)), derived, recomputed: what a perfect antenna
// of the right hand hears of an ellipse more than one of the wrong hand.
TEST(EllipseCouplingLoss, GivesTheCrossPolarDiscrimination) {
    const auto discrimination_db = [](double axial_ratio_db) {
        const double q = inverse(axial_ratio_db);
        return (ellipse_coupling_loss(q, -1, 0_deg) - ellipse_coupling_loss(q, 1, 0_deg)).count();
    };
    EXPECT_NEAR(discrimination_db(1), 24.806, printed_db);
    EXPECT_NEAR(discrimination_db(2), 18.815, printed_db);
    EXPECT_NEAR(discrimination_db(3), 15.340, printed_db);
}

// What the roles make of the table above: the axes crossed for the wanted, aligned for the
// unwanted.
TEST(PolarisationLoss, TakesTheWorstOfTheTableForTheWantedAndTheBestForTheOthers) {
    const auto loss_db = [](Polarisation a, Polarisation b, Role role) {
        return polarisation_loss(a, 3_dB, b, 3_dB, role).count();
    };
    using enum Polarisation;
    EXPECT_NEAR(loss_db(rhcp, rhcp, Role::wanted), 0.508, printed_db);
    EXPECT_NEAR(loss_db(rhcp, rhcp, Role::unwanted), 0.000, printed_db);
    EXPECT_NEAR(loss_db(rhcp, lhcp, Role::unwanted), 9.570, printed_db);
    EXPECT_NEAR(loss_db(rhcp, vertical, Role::wanted), 4.764, printed_db);
    EXPECT_NEAR(loss_db(vertical, rhcp, Role::unwanted), 1.764, printed_db);
    EXPECT_EQ(polarisation_loss(rhcp, 0_dB, lhcp, 0_dB, Role::unwanted), cross_polar_floor);
}

}  // namespace
}  // namespace fieldpeg::spectrum
