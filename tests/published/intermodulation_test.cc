#include "server/spectrum/intermodulation.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/contributions.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/rejection.h"
#include "tests/published/field.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>

#include <cstddef>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

constexpr double printed_db = 0.0006;  // three decimals
constexpr Dbm iip3 = -10_dBm;          // of all the checks below

// Two-tone products, powers per tone: 2 P1 + P2 - 2 IIP3 [Pozar, ch. 10] [Razavi, ch. 2], derived
// from the cubic expansion, recomputed with an FFT of 4096 points over y = a1 x + a3 x^3.
TEST(TwoSignalProduct, OfTwoTonesIsWhatTheCubicExpansionSays) {
    EXPECT_NEAR(two_signal_product(-30_dBm, -30_dBm, iip3, true).count(), -70.000, printed_db);
    EXPECT_NEAR(two_signal_product(-25_dBm, -35_dBm, iip3, true).count(), -65.000, printed_db);
    EXPECT_NEAR(two_signal_product(-35_dBm, -25_dBm, iip3, true).count(), -75.000, printed_db);
}

// Six decibels above a two-tone product of equal tones: confirmed, in an article on carrier triple
// beats and in [Roddy, App. E].
TEST(ThreeSignalProduct, OfThreeTonesIsSixDecibelsAboveThatOfTwo) {
    EXPECT_NEAR(three_signal_product(-30_dBm, -30_dBm, -30_dBm, iip3).count(), -63.979, printed_db);
    EXPECT_NEAR(three_signal_product(-30_dBm, -33_dBm, -36_dBm, iip3).count(), -72.979, printed_db);
    EXPECT_NEAR((three_signal_product(-30_dBm, -30_dBm, -30_dBm, iip3) -
                 two_signal_product(-30_dBm, -30_dBm, iip3, true))
                    .count(),
                6.0206, 0.0001);
}

// E[P^2] = 2 E[P]^2 of complex Gaussian noise; derived.
TEST(TwoSignalProduct, OfNoiseIsThreeDecibelsStronger) {
    EXPECT_NEAR((two_signal_product(-30_dBm, -30_dBm, iip3, false) -
                 two_signal_product(-30_dBm, -30_dBm, iip3, true))
                    .count(),
                3.0103, 0.0001);
}

// Spurious-free dynamic range 2/3 (IIP3 - floor) = 56.667 dB for a floor of -95 dBm
// [Razavi, ch. 2], recomputed: two tones that far above the floor have their product on it.
TEST(TwoSignalProduct, MeetsTheFloorAtTheSpuriousFreeDynamicRange) {
    const Dbm floor = -95_dBm;
    const Dbm tone = floor + 56.667_dB;
    EXPECT_NEAR(two_signal_product(tone, tone, iip3, true).count(), floor.count(), 3 * printed_db);
}

// Where a cubic device with that intercept point compresses by 1 dB [Pozar, ch. 10] [Razavi, ch.
// 2], derived: -10 log10(1 - 10^(-1/20)) below it.
constexpr Dbm p1db = iip3 - 9.6357_dB;

struct BlockerRow {
    Dbm blocker;
    double db;
};

// Small-signal gain beside a blocker: 20 log(1 - 2 10^((PB - IIP3) / 10)), derived, recomputed with
// the same FFT [Razavi, ch. 2, desensitisation].
TEST(Desensitisation, IsTheBlockerTableOfTheCubicExpansion) {
    for (const auto& [blocker, db] : {BlockerRow{-25_dBm, 0.568}, BlockerRow{-20_dBm, 1.938},
                                      BlockerRow{-18_dBm, 3.311}, BlockerRow{-16_dBm, 6.062}})
        EXPECT_NEAR(desensitisation(blocker, p1db).count(), db, printed_db);
    EXPECT_NEAR(desensitisation(iip3 - 12.646_dB, p1db).count(), 1, 0.0002);
    EXPECT_NEAR(desensitisation(iip3 - 8.356_dB, p1db).count(), 3, 0.0005);
}

// The last row of that table, -14 dBm, is 13.817 dB by the formula, on its way to infinity at
// -13 dBm. The Departure of blocking.h goes straight on instead, so it must stay below.
TEST(Desensitisation, DepartsFromTheFormulaWhereItRunsAway) {
    EXPECT_LT(desensitisation(-14_dBm, p1db), 13.817_dB);
    EXPECT_GT(desensitisation(-14_dBm, p1db), desensitisation(-16_dBm, p1db) + 2_dB);
}

// P1dB = IIP3 - 9.636 dB for a cubic device [Pozar, ch. 10] [Razavi, ch. 2], derived; the gear
// library writes it with one decimal, for constant envelopes.
TEST(GearLibrary, FrequencyModulationReceiversCompressWhereTheCubicDoes) {
    constexpr double one_decimal_db = 0.051;
    for (const auto* name : {"fm-video-5g8", "fm-video-5g8-sharp", "fm-video-5g8-wide",
                             "fm-video-2g4", "fm-video-1g3"}) {
        const auto profile = testing::receiver(name);
        EXPECT_NEAR((profile.iip3 - profile.p1db).count(), 9.636, one_decimal_db) << name;
    }
}

