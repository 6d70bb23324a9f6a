#include "server/spectrum/own_craft.h"

#include "server/spectrum/noise.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <random>
#include <vector>

/// What an aircraft's own transmitters do to its satellite positioning. The numbers are worked by
/// hand from the formulas of the design (docs/model.md, section 14: all its values are assumed):
/// video with -20 dB, harmonics 40 and 50 dB down and 20 log n, 40 dB outside the front end,
/// N = k T0 20 MHz + 3 dB = -97.965 dBm [SI-9: k], IIP3 -15 dBm, P1dB -24.6 dBm.
namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::chance;
using testing::for_all;
using testing::one_of;
using testing::upright;
using testing::whole;

constexpr HopBand upper_band{1559_MHz, 1610_MHz}, lower_band{1164_MHz, 1300_MHz};
constexpr Envelope circuit{6, 80, 50, 3, 40};
constexpr Point pilot_stands{0, 0, 1.7};
enum Emissions : std::size_t { fm, ofdm, hopping };

Scene empty_scene() {
    Scene scene;
    for (const auto* name : {"fm-video", "ofdm-20", "hopping-2g4"})
        scene.emissions.push_back(testing::emission(name));
    return scene;
}

Transmitter sends(Hertz frequency, Dbm power, const Station& at = circuit) {
    return {fm, frequency, power, upright("dipole", Polarisation::vertical), Decibel(0), at};
}

/// The pilot's own, all of them aboard.
struct Craft {
    Scene scene = empty_scene();
    Positioning positioning{
        {upper_band}, Decibel(3), far_rim_half_way_up(circuit, pilot_stands), {}, {}};

    Craft& aboard(Transmitter made) {
        positioning.aboard.push_back(scene.transmitters.size());
        return own(std::move(made));
    }
    Craft& own(Transmitter made) {
        positioning.own.push_back(scene.transmitters.size());
        scene.transmitters.push_back(std::move(made));
        return *this;
    }
    Craft& hears_both_bands() {
        positioning.bands = {lower_band, upper_band};
        return *this;
    }
    PositioningStanding stands() const { return own_craft(scene, positioning); }
};

double over_noise(const PositioningStanding& is) {
    EXPECT_TRUE(is.over_noise);
    return is.over_noise ? is.over_noise->count() : NAN;
}

// --- noise

// 10 log10(1.380649e-23 x 290 x 20e6 x 1000) + 3 = -97.965 [SI-9: k]; the design prints -97.96.
TEST(OwnCraft, HasTheThermalNoiseOfTwentyMegahertz) {
    EXPECT_NEAR(noise_power(20_MHz, 3_dB).count(), -97.96, 0.006);
}

// --- harmonics

// 2 x 787.5 MHz = 1575 MHz: 14 - 20 - 40 - 20 log10 2 = -52.02 dBm.
TEST(OwnCraft, HearsTheSecondHarmonicOfItsVideo) {
    const auto is = Craft().aboard(sends(Hertz(787'500'000), 14_dBm)).stands();
    EXPECT_NEAR(over_noise(is), -52.0206 + 97.9645, 0.001);
    EXPECT_EQ(is.word, PositioningWord::clash);
    EXPECT_EQ(is.from, std::vector<std::size_t>{0});
    EXPECT_EQ(is.strongest, 1575_MHz);
}

// 3 x 525 MHz = 1575 MHz: 14 - 20 - 50 - 20 log10 3 = -65.542 dBm.
TEST(OwnCraft, HearsTheThirdHarmonicOfItsVideo) {
    const auto is = Craft().aboard(sends(525_MHz, 14_dBm)).stands();
    EXPECT_NEAR(over_noise(is), -65.5424 + 97.9645, 0.001);
    EXPECT_EQ(is.strongest, 1575_MHz);
}

// 3 x 433 MHz = 1299 MHz lies in the lower band, and in no other.
TEST(OwnCraft, HearsTheThirdHarmonicOf433MegahertzInTheLowerBandOnly) {
    EXPECT_FALSE(Craft().aboard(sends(433_MHz, 14_dBm)).stands().over_noise);
    const auto is = Craft().hears_both_bands().aboard(sends(433_MHz, 14_dBm)).stands();
    EXPECT_NEAR(over_noise(is), -65.5424 + 97.9645, 0.001);
    EXPECT_EQ(is.strongest, 1299_MHz);
}

