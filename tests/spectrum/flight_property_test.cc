#include "server/spectrum/flight.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::for_all;
using testing::whole;

std::vector<double> random_medians(std::mt19937_64& rng) {
    std::vector<double> all(static_cast<std::size_t>(whole(rng, 1, 240)));
    const double spread = between(rng, 0.1, 25);
    for (auto& one : all) one = between(rng, -90 - spread, -90);
    return all;
}

FlightGain random_flight(std::mt19937_64& rng) {
    return {random_medians(rng), Decibel(between(rng, 0.5, 8))};
}

/// Phi, from the library's own error function.
double normal(double x) {
    return std::erfc(-x / std::numbers::sqrt2) / 2;
}

/// A flight flown: at a place, faded, again and again.
std::vector<double> flown_db(std::mt19937_64& rng, const FlightGain& flight, std::size_t times) {
    std::normal_distribution<double> fading(0, flight.fading().count());
    std::vector<double> all;
    const auto last = static_cast<int>(flight.medians_db().size()) - 1;
    for (std::size_t i = 0; i < times; ++i)
        all.push_back(flight.medians_db()[static_cast<std::size_t>(whole(rng, 0, last))] +
                      fading(rng));
    return all;
}

TEST(FlightGain, IsExceededAsOftenAsAFlightThatIsFlown) {
    constexpr std::size_t times = 20'000;
    constexpr double luck = 0.016;  // over four standard deviations of a half of so many
    for_all(20, [](std::mt19937_64& rng) {
        const auto flight = random_flight(rng);
        const auto flown = flown_db(rng, flight, times);
        const auto share_flown = [&](double db) {
            return static_cast<double>(
                       std::ranges::count_if(flown, [&](double x) { return x > db; })) /
                   static_cast<double>(times);
        };
        for (const double share : {0.02, 0.15, 0.2, 0.5, 0.8, 0.98})
            EXPECT_NEAR(share_flown(flight.exceeded(share).count()), share, luck);
        const Decibel gain(between(rng, -110, -85));
        EXPECT_NEAR(share_flown(gain.count()), flight.share_above(gain), luck);
    });
}

TEST(FlightGain, IsExceededForTheShareAboveWhatIsExceeded) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto flight = random_flight(rng);
        const double share = between(rng, 0.001, 0.999);
        EXPECT_NEAR(flight.share_above(flight.exceeded(share)), share, 1e-5);
    });
}

TEST(FlightGain, FallsAsTheShareGrows) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto flight = random_flight(rng);
        const double share = between(rng, 0.001, 0.9);
        EXPECT_GT(flight.exceeded(share), flight.exceeded(share + 0.01));
        const Decibel gain(between(rng, -110, -80));
        EXPECT_GE(flight.share_above(gain), flight.share_above(gain + 1_dB));
    });
}

// The share, place by place, with the error function.
TEST(FlightGain, IsTheMeanOverItsPlaces) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto flight = random_flight(rng);
        const Decibel gain(between(rng, -120, -80));
        double sum = 0;
        for (const double m : flight.medians_db())
            sum += normal((m - gain.count()) / flight.fading().count());
        EXPECT_NEAR(flight.share_above(gain), sum / static_cast<double>(flight.medians_db().size()),
                    2e-5);
    });
}

// One place is a normal distribution: its tabled points 0.8416, 1.0364 and 2.0537 for 80, 85 and
// 98 %, as in every table of the normal distribution.
TEST(FlightGain, OfOnePlaceIsANormalDistribution) {
    const FlightGain fixed({-60}, 4_dB);
    EXPECT_NEAR(fixed.exceeded(0.5).count(), -60, 1e-9);
    EXPECT_NEAR(fixed.exceeded(0.80).count(), -60 - 4 * 0.8416, 4e-4);
    EXPECT_NEAR(fixed.exceeded(0.15).count(), -60 + 4 * 1.0364, 4e-4);
    EXPECT_NEAR(fixed.exceeded(0.98).count(), -60 - 4 * 2.0537, 4e-4);
    EXPECT_NEAR(FlightGain({-60, -60, -60}, 4_dB).exceeded(0.98).count(), -60 - 4 * 2.0537, 4e-4);
}

TEST(NormalAt, IsTheNormalDistributionAndItsSlope) {
    for (double x = -9; x < 9; x += 0.0137) {
        const auto [share, slope] = normal_at(x);
        EXPECT_NEAR(share, normal(x), 1e-5) << x;
        const double density = std::exp(-x * x / 2) / std::sqrt(2 * std::numbers::pi);
        if (std::abs(x) < 7.9) {
            EXPECT_NEAR(slope, density, 0.004) << x;
        }
    }
}

}  // namespace
}  // namespace fieldpeg::spectrum
