#include "server/spectrum/rejection.h"

#include "tests/published/shapes.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <numbers>
#include <utility>
#include <vector>

/// Frequency-dependent rejection [SM.337-6, Annex 1, eq. (2)]. The Recommendation prints no worked
/// example that we could find, so the checks are closed forms: derived, and recomputed.
namespace fieldpeg::spectrum {
namespace {

using testing::gaussian_chord_error_db;
using testing::gaussian_density;
using testing::gaussian_down_db;
using testing::gaussian_selectivity;
using testing::rectangular_density;
using testing::rectangular_selectivity;

constexpr double printed_db = 0.0006;  // three decimals; the one-hertz skirts are worth 1e-6 dB
constexpr double rounding_db = 1e-9;

double rectangles_db(Hertz sent, Hertz heard, Hertz separation) {
    return frequency_dependent_rejection(rectangular_density(sent), rectangular_selectivity(heard),
                                         separation)
        .count();
}

TEST(FrequencyDependentRejection, OnTuneIsTheRatioOfTwoRectangles) {  // OTR = 10 log(BT / BR)
    EXPECT_NEAR(rectangles_db(20_MHz, 10_MHz, 0_Hz), 3.010, printed_db);
    EXPECT_NEAR(rectangles_db(20_MHz, 2_MHz, 0_Hz), 10.000, printed_db);
    EXPECT_NEAR(rectangles_db(20_MHz, 10_MHz, 5_MHz), 3.010, printed_db);  // still inside
    EXPECT_NEAR(rectangles_db(8_MHz, 18_MHz, 0_Hz), 0.000, printed_db);
}

TEST(FrequencyDependentRejection, OfOverlappingRectanglesIsTheOverlap) {  // 10 log(BT / w)
    EXPECT_NEAR(rectangles_db(20_MHz, 20_MHz, 10_MHz), 3.010, printed_db);
    EXPECT_NEAR(rectangles_db(20_MHz, 20_MHz, 15_MHz), 6.021, printed_db);
    EXPECT_NEAR(rectangles_db(8_MHz, 18_MHz, 10_MHz), 4.260, printed_db);
    EXPECT_NEAR(rectangles_db(8_MHz, 18_MHz, -10_MHz), 4.260, printed_db);
}

TEST(FrequencyDependentRejection, OutsideIsTheUltimateRejectionOfTheReceiver) {
    EXPECT_NEAR(rectangles_db(20_MHz, 20_MHz, 500_MHz), testing::shut.count(), rounding_db);
}

/// FDR = 10 log(sqrt(st^2 + sr^2) / sr) + 4.342945 df^2 / (2 (st^2 + sr^2))
double gaussians_db(double st, double sr, double df) {
    const double s = std::hypot(st, sr);
    return 10 * std::log10(s / sr) + gaussian_down_db(s, df);
}

struct GaussianRow {
    double sent_mhz, heard_mhz, separation_mhz, db;
};
// Recomputed; an integration with fine steps agrees to 1e-4 dB.
constexpr GaussianRow gaussian_rows[] = {
    {4, 4, 0, 1.505}, {4, 4, 20, 28.649}, {4, 6, 30, 38.382}, {5, 3, 37, 90.320}};

// Both curves are drawn with straight lines in dB, below the emission and above the attenuation:
// each is weaker than the true one by at most a chord's error.
TEST(FrequencyDependentRejection, OfTwoGaussiansHasAClosedForm) {
    const double tolerance_db = 2 * gaussian_chord_error_db() + printed_db;
    ASSERT_LT(tolerance_db, 0.02);
    for (const auto& row : gaussian_rows) {
        EXPECT_NEAR(gaussians_db(row.sent_mhz, row.heard_mhz, row.separation_mhz), row.db,
                    printed_db);
        EXPECT_NEAR(frequency_dependent_rejection(gaussian_density(row.sent_mhz),
                                                  gaussian_selectivity(row.heard_mhz),
                                                  from_mhz(row.separation_mhz))
                        .count(),
                    row.db, tolerance_db);
    }
}

TEST(ProductRejection, OfAGaussianReceiverHasTheSameClosedForm) {
    const double tolerance_db = gaussian_chord_error_db() + printed_db;
    for (const auto& row : gaussian_rows)
        EXPECT_NEAR(product_rejection(row.sent_mhz, gaussian_selectivity(row.heard_mhz),
                                      from_mhz(row.separation_mhz))
                        .count(),
                    row.db, tolerance_db);
}

// The share of N(df, sigma^2) within +-W/2, from the error function.
TEST(ProductRejection, OfARectangleIsTheErrorFunction) {
    const auto selectivity = rectangular_selectivity(18_MHz);
    const auto expected_db = [](double sigma, double df) {
        const double share = (std::erf((9 - df) / (sigma * std::sqrt(2.0))) +
                              std::erf((9 + df) / (sigma * std::sqrt(2.0)))) /
                             2;
        return -10 * std::log10(share);
    };
    for (const double df : {0.0, 5.0, 9.0, 20.0})
        EXPECT_NEAR(product_rejection(5.59, selectivity, from_mhz(df)).count(),
                    expected_db(5.59, df), 1e-5);
}

TEST(ProductRejection, FarOffIsTheUltimateRejectionOfTheReceiver) {
    for (const Hertz df : {500_MHz, -500_MHz})
        EXPECT_NEAR(product_rejection(5.59, rectangular_selectivity(18_MHz), df).count(),
                    testing::shut.count(), rounding_db);
}

TEST(NoiseBandwidth, OfKnownShapes) {
    EXPECT_NEAR(mhz(noise_bandwidth(rectangular_selectivity(18_MHz))), 18, 1e-6);
    // Gaussian: sigma sqrt(2 pi), narrower by the chords.
    const double sigma_mhz = 7;
    const double width_mhz = sigma_mhz * std::sqrt(2 * std::numbers::pi);
    const double chords = std::pow(10, gaussian_chord_error_db() / 10) - 1;
    EXPECT_NEAR(mhz(noise_bandwidth(gaussian_selectivity(sigma_mhz))), width_mhz,
                chords * width_mhz);
}

Density stretched(const Density& density, std::int64_t factor, Decibel louder) {
    std::vector<Curve::Knot> knots;
    for (const auto& [offset, level] : density.curve().knots())
        knots.push_back({factor * offset, level + louder});
    return Density::make(std::move(knots)).value();
}
Selectivity stretched(const Selectivity& selectivity, std::int64_t factor) {
    std::vector<Curve::Knot> knots;
    for (const auto& [offset, level] : selectivity.curve().knots())
        knots.push_back({factor * offset, level});
    return Selectivity::make(std::move(knots)).value();
}

class Invariance : public ::testing::Test {
protected:
    const Density density = testing::emission("fm-video").density;
    const Selectivity selectivity = testing::receiver("fm-video-5g8").selectivity;

