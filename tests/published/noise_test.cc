#include "server/spectrum/noise.h"

#include <gtest/gtest.h>

#include <utility>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

constexpr double printed_db = 0.0006;  // three decimals

// kT0 = -173.975 dBm/Hz at 290 K (-174 in round figures; second hand in several sources),
// recomputed.
TEST(ThermalNoise, IsTheDensityOfTwoHundredAndNinetyKelvin) {
    EXPECT_NEAR(thermal_noise_per_mhz().count() - 60, -173.975, printed_db);
    EXPECT_NEAR(noise_power(1_Hz, 0_dB).count(), -174, 0.03);
}

TEST(NoisePower, IsTheTableOfBandwidths) {  // recomputed
    const std::vector<std::pair<Hertz, double>> rows{
        {1_MHz, -113.975},  {5_MHz, -106.985},  {8_MHz, -104.944}, {10_MHz, -103.975},
        {18_MHz, -101.422}, {20_MHz, -100.965}, {27_MHz, -99.662}, {40_MHz, -97.955}};
    for (const auto& [bandwidth, noise_dbm] : rows) {
        EXPECT_NEAR(noise_power(bandwidth, 0_dB).count(), noise_dbm, printed_db);
        EXPECT_NEAR(noise_power(bandwidth, 7_dB).count(), noise_dbm + 7, printed_db);
    }
}

// Pozar, Microwave Engineering, Example 10.2 [Pozar, Example 10.2], from memory, recomputed:
// amplifier 10 dB / 2 dB, filter, mixer -3 dB / 4 dB: F = 1.80 = 2.55 dB.
class CascadeNoiseFigure : public ::testing::Test {
protected:
    const Stage amplifier{10_dB, 2_dB};
    const Stage filter{-1_dB, 1_dB};
    const Stage mixer{-3_dB, 4_dB};

    static double figure_db(const std::vector<Stage>& stages) {
        return cascade_noise_figure(stages).count();
    }
};

TEST_F(CascadeNoiseFigure, IsThatOfTheTextbookReceiver) {
    constexpr double printed_2_db = 0.006;
    EXPECT_NEAR(figure_db({amplifier, filter, mixer}), 2.55, printed_2_db);
    EXPECT_NEAR(figure_db({amplifier, filter, mixer}), 2.5554, 0.0001);  // recomputed
    EXPECT_NEAR(figure_db({filter, amplifier, mixer}), 3.396, printed_db);
}

// The same example: Te = 232 K, and with an antenna of 150 K and 10 MHz -96.8 dBm at the output of
// a chain of 6 dB gain.
TEST_F(CascadeNoiseFigure, GivesTheTextbookTemperatureAndOutputNoise) {
    const double te_k = 290 * (linear(Decibel(figure_db({amplifier, filter, mixer}))) - 1);
    EXPECT_NEAR(te_k, 232, 0.5);
    const Decibel over_t0 = decibel((150 + te_k) / 290);
    EXPECT_NEAR((noise_power(10_MHz, over_t0) + 6_dB).count(), -96.8, 0.05);
}

TEST_F(CascadeNoiseFigure, ACableBelongsBehindTheAmplifier) {  // recomputed
    const Stage cable{-3_dB, 3_dB};
    const Stage low_noise{20_dB, 1.5_dB};
    const Stage lossy_mixer{-7_dB, 8_dB};
    EXPECT_NEAR(figure_db({cable, low_noise, lossy_mixer}), 4.660, printed_db);
    EXPECT_NEAR(figure_db({low_noise, cable, lossy_mixer}), 1.842, printed_db);
}

TEST_F(CascadeNoiseFigure, OfALossIsTheLoss) {
    EXPECT_NEAR(figure_db({{-3_dB, 3_dB}}), 3, 1e-12);
    EXPECT_NEAR(figure_db({{-3_dB, 3_dB}, {-2_dB, 2_dB}}), 5, 1e-12);  // derived: losses add up
}

// 10 log(1 + 10^(I/N / 10)), recomputed.
TEST(PowerSum, IsTheNoiseRiseOfAnInterferer) {
    const auto rise_db = [](double i_over_n_db) {
        const Dbm noise = -95_dBm;
        const std::vector<Dbm> both{noise, noise + Decibel(i_over_n_db)};
        return (power_sum(both) - noise).count();
    };
    EXPECT_NEAR(rise_db(-10), 0.414, printed_db);
    EXPECT_NEAR(rise_db(-6), 0.973, printed_db);
    EXPECT_NEAR(rise_db(-5.868), 1.000, printed_db);
    EXPECT_NEAR(rise_db(0), 3.010, printed_db);
    EXPECT_NEAR(rise_db(6), 6.973, printed_db);
    EXPECT_NEAR(rise_db(-9.136), 0.5, printed_db);
    EXPECT_NEAR(rise_db(-0.021), 3, printed_db);
}

TEST(PowerSum, AddsMilliwatts) {  // recomputed
    const auto sum_dbm = [](const std::vector<Dbm>& powers) { return power_sum(powers).count(); };
    EXPECT_NEAR(sum_dbm({-90_dBm, -90_dBm}), -90 + 3.010, printed_db);
    EXPECT_NEAR(sum_dbm({-90_dBm, -90_dBm, -90_dBm}), -90 + 4.771, printed_db);
    EXPECT_NEAR(sum_dbm({-90_dBm, -93_dBm}), -88.236, printed_db);
    EXPECT_NEAR(sum_dbm({-90_dBm, -95_dBm, -100_dBm}), -88.489, printed_db);
}

}  // namespace
}  // namespace fieldpeg::spectrum
