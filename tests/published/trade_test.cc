#include "server/spectrum/relay_window.h"
#include "tests/published/channels.h"
#include "tests/published/field.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

/// What everybody on a flying field knows of channels, relays and antennas. Common practice, no
/// published source. The numbers are those of the saying, not of the model.
namespace fieldpeg::spectrum {
namespace {

using testing::channels_mhz;
using testing::circuit;
using testing::circular;
using testing::eye_m;
using testing::Field;

const Dbm milliwatts_25 = dbm(25);
const Dbm milliwatts_600 = dbm(600);

// [common practice]
TEST(Trade, ThirtySevenMegahertzApartIsFine) {
    for (const auto& s : testing::pilots_on({5732_MHz, 5769_MHz}, milliwatts_25).standings())
        EXPECT_EQ(verdict(s), Verdict::steady);
}

// [common practice]
TEST(Trade, TwentyMegahertzApartIsNotFineWithOrdinaryReceivers) {
    for (const auto& s : testing::pilots_on({5740_MHz, 5760_MHz}, milliwatts_25).standings())
        EXPECT_LT(s.good, 0_dB);
}

// [common practice]
TEST(Trade, TheSameChannelIsTheEndOfTheFlight) {
    for (const auto& s : testing::pilots_on({5740_MHz, 5740_MHz}, milliwatts_25).standings())
        EXPECT_EQ(verdict(s), Verdict::clash);
}

// [common practice] Not range is what is wrong with them, however far out they fly.
TEST(Trade, TheSameChannelIsAClashFarOutToo) {
    const Envelope far{0, 140, 110, 3, 40};  // 30 to 250 m out
    Field field;
    for (const double x_m : {0.0, 3.0}) field.add(5740_MHz, milliwatts_25, far, {x_m, 0, eye_m});
    for (const auto& s : field.standings()) {
        EXPECT_EQ(verdict(s), Verdict::clash);
        EXPECT_EQ(interference(s), Interference::clash);
    }
}

/// Somebody who flies on 20 MHz beside, with a disturber over their head up to `top_m`.
Standing under_a_disturber(double top_m) {
    Field field;
    const auto pilot = field.add(5740_MHz, milliwatts_25, circuit, {0, 0, eye_m});
    field.add(5760_MHz, dbm(200), Envelope{0, 0, 60, 3, top_m}, {30, -20, eye_m});
    return field.standing(pilot);
}

// [common practice] Who may also fly higher disturbs no less: the verdict does not get better.
TEST(Trade, AHigherCeilingOverheadNeverImprovesTheNeighboursVerdict) {
    auto lower = verdict(under_a_disturber(20));
    EXPECT_GE(lower, Verdict::shaky);
    for (const double top_m : {25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0}) {
        const auto higher = verdict(under_a_disturber(top_m));
        EXPECT_GE(higher, lower) << top_m;
        lower = higher;
    }
}

// [common practice] A battery plugged in behind the line.
TEST(Trade, ABenchOnTheSameChannelTakesThePictureAway) {
    Field field;
    const auto pilot = field.add(5740_MHz, milliwatts_25, circuit, {0, 0, eye_m});
    EXPECT_EQ(verdict(field.standing(pilot)), Verdict::steady);
    field.add(5740_MHz, milliwatts_25, Point{0, -10, 1}, {1, -10, eye_m});
    EXPECT_EQ(verdict(field.standing(pilot)), Verdict::clash);
}

/// A pilot of two on 37 MHz spacing, a transmitter lying on a bench behind.
Standing beside_a_bench(double metres, Dbm power, Hertz channel) {
    auto field = testing::pilots_on({5760_MHz, 5797_MHz}, milliwatts_25);
    field.scene().transmitters[1].at = Point{0, -metres, 1};
    field.scene().transmitters[1].power = power;
    field.scene().transmitters[1].frequency = channel;
    return field.standing(0);
}

// The margins of docs/model.md, section 13, by an independent implementation, to its one decimal.
TEST(Bench, OfTwoPilotsHasTheMarginsOfTheIndependentImplementation) {
    constexpr double one_decimal_db = 0.05;
    const auto margin_db = [](double metres) {
        return beside_a_bench(metres, milliwatts_25, 5797_MHz).good.count();
    };
    EXPECT_NEAR(margin_db(3), -7.4, one_decimal_db);
    EXPECT_NEAR(margin_db(5), -3.8, one_decimal_db);
    EXPECT_NEAR(margin_db(10), 0.2, one_decimal_db);
}

// [common practice] On another channel: nearer than a few steps it hurts, ten metres off it does
// not. Pit mode is there for it, and of no use on the same channel.
TEST(Trade, ABenchOnAnotherChannelHurtsWithinAFewSteps) {
    EXPECT_EQ(verdict(beside_a_bench(3, milliwatts_25, 5797_MHz)), Verdict::clash);
    EXPECT_GE(verdict(beside_a_bench(5, milliwatts_25, 5797_MHz)), Verdict::shaky);
    EXPECT_LE(verdict(beside_a_bench(10, milliwatts_25, 5797_MHz)), Verdict::tight);
    EXPECT_GE(verdict(beside_a_bench(10, dbm(200), 5797_MHz)), Verdict::shaky);
    EXPECT_LE(verdict(beside_a_bench(3, dbm(0.1), 5797_MHz)), Verdict::tight);
    EXPECT_EQ(verdict(beside_a_bench(30, dbm(0.1), 5760_MHz)), Verdict::clash);
}

/// A relay ten metres behind the line, its owner 22 m away from it, and two pilots on the line in
/// front of it, 37 MHz either side. (Much nearer, even 25 mW is too much for people who fly at the
/// edge of their own range, as these do; see docs/model.md, section 11.)
struct RelayField {
    Field field;
    std::size_t relay = 0;
    std::vector<std::size_t> neighbours;