    double rejection_db(Hertz separation) const {
        return frequency_dependent_rejection(density, selectivity, separation).count();
    }
};

TEST_F(Invariance, NothingIsGainedAtAnySeparation) {
    for (Hertz df = 0_MHz; df <= 500_MHz; df = df + 1_MHz) EXPECT_GE(rejection_db(df), 0);
}

TEST_F(Invariance, StretchingAllFrequenciesChangesNothing) {
    for (const Hertz df : {0_MHz, 10_MHz, 20_MHz, 37_MHz, 74_MHz})
        EXPECT_NEAR(frequency_dependent_rejection(stretched(density, 3, 0_dB),
                                                  stretched(selectivity, 3), 3 * df)
                        .count(),
                    rejection_db(df), rounding_db);
}

TEST_F(Invariance, PowerDoesNotMatter) {
    for (const Hertz df : {0_MHz, 20_MHz, 37_MHz})
        EXPECT_NEAR(
            frequency_dependent_rejection(stretched(density, 1, 27_dB), selectivity, df).count(),
            rejection_db(df), rounding_db);
}

TEST_F(Invariance, EitherSideIsTheSame) {
    for (const Hertz df : {5_MHz, 20_MHz, 37_MHz})
        EXPECT_NEAR(rejection_db(-df), rejection_db(df), rounding_db);
}

}  // namespace
}  // namespace fieldpeg::spectrum
