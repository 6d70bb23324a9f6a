#include "server/spectrum/rejection.h"

#include "tests/support/curves.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::for_all;
using testing::random_density;
using testing::random_selectivity;

constexpr int samples = 20'000;
constexpr double sampling_db = 0.01;  // what the midpoint rule is off by, at most
constexpr double rounding_db = 1e-9;

/// Sum of f over [low, high] by the midpoint rule: slow, inexact, nothing like the code under test.
template <class Function>
double sampled(double low_mhz, double high_mhz, Function f) {
    const double step = (high_mhz - low_mhz) / samples;
    double sum = 0;
    for (int i = 0; i < samples; ++i) sum += f(low_mhz + (i + 0.5) * step);
    return sum * step;
}

double passed(const Selectivity& selectivity, double f_mhz) {
    return 1 / linear(selectivity.curve().at(from_mhz(f_mhz)));
}

double sampled_rejection_db(const Density& density, const Selectivity& selectivity, double df_mhz) {
    const double edge = mhz(density.curve().last());
    const auto sent = [&](double f) { return linear(density.curve().at(from_mhz(f))); };
    return decibel(sampled(-edge, edge, sent) /
                   sampled(-edge, edge,
                           [&](double f) { return sent(f) * passed(selectivity, f + df_mhz); }))
        .count();
}

double sampled_product_db(double sigma_mhz, const Selectivity& selectivity, double df_mhz) {
    constexpr double reach = 9;  // sigmas
    const double edge = mhz(selectivity.curve().last());
    const double low = std::min(-edge, df_mhz - reach * sigma_mhz);
    const double high = std::max(edge, df_mhz + reach * sigma_mhz);
    const double all = sigma_mhz * std::sqrt(2 * std::numbers::pi);
    return decibel(1 / sampled(low, high,
                               [&](double f) {
                                   const double z = (f - df_mhz) / sigma_mhz;
                                   return std::exp(-z * z / 2) / all * passed(selectivity, f);
                               }))
        .count();
}

TEST(FrequencyDependentRejection, AgreesWithSampling) {
    for_all(25, [](std::mt19937_64& rng) {
        const auto density = random_density(rng);
        const auto selectivity = random_selectivity(rng);
        const double df_mhz = between(rng, -80, 80);
        EXPECT_NEAR(frequency_dependent_rejection(density, selectivity, from_mhz(df_mhz)).count(),
                    sampled_rejection_db(density, selectivity, df_mhz), sampling_db);
    });
}

TEST(ProductRejection, AgreesWithSampling) {
    for_all(25, [](std::mt19937_64& rng) {
        const auto selectivity = random_selectivity(rng);
        const double sigma_mhz = between(rng, 0.5, 12);
        const double df_mhz = between(rng, -60, 60);
        EXPECT_NEAR(product_rejection(sigma_mhz, selectivity, from_mhz(df_mhz)).count(),
                    sampled_product_db(sigma_mhz, selectivity, df_mhz), sampling_db);
    });
}

// A planner that prunes rests on these two (docs/model.md, section 9).
TEST(FrequencyDependentRejection, IsEvenAndNeverFallsOutwards) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto density = random_density(rng);
        const auto selectivity = random_selectivity(rng);
        double before = -rounding_db;
        for (double df_mhz = 0; df_mhz < 200; df_mhz += between(rng, 0, 8)) {
            const Hertz df = from_mhz(df_mhz);
            const double here = frequency_dependent_rejection(density, selectivity, df).count();
            EXPECT_NEAR(frequency_dependent_rejection(density, selectivity, -df).count(), here,
                        rounding_db);
            EXPECT_GE(here, before - rounding_db) << "at " << df_mhz << " MHz";
            before = here;
        }
    });
}

TEST(ProductRejection, IsEvenAndNeverFallsOutwards) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto selectivity = random_selectivity(rng);
        const double sigma_mhz = between(rng, 0.2, 15);
        double before = -rounding_db;
        for (double df_mhz = 0; df_mhz < 100; df_mhz += between(rng, 0, 6)) {
            const Hertz df = from_mhz(df_mhz);
            const double here = product_rejection(sigma_mhz, selectivity, df).count();
            EXPECT_NEAR(product_rejection(sigma_mhz, selectivity, -df).count(), here, rounding_db);
            EXPECT_GE(here, before - rounding_db) << "at " << df_mhz << " MHz";
            before = here;
        }
    });
}