    explicit RelayField(Dbm power) {
        field.add(5806_MHz, power, Point{0, -10, 2.5}, {-22, -10, eye_m});
        neighbours.push_back(field.add(5769_MHz, milliwatts_25, circuit, {0, 0, eye_m}));
        neighbours.push_back(field.add(5843_MHz, milliwatts_25, circuit, {3, 0, eye_m}));
    }
};

// [common practice]
TEST(Trade, ARelayOf25MilliwattsIsPlentyForItsOwnersGoggles) {
    RelayField day(milliwatts_25);
    const auto window = relay_window(day.field.scene(), day.relay, Geometry::usual);
    ASSERT_TRUE(window.floor);
    EXPECT_LT(*window.floor, milliwatts_25 - 3_dB);
    EXPECT_EQ(picture(day.field.standing(day.relay)), Picture::sharp);
}

// [common practice]
TEST(Trade, ARelayOf25MilliwattsHarmsNobodyTenMetresAway) {
    RelayField day(milliwatts_25);
    for (const auto neighbour : day.neighbours)
        EXPECT_EQ(verdict(day.field.standing(neighbour)), Verdict::steady);
}

// [common practice]
TEST(Trade, ARelayOfSeveralHundredMilliwattsHarmsTheNeighbours) {
    RelayField day(milliwatts_600);
    const auto before = RelayField(power_min).field.standings();
    const auto after = day.field.standings();
    for (const auto neighbour : day.neighbours)
        EXPECT_TRUE(harms(before[neighbour], after[neighbour])) << neighbour;
    const auto window = relay_window(day.field.scene(), day.relay, Geometry::usual);
    ASSERT_TRUE(window.is_open());
    EXPECT_GT(*window.ceiling, milliwatts_25);
    EXPECT_LT(*window.ceiling, dbm(300));
}

// [common practice] The swamp around a strong transmitter: a few metres, whatever the channel.
TEST(Trade, ARelayOfSeveralHundredMilliwattsSwampsWhoStandsBesideIt) {
    Field field;
    field.add(5917_MHz, milliwatts_600, Point{0, 0, eye_m}, {-22, 0, eye_m});
    const auto beside = field.add(5658_MHz, milliwatts_25, circuit, {2, 0, eye_m});
    const testing::Assessed day(field.scene());
    EXPECT_TRUE(is_swamped(*day.receptions[beside]));
    EXPECT_EQ(verdict(field.standing(beside)), Verdict::clash);
}

// [common practice] Two receivers on one aircraft: the better picture is shown, and it is better
// than with either alone.
TEST(Trade, OfTwoReceiversTheTwoTogetherAreBetterThanEither) {
    for (const double facing_deg : {0.0, 90.0, 180.0}) {
        Field field;
        const auto omni = field.add(5732_MHz, milliwatts_25, circuit, {0, 0, eye_m});
        auto second = field.scene().receivers[omni];
        second.antenna = circular("circular-patch");
        second.antenna.azimuth = Degrees(facing_deg);
        field.scene().receivers.push_back(second);
        field.add(5769_MHz, milliwatts_600, circuit, {3, 0, eye_m});

        const testing::Assessed day(field.scene());
        const auto shown = standing(day.receptions, Hop{0, {omni, omni + 1}});
        for (const auto v : {omni, omni + 1}) {
            const auto one = standing(*day.receptions[v]);
            EXPECT_GT(shown.good, one.good) << facing_deg;
            EXPECT_GT(shown.usable, one.usable) << facing_deg;
            EXPECT_GT(shown.closest, one.closest) << facing_deg;
            EXPECT_GT(shown.sharp, one.sharp) << facing_deg;
        }
    }
}

// [common practice] Well over ten decibels between masts; in the air some ten.
TEST(Trade, OppositeHandsPartByTenDecibelsOrMore) {
    using enum Polarisation;
    for (const auto* name : {"circular-omni", "circular-patch", "circular-helix"}) {
        const auto axial_ratio = testing::antenna(name).axial_ratio;
        EXPECT_GT(fixed_polarisation_loss(rhcp, axial_ratio, lhcp, axial_ratio, Role::unwanted),
                  12_dB)
            << name;
        EXPECT_NEAR(flying_polarisation_loss(rhcp, axial_ratio, lhcp, axial_ratio).count(), 10, 2)
            << name;
    }
}

// [common practice] Three decibels, give or take what the antennas are not quite circular.
TEST(Trade, CircularToLinearCostsThreeDecibels) {
    using enum Polarisation;
    const auto axial_ratio = testing::antenna("circular-omni").axial_ratio;
    const auto loss = [&](Role role) {
        return fixed_polarisation_loss(rhcp, axial_ratio, vertical, 99_dB, role);
    };
    EXPECT_NEAR((0.5 * (loss(Role::wanted) + loss(Role::unwanted))).count(), 3, 0.2);
    EXPECT_LE(loss(Role::unwanted), 3.01_dB);
    EXPECT_GE(loss(Role::wanted), 3.01_dB);
    EXPECT_NEAR(flying_polarisation_loss(rhcp, axial_ratio, vertical, 99_dB).count(), 3, 0.02);
}

// [common practice] Equal steps are the worst that can be done: no set of as many channels has more
// exact hits. Tried on every set of 4 and of 5 channels in 13 places.
TEST(Trade, EqualSpacingHitsItselfMost) {
    for (const int n : {4, 5}) {
        const auto total = [](const std::vector<double>& marks) {
            const auto hits = testing::exact_hits(testing::channels_at(marks));
            return hits.two_signal + hits.three_signal;
        };
        std::vector<double> equal;
        for (int i = 0; i < n; ++i) equal.push_back(3.0 * i);
        testing::for_each_subset(12, n, n, [&](const std::vector<double>& marks) {
            EXPECT_LE(total(marks), total(equal));
        });
    }
}

/// Third-order products made in the worst-off receiver, mW.
double worst_products_mw(const std::vector<Hertz>& channels) {
    auto field = testing::pilots_on(channels, milliwatts_600, "circular-patch");
    double worst_mw = 0;
    const testing::Assessed day(field.scene());
    for (const auto& reception : day.receptions)
        worst_mw = std::max(worst_mw, reception->budget(Geometry::closest).receiver_product_mw);
    return worst_mw;
}

// [common practice] The same six pilots over the same 259 MHz, in equal steps and in uneven ones.
TEST(Trade, UnevenSpacingHasWeakerProductsThanEqualSpacing) {
    const auto uneven = worst_products_mw(channels_mhz({5658, 5695, 5760, 5800, 5880, 5917}));
    const auto equal =
        worst_products_mw(channels_mhz({5658, 5709.8, 5761.6, 5813.4, 5865.2, 5917}));
    EXPECT_GT(decibel(equal / uneven), 1_dB);
}

}  // namespace
}  // namespace fieldpeg::spectrum
