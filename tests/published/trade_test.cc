#include "server/spectrum/relay_window.h"
#include "tests/published/channels.h"
#include "tests/published/field.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
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
        EXPECT_LT(s.ref, 0_dB);
}

// [common practice]
TEST(Trade, TheSameChannelIsTheEndOfTheFlight) {
    for (const auto& s : testing::pilots_on({5740_MHz, 5740_MHz}, milliwatts_25).standings())
        EXPECT_EQ(verdict(s), Verdict::clash);
}

// [common practice] A battery plugged in behind the line.
TEST(Trade, ABenchOnTheSameChannelTakesThePictureAway) {
    Field field;
    const auto pilot = field.add(5740_MHz, milliwatts_25, circuit, {0, 0, eye_m});
    EXPECT_EQ(verdict(field.standing(pilot)), Verdict::steady);
    field.add(5740_MHz, milliwatts_25, Point{0, -10, 1}, {1, -10, eye_m});
    EXPECT_EQ(verdict(field.standing(pilot)), Verdict::clash);
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
    const auto window = relay_window(day.field.scene(), day.relay, Geometry::ref);
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
    const auto window = relay_window(day.field.scene(), day.relay, Geometry::ref);
    ASSERT_TRUE(window.is_open());
    EXPECT_GT(*window.ceiling, milliwatts_25);
    EXPECT_LT(*window.ceiling, dbm(300));
}

// [common practice] The swamp around a strong transmitter: a few metres, whatever the channel.
TEST(Trade, ARelayOfSeveralHundredMilliwattsSwampsWhoStandsBesideIt) {
    Field field;
    field.add(5917_MHz, milliwatts_600, Point{0, 0, eye_m}, {-22, 0, eye_m});
    const auto beside = field.add(5658_MHz, milliwatts_25, circuit, {2, 0, eye_m});
    const auto budgets = assess(field.scene());
    const auto m = margins((*budgets[beside])[0], field.profile(beside), Demand::watchable);
    ASSERT_TRUE(m.swamping);
    EXPECT_LT(*m.swamping, 0_dB);
}

// [common practice] Two receivers on one aircraft, the better picture shown.
TEST(Trade, OfTwoReceiversTheBetterIsNeverWorseThanEither) {
    for (const double facing_deg : {0.0, 90.0, 180.0}) {
        Field field;
        const auto omni = field.add(5732_MHz, milliwatts_25, circuit, {0, 0, eye_m});
        auto patch_antenna = circular("circular-patch");
        patch_antenna.azimuth = Degrees(facing_deg);
        auto second = field.scene().receivers[omni];
        second.antenna = patch_antenna;
        field.scene().receivers.push_back(second);
        field.add(5769_MHz, milliwatts_600, circuit, {3, 0, eye_m});

        const auto all = field.standings();
        const std::array<Standing, 2> both{all[0], all[1]};
        const auto shown = best_of(both);
        for (const auto& one : both) {
            EXPECT_GE(shown.ref, one.ref);
            EXPECT_GE(shown.worst, one.worst);
            EXPECT_GE(shown.sharp, one.sharp);
            EXPECT_GE(shown.alone, one.alone);
        }
    }
}

// [common practice]
TEST(Trade, OppositeHandsPartByWellOverTenDecibels) {
    for (const auto* name : {"circular-omni", "circular-patch", "circular-helix"}) {
        const auto axial_ratio = testing::antenna(name).axial_ratio;
        EXPECT_GT(polarisation_loss(Polarisation::rhcp, axial_ratio, Polarisation::lhcp,
                                    axial_ratio, Role::unwanted),
                  12_dB)
            << name;
    }
}

// [common practice] Three decibels, give or take what the antennas are not quite circular.
TEST(Trade, CircularToLinearCostsThreeDecibels) {
    const auto axial_ratio = testing::antenna("circular-omni").axial_ratio;
    const auto loss = [&](Role role) {
        return polarisation_loss(Polarisation::rhcp, axial_ratio, Polarisation::vertical, 99_dB,
                                 role);
    };
    EXPECT_NEAR((0.5 * (loss(Role::wanted) + loss(Role::unwanted))).count(), 3, 0.2);
    EXPECT_LE(loss(Role::unwanted), 3.01_dB);
    EXPECT_GE(loss(Role::wanted), 3.01_dB);
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
    for (const auto& budgets : assess(field.scene()))
        worst_mw = std::max(worst_mw, (*budgets)[1].receiver_product_mw);
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