// 780 to 805 MHz twice are 1560 to 1610 MHz; 10 MHz beside the band count, too.
TEST(OwnCraft, HearsHarmonicsInTheBandAndTenMegahertzBeside) {
    const auto hears = [](double mhz) {
        return Craft().aboard(sends(from_mhz(mhz), 14_dBm)).stands().over_noise.has_value();
    };
    for (const double mhz : {780.0, 790.0, 805.0, 774.5, 810.0, 516.4, 540.0})
        EXPECT_TRUE(hears(mhz)) << mhz;
    for (const double mhz : {774.4, 810.1, 516.3, 540.1, 433.0, 868.0, 1280.0, 2440.0, 5732.0})
        EXPECT_FALSE(hears(mhz)) << mhz;
}

// I/N = 10 - 20 - 40 - 6.021 - filter + 97.965 = 41.944 - filter. Up to -6 dB noise rises by less
// than 1 dB: 10 log10(1 + 10^-0.6) = 0.97 [ITU-R M.1903, from memory].
TEST(OwnCraft, IsSteadyUpToOneDecibelOfNoiseAndTightUpToThree) {
    const auto word = [](double filter_db) {
        auto made = sends(790_MHz, 10_dBm);
        made.harmonic_filter = Decibel(filter_db);
        return Craft().aboard(made).stands().word;
    };
    EXPECT_EQ(word(48.0), PositioningWord::steady);
    EXPECT_EQ(word(47.9), PositioningWord::tight);
    EXPECT_EQ(word(42.0), PositioningWord::tight);
    EXPECT_EQ(word(41.9), PositioningWord::clash);
}

TEST(OwnCraft, GoesByTheHarmonicsThatAreKnownOfItsVideo) {
    auto made = sends(790_MHz, 10_dBm);
    made.harmonics_below = {Decibel(65), Decibel(50)};
    EXPECT_NEAR(over_noise(Craft().aboard(made).stands()), 41.944 - 25, 0.001);
    made.harmonics_below = {Decibel(40), Decibel(80)};  // the third lies elsewhere
    EXPECT_NEAR(over_noise(Craft().aboard(made).stands()), 41.944, 0.001);
}

TEST(OwnCraft, AddsHarmonicsInMilliwattsAndNamesTheStronger) {
    const auto is = Craft().aboard(sends(525_MHz, 14_dBm)).aboard(sends(790_MHz, 10_dBm)).stands();
    const double third = 14 - 20 - 50 - 20 * std::log10(3),
                 second = 10 - 20 - 40 - 20 * std::log10(2);
    const double both = 10 * std::log10(std::pow(10, third / 10) + std::pow(10, second / 10));
    EXPECT_NEAR(over_noise(is), both + 97.9645, 0.001);
    EXPECT_EQ(is.from, std::vector<std::size_t>{1});
    EXPECT_EQ(is.strongest, 1580_MHz);
}

// --- products of two

// 2 x 1800 - 2030 = 1570 MHz. Each arrives with 30 - 20 - 40 = -30 dBm: 3 x -30 + 2 x 15 = -60 dBm
// [Pozar, ch. 10]. The other, 2 x 2030 - 1800, lies far off.
TEST(OwnCraft, HearsProductsOfTwoOfItsTransmitters) {
    const auto is =
        Craft().aboard(sends(1800_MHz, 30_dBm)).aboard(sends(2030_MHz, 30_dBm)).stands();
    EXPECT_NEAR(over_noise(is), -60 + 97.9645, 0.001);
    EXPECT_EQ(is.from, (std::vector<std::size_t>{0, 1}));
    EXPECT_EQ(is.strongest, 1570_MHz);
}