// Skirts of one hertz, narrow and wide products, offsets up to the limits: whatever a day file may
// hold comes to a number between nothing and the ultimate rejection.
TEST(ProductRejection, StaysFiniteAtTheLimits) {
    constexpr double skirt_db = 0.01;  // one hertz of 10 GHz is all that a double keeps of a skirt
    for (const Decibel ultimate : {0_dB, 50_dB, 300_dB}) {
        for (const Hertz edge : {1_Hz, 9_MHz, 9'999_MHz}) {
            const auto selectivity =
                Selectivity::make({{0_Hz, 0_dB}, {edge, 0_dB}, {edge + 1_Hz, ultimate}}).value();
            for (const double sigma_mhz : {0.01, 2.5, 1'000.0, 3'000.0}) {
                for (const Hertz df : {0_Hz, 1_Hz, 9_MHz, 60_MHz, 10'000_MHz}) {
                    const double db = product_rejection(sigma_mhz, selectivity, df).count();
                    EXPECT_GE(db, -skirt_db) << mhz(edge) << " " << sigma_mhz << " " << mhz(df);
                    EXPECT_LE(db, ultimate.count() + skirt_db)
                        << mhz(edge) << " " << sigma_mhz << " " << mhz(df);
                }
            }
        }
    }
}

TEST(FrequencyDependentRejection, StaysFiniteAtTheLimits) {
    for (const Decibel low : {300_dB, 0_dB, -300_dB}) {
        const auto density =
            Density::make({{0_Hz, 300_dB}, {1_Hz, low}, {10'000_MHz, low}}).value();
        for (const Decibel ultimate : {0_dB, 300_dB}) {
            const auto selectivity =
                Selectivity::make({{0_Hz, 0_dB}, {9_MHz, 0_dB}, {9'000'001_Hz, ultimate}}).value();
            for (const Hertz df : {0_Hz, 9_MHz, 60_MHz, 20'000_MHz}) {
                const double db = frequency_dependent_rejection(density, selectivity, df).count();
                EXPECT_GE(db, -rounding_db) << mhz(df);
                EXPECT_LE(db, ultimate.count() + rounding_db) << mhz(df);
            }
        }
    }
}

TEST(NoiseBandwidth, IsTheAreaUnderTheSelectivity) {
    for_all(25, [](std::mt19937_64& rng) {
        const auto selectivity = random_selectivity(rng);
        const double edge = mhz(selectivity.curve().last());
        const double expected_mhz =
            sampled(-edge, edge, [&](double f) { return passed(selectivity, f); });
        EXPECT_NEAR(mhz(noise_bandwidth(selectivity)) / expected_mhz, 1, 0.001);
    });
}

TEST(OccupiedBandwidth, HoldsNinetyNinePercentOfThePower) {
    for_all(25, [](std::mt19937_64& rng) {
        const auto density = random_density(rng);
        const auto sent = [&](double f) { return linear(density.curve().at(from_mhz(f))); };
        const double edge = mhz(density.curve().last());
        const double half = mhz(occupied_bandwidth(density)) / 2;
        EXPECT_NEAR(sampled(-half, half, sent) / sampled(-edge, edge, sent), 0.99, 1e-4);
    });
}

TEST(OccupiedBandwidth, OfARectangleIsNinetyNinePercentOfIt) {
    const auto rectangle = Density::make({{0_MHz, -20_dB}, {10_MHz, -20_dB}}).value();
    EXPECT_NEAR(mhz(occupied_bandwidth(rectangle)), 19.8, 1e-5);
}

TEST(PowerBandwidth, TimesTheDensityAtTheCentreIsAllThePower) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto density = random_density(rng);
        const double edge = mhz(density.curve().last());
        const auto at = [&](double f) { return linear(density.curve().at(from_mhz(f))); };
        EXPECT_NEAR(decibel(mhz(power_bandwidth(density)) * at(0)).count(),
                    decibel(sampled(-edge, edge, at)).count(), sampling_db);
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