/// Two masts and a receiver that lets everything through, tuned to where their product falls.
Scene two_masts() {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    auto profile = testing::receiver("fm-video-5g8");
    profile.selectivity =
        Selectivity::make({{0_MHz, 0_dB}, {900_MHz, 0_dB}, {901_MHz, 200_dB}}).value();
    scene.profiles.push_back(profile);
    const auto omni = testing::circular("circular-omni");
    const Hertz host = 5760_MHz, intruder = 5790_MHz, tuned = 5730_MHz;
    scene.transmitters.push_back({0, tuned, power_min, omni, 0.5_dB, Point{0, 40, 3}});
    scene.transmitters.push_back({0, host, 27_dBm, omni, 0.5_dB, Point{3, 0, 3}});
    scene.transmitters.push_back({0, intruder, 27_dBm, omni, 0.5_dB, Point{5, 0, 3}});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, -20, 1.7}});
    return scene;
}

// A transmitter test of the ETSI kind has the interferer 30 dB and the product 40 dB below the
// carrier, where it leaves the antenna: 10 dB of conversion loss. From memory; the method is
// [SM.2021, 2.1]. What leaves the antenna arrives as much weaker as the carrier does.
TEST(TransmitterProduct, IsFortyDecibelsBelowTheCarrierForAnIntruderThirtyBelow) {
    auto scene = two_masts();
    const Decibel leaks = coupling(scene.transmitters[2], scene.transmitters[1]);
    scene.transmitters[2].power = scene.transmitters[1].power - 30_dB - leaks;
    const LinkTable links(scene);
    RejectionTables tables(scene);
    std::optional<Dbm> carrier, product;
    for (const auto& signal : front_end_signals(scene, links, tables, 0, Geometry::usual, 10))
        if (signal.transmitter == 1) carrier = signal.level;
    for (const auto& c : contributions(scene, links, tables, 0, Geometry::usual, 10))
        if (c.kind == Contribution::Kind::transmitter_product &&
            c.from == std::vector<std::size_t>{1, 2})
            product = c.level;
    ASSERT_TRUE(carrier && product);
    EXPECT_NEAR((*carrier - *product).count(), 40, 0.01);
}

/// Every product of three disturbers at receiver 0 of a field, one by one, mW.
double products_one_by_one_mw(testing::Field& field) {
    const auto& scene = field.scene();
    const auto& profile = field.profile(0);
    const Hertz tuned = scene.transmitters[0].frequency;
    const auto f = [&](std::size_t t) { return scene.transmitters[t].frequency; };
    const auto arriving = [&](std::size_t t) {
        return scene.transmitters[t].power +
               unwanted_gain(scene.transmitters[t], scene.receivers[0], Geometry::usual);
    };
    const double sigma = scene.emissions[0].sigma_mhz;
    const ProductShape shape{sigma, true};
    double sum_mw = 0;
    const auto add = [&](Dbm level, double sigma_mhz, Hertz product) {
        if (distance(product, tuned) > product_reach) return;
        sum_mw += milliwatts(
            level - product_rejection(sigma_mhz, profile.selectivity, distance(product, tuned)));
    };
    for (std::size_t a = 1; a <= 3; ++a) {
        for (std::size_t b = 1; b <= 3; ++b) {
            if (a == b) continue;
            const std::size_t c = 6 - a - b;
            add(two_signal_product(arriving(a), arriving(b), profile.iip3, true),
                two_signal_sigma_mhz(shape, shape), two_signal_frequency(f(a), f(b)));
            if (a < b)
                add(three_signal_product(arriving(a), arriving(b), arriving(c), profile.iip3),
                    three_signal_sigma_mhz(shape, shape, shape),
                    three_signal_frequency(f(a), f(b), f(c)));
        }
    }
    return sum_mw;
}

// What the checks above say of one product, summed over all within reach; derived. 5760 + 5790 -
// 5830 is on tune, products of two signals are on 5690, 5730 and 5750.
TEST(Budget, HoldsEveryProductOfTheCubicExpansion) {
    testing::Field field;
    field.add(5720_MHz, 14_dBm, testing::circuit, {0, 0, testing::eye_m});
    field.add(5760_MHz, 27_dBm, Point{3, 1, 2}, {3, 0, testing::eye_m});
    field.add(5790_MHz, 23_dBm, Point{-4, 2, 2}, {-4, 0, testing::eye_m});
    field.add(5830_MHz, 25_dBm, Point{1, 6, 2}, {1, 3, testing::eye_m});
    const testing::Assessed day(field.scene());
    const auto& budget = day.receptions[0]->budget(Geometry::usual);
    const double expected_mw = products_one_by_one_mw(field);
    EXPECT_NEAR(decibel(budget.receiver_product_mw / expected_mw).count(), 0, 1e-6);
}

}  // namespace
}  // namespace fieldpeg::spectrum