// A noise-like signal has twice the mean square of its power: 3.01 dB more [docs/model.md, 6].
TEST(OwnCraft, HearsProductsOfANoiseLikeSignalByThreeDecibelsMore) {
    auto noise_like = sends(1800_MHz, 30_dBm);
    noise_like.emission = ofdm;
    const auto is = Craft().aboard(noise_like).aboard(sends(2030_MHz, 30_dBm)).stands();
    EXPECT_NEAR(over_noise(is), -60 + 97.9645 + 3.0103, 0.001);
}

// --- blocking

// 29 - 20 = 9 dBm in the middle of the lower band, far above -24.6 dBm. Outside the front end it is
// -31 dBm: D = -20 log10(1 - 2 x 10^((-31 + 24.6 - 9.636) / 10)) = 0.444 dB [Razavi, ch. 2].
TEST(OwnCraft, IsDrownedByItsOwnVideoInTheLowerBandIfItListensThere) {
    const auto one_band = Craft().aboard(sends(1280_MHz, 29_dBm)).stands();
    EXPECT_FALSE(one_band.is_swamped);
    EXPECT_EQ(one_band.word, PositioningWord::steady);
    EXPECT_FALSE(one_band.over_noise);
    EXPECT_NEAR(one_band.desensitisation.count(), 0.444, 0.001);
    const auto two_bands = Craft().hears_both_bands().aboard(sends(1280_MHz, 29_dBm)).stands();
    EXPECT_TRUE(two_bands.is_swamped);
    EXPECT_EQ(two_bands.blocker, 0U);
    EXPECT_GT(two_bands.desensitisation, 20_dB);
}

TEST(OwnCraft, IsSwampedFromItsCompressionPointOn) {
    // power - 20 - 40 against -24.6
    EXPECT_FALSE(Craft().aboard(sends(5732_MHz, Dbm(35.3))).stands().is_swamped);
    EXPECT_TRUE(Craft().aboard(sends(5732_MHz, Dbm(35.5))).stands().is_swamped);
}

// What hops is nowhere long enough to count as noise, but a front end takes its full power.
TEST(OwnCraft, IsOnlyBlockedByWhatHops) {
    auto hops = sends(Hertz(787'500'000), 44_dBm);
    hops.emission = hopping;
    hops.hops = HopBand{780_MHz, 795_MHz};
    auto stays = hops;
    stays.hops.reset();
    EXPECT_TRUE(Craft().aboard(stays).stands().over_noise);
    const auto is = Craft().aboard(hops).stands();
    EXPECT_FALSE(is.over_noise);
    EXPECT_TRUE(is.from.empty());
    EXPECT_EQ(is.desensitisation, Craft().aboard(stays).stands().desensitisation);
    EXPECT_TRUE(is.is_swamped);
    const auto with_video = Craft().aboard(sends(1800_MHz, 30_dBm));
    auto beside = sends(2030_MHz, 30_dBm);
    beside.hops = HopBand{2020_MHz, 2040_MHz};
    EXPECT_FALSE(Craft(with_video).aboard(beside).stands().over_noise);
}

TEST(OwnCraft, IsSteadyWhereNothingOfItsOwnIsOnTheAir) {
    const auto is = Craft().stands();
    EXPECT_EQ(is.word, PositioningWord::steady);
    EXPECT_FALSE(is.over_noise);
    EXPECT_FALSE(is.is_swamped);
    EXPECT_FALSE(is.blocker);
    EXPECT_EQ(is.desensitisation, 0_dB);
}

// Free space over 130 m at 790 MHz is 72.7 dB [P.525], 20 dB are the airframe's: what stands on the
// ground counts some 50 dB less than the same aboard.
TEST(OwnCraft, HearsWhatStandsOnTheGroundByItsWay) {
    const auto aboard = Craft().aboard(sends(790_MHz, 30_dBm)).stands();
    const auto ground = Craft().own(sends(790_MHz, 30_dBm, pilot_stands)).stands();
    EXPECT_NEAR(over_noise(aboard) - over_noise(ground), 72.7 - 20, 8);
}

// --- where it is looked at

TEST(FarRim, LiesOppositeHalfWayUp) {
    const double away = std::hypot(6, 80);
    const auto at = far_rim_half_way_up(circuit, {0, 0, 1.7});
    EXPECT_NEAR(at.x_m, 6 + 50 * 6 / away, 1e-9);
    EXPECT_NEAR(at.y_m, 80 + 50 * 80 / away, 1e-9);
    EXPECT_EQ(at.z_m, 21.5);
    const auto from_the_middle = far_rim_half_way_up(circuit, {6, 80, 0});
    EXPECT_NEAR(std::hypot(from_the_middle.x_m - 6, from_the_middle.y_m - 80), 50, 1e-9);
}

// No point of the rim is farther.
TEST(FarRim, IsTheFarthestOfTheRim) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto area = testing::random_envelope(rng);
        const auto from = testing::random_place(rng);
        const auto at = far_rim_half_way_up(area, from);
        const double far = std::hypot(at.x_m - from.x_m, at.y_m - from.y_m);
        for (int i = 0; i < 360; ++i) {
            const double a = i * M_PI / 180;
            EXPECT_LE(std::hypot(area.x_m + area.radius_m * std::sin(a) - from.x_m,
                                 area.y_m + area.radius_m * std::cos(a) - from.y_m),
                      far + 1e-9);
        }
    });
}

// --- whatever a pilot has

Transmitter random_own(std::mt19937_64& rng) {
    auto made =
        sends(one_of(rng, {433_MHz, 525_MHz, 790_MHz, 1280_MHz, 1800_MHz, 2030_MHz, 2440_MHz}) +
                  Hertz(1'000'000 * whole(rng, -8, 8)),
              Dbm(between(rng, -10, 30)));
    made.emission = one_of<std::size_t>(rng, {fm, ofdm});
    if (chance(rng, 20)) made.hops = HopBand{made.frequency - 5_MHz, made.frequency + 5_MHz};
    if (chance(rng, 20)) made.harmonic_filter = Decibel(between(rng, 0, 40));
    return made;
}
Craft random_craft(std::mt19937_64& rng) {
    Craft craft;
    if (chance(rng, 50)) craft.hears_both_bands();
    const int count = whole(rng, 1, 4);
    for (int i = 0; i < count; ++i)
        chance(rng, 50) ? craft.aboard(random_own(rng)) : craft.own(random_own(rng));
    return craft;
}

/// As bad, or worse.
void expect_no_better(const PositioningStanding& after, const PositioningStanding& before) {
    EXPECT_GE(after.word, before.word);
    EXPECT_GE(after.desensitisation, before.desensitisation - Decibel(1e-9));
    EXPECT_GE(after.is_swamped, before.is_swamped);
    if (!before.over_noise) return;
    ASSERT_TRUE(after.over_noise);
    EXPECT_GE(*after.over_noise, *before.over_noise - Decibel(1e-9));
}

TEST(OwnCraftProperty, IsNoBetterOffWithOneMore) {
    for_all(300, [](std::mt19937_64& rng) {
        auto craft = random_craft(rng);
        const auto before = craft.stands();
        expect_no_better(craft.aboard(random_own(rng)).stands(), before);
    });
}

TEST(OwnCraftProperty, IsNoBetterOffWithALouderOneOrLessOfAFilter) {
    for_all(300, [](std::mt19937_64& rng) {
        auto craft = random_craft(rng);
        const auto before = craft.stands();
        auto& one = craft.scene.transmitters[static_cast<std::size_t>(
            whole(rng, 0, static_cast<int>(craft.scene.transmitters.size()) - 1))];
        one.power = one.power + Decibel(between(rng, 0, 10));
        one.harmonic_filter = Decibel(one.harmonic_filter.count() * between(rng, 0, 1));
        expect_no_better(craft.stands(), before);
    });
}

TEST(OwnCraftProperty, MindsNobodyElsesTransmitters) {
    for_all(100, [](std::mt19937_64& rng) {
        auto craft = random_craft(rng);
        const auto before = craft.stands();
        craft.scene.transmitters.push_back(random_own(rng));
        const auto after = craft.stands();
        EXPECT_EQ(after.over_noise, before.over_noise);
        EXPECT_EQ(after.desensitisation, before.desensitisation);
        EXPECT_EQ(after.from, before.from);
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
