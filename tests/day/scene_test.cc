#include "server/day/scene.h"

#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <cmath>
#include <variant>

namespace fieldpeg::day {
namespace {

using spectrum::Envelope;
using spectrum::Point;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

constexpr double rounding = 1e-9;

/// Ann flies, Ben holds a channel, Cem is on the bench.
v1::DaySheet three_stages(const std::string& bench = "", const std::string& pit_mode = "") {
    return sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R4", .stage = ""}) +
        text_of(PilotText{.name = "Cem",
                          .place = "line-3",
                          .channel = "R7",
                          .power_mw = "200",
                          .stage = "on_bench = true",
                          .more = bench,
                          .more_video = "power_mw = [25, 200]\n" + pit_mode}));
}

const spectrum::Transmitter& transmitter(const Situation& s, std::string_view name) {
    return s.scene.transmitters.at(s.transmitter(name).value());
}
const spectrum::Receiver& receiver(const Situation& s, std::string_view owner) {
    for (std::size_t v = 0; v < s.receivers.size(); ++v)
        if (s.receivers[v].owner == owner && s.receivers[v].relay.empty())
            return s.scene.receivers[v];
    throw std::logic_error("no such receiver");
}

TEST(Situation, CountsEveryClaimOrOnlyWhatRadiates) {
    const auto sheet = three_stages();
    const auto held = situation(sheet, v1::Basis::held);
    const auto on_air = situation(sheet, v1::Basis::on_air);
    EXPECT_EQ(held.transmitters.size(), 3u);
    EXPECT_EQ(on_air.transmitters.size(), 2u);
    EXPECT_FALSE(on_air.transmitter("Ben"));
    EXPECT_TRUE(on_air.transmitter("Cem"));
    EXPECT_EQ(held.receivers.size(), 3u);
    EXPECT_EQ(on_air.receivers.size(), 3u);
    EXPECT_TRUE(receiver(held, "Ben").hears);
    EXPECT_FALSE(receiver(on_air, "Ben").hears);
}

TEST(Situation, HasTransmittersAndReceiversBesideTheirOwners) {
    const auto sheet = three_stages();
    const auto s = situation(sheet, v1::Basis::held);
    ASSERT_EQ(s.scene.transmitters.size(), s.transmitters.size());
    ASSERT_EQ(s.scene.receivers.size(), s.receivers.size());
    for (std::size_t t = 0; t < s.transmitters.size(); ++t)
        EXPECT_NEAR(spectrum::mhz(s.scene.transmitters[t].frequency),
                    s.transmitters[t].channel.mhz(), rounding);
    const auto hears = receiver(s, "Ann").hears;
    ASSERT_TRUE(hears);
    EXPECT_EQ(s.transmitters[*hears].name, "Ann");
}

TEST(Situation, LetsAircraftFlyInTheirArea) {
    const auto sheet = three_stages();
    const auto s = situation(sheet, v1::Basis::held);
    EXPECT_EQ(std::get<Envelope>(transmitter(s, "Ann").at), (Envelope{6, 80, 50, 3, 40}));
    EXPECT_NEAR(transmitter(s, "Ann").power.count(), 13.979, 0.001);
}

// docs/model.md, section 13: a fixed transmitter 1 m high, at its bench power, nobody knows how it
// looks; and no picture for its own pilot.
TEST(Situation, PutsWhatIsOnTheBenchThere) {
    const auto at = [](const std::string& bench) {
        const auto sheet = three_stages(bench);
        const auto s = situation(sheet, v1::Basis::held);
        EXPECT_TRUE(transmitter(s, "Cem").antenna.turns);
        EXPECT_FALSE(receiver(s, "Cem").hears);
        return std::get<Point>(transmitter(s, "Cem").at);
    };
    EXPECT_EQ(at("bench_place = \"pits\""), (Point{0, -30, 1}));
    EXPECT_EQ(at(""), (Point{8, 0, 1}));
}

TEST(Situation, GivesTheBenchPitModeOrTheLowestStep) {
    const auto power = [](const std::string& pit_mode) {
        const auto sheet = three_stages("", pit_mode);
        return transmitter(situation(sheet, v1::Basis::held), "Cem").power.count();
    };
    EXPECT_NEAR(power(""), 13.979, 0.001);  // 25 of 25 and 200 mW, though it claims 200
    EXPECT_NEAR(power("bench_power_mw = 0.1"), -10, 0.001);
    EXPECT_NEAR(power("bench_power_dbm = -3"), -3, 0.001);
}

TEST(Situation, HearsNothingOnAChannelItCannotTune) {
    const auto hears = [](const std::string& channels) {
        const auto sheet =
            sheet_of(field_text() + text_of(PilotText{.name = "Ann", .more_goggles = channels}));
        const auto s = situation(sheet, v1::Basis::held);
        EXPECT_EQ(s.receivers[0].can_tune, receiver(s, "Ann").hears.has_value());
        return receiver(s, "Ann").hears.has_value();
    };
    EXPECT_TRUE(hears(""));
    EXPECT_TRUE(hears("channels = [\"R1-R8\"]"));
    EXPECT_TRUE(hears("channels = [5658]"));  // R1 by its frequency
    EXPECT_FALSE(hears("channels = [\"F1-F8\", 5659]"));
}

// A receiver of the library shows its own kind of picture.
TEST(Situation, HearsNothingOfAKindThatItCannotShow) {
    const auto hears = [](const std::string& emission) {
        const auto sheet =
            sheet_of(field_text() + testing::changed(text_of(PilotText{.name = "Ann"}),
                                                     "emission = \"fm-video\"",
                                                     "emission = \"" + emission + "\""));
        const auto s = situation(sheet, v1::Basis::held);
        EXPECT_EQ(s.receivers[0].can_show, receiver(s, "Ann").hears.has_value());
        return receiver(s, "Ann").hears.has_value();
    };
    EXPECT_TRUE(hears("fm-video"));
    EXPECT_TRUE(hears("fm-video-wide"));
    EXPECT_FALSE(hears("ofdm-20"));
}

TEST(Situation, TakesABodyFromTheFile) {
    const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{
            .name = "Ben", .place = "line-2", .channel = "R4", .more_goggles = "body_db = 7.5"}));
    const auto s = situation(sheet, v1::Basis::held);
    EXPECT_EQ(receiver(s, "Ann").body.count(), 0);
    EXPECT_EQ(receiver(s, "Ben").body.count(), 7.5);
}

// --- where directional antennas look

const std::string patch = "\nantenna = \"circular-patch\"";

v1::DaySheet ann_with_a_patch(const std::string& facing) {
    auto text = text_of(PilotText{.name = "Ann", .place = "pits", .more_goggles = facing});
    return sheet_of(field_text() + testing::changed(text,
                                                    "\"fm-video-5g8\"\nantenna = \"circular-omni\"",
                                                    "\"fm-video-5g8\"" + patch));
}

// From (0, -30, 1.2) to the middle of the circuit at (6, 80, 21.5).
TEST(Situation, TurnsAPatchToTheMiddleOfTheArea) {
    const auto sheet = ann_with_a_patch("");
    const auto antenna = receiver(situation(sheet, v1::Basis::held), "Ann").antenna;
    const double degrees = 180 / std::acos(-1.0);
    EXPECT_NEAR(antenna.azimuth.count(), std::atan2(6, 110) * degrees, 1e-9);
    EXPECT_NEAR(antenna.elevation.count(), std::atan2(20.3, std::hypot(6, 110)) * degrees, 1e-9);
    EXPECT_FALSE(antenna.turns);
}

TEST(Situation, LeavesAPatchWhereItWasPut) {
    const auto both = ann_with_a_patch("facing_deg = 200\ntilt_deg = -3");
    const auto antenna = receiver(situation(both, v1::Basis::held), "Ann").antenna;
    EXPECT_EQ(antenna.azimuth, spectrum::Degrees(200));
    EXPECT_EQ(antenna.elevation, spectrum::Degrees(-3));
    const auto worn = ann_with_a_patch("facing = \"aircraft\"");
    EXPECT_TRUE(receiver(situation(worn, v1::Basis::held), "Ann").antenna.turns);
}

TEST(Situation, LeavesAnOmnidirectionalAntennaUpright) {
    const auto sheet = three_stages();
    const auto antenna = receiver(situation(sheet, v1::Basis::held), "Ann").antenna;
    EXPECT_EQ(antenna.azimuth, spectrum::Degrees(0));
    EXPECT_EQ(antenna.elevation, spectrum::Degrees(0));
}

/// Dee sits in the chair and hears a relay 22 m to the east of it, both with patches.
v1::DaySheet relay_with_patches() {
    const auto with_patch = [](const std::string& text) {
        return testing::changed(
            text, "antenna = \"circular-omni\"\npolarisation = \"rhcp\"\n\n[pilot.claim]",
            "antenna = \"circular-patch\"\npolarisation = \"rhcp\"\n\n[pilot.claim]");
    };
    auto relay = text_of(RelayText{.name = "mast", .owner = "Dee"});
    relay = testing::changed(relay, "circular-omni", "circular-patch");
    return sheet_of(
        field_text() +
        with_patch(text_of(PilotText{.name = "Dee", .place = "chair", .area = "valley"})) + relay);
}

TEST(Situation, TurnsARelayAndItsGogglesToEachOther) {
    const auto sheet = relay_with_patches();
    const auto s = situation(sheet, v1::Basis::held);
    EXPECT_NEAR(transmitter(s, "mast").antenna.azimuth.count(), -90, 1e-9);
    EXPECT_NEAR(receiver(s, "Dee").antenna.azimuth.count(), 90, 1e-9);
    EXPECT_GT(receiver(s, "Dee").antenna.elevation.count(), 0);
    EXPECT_LT(transmitter(s, "mast").antenna.elevation.count(), 0);
    EXPECT_EQ(std::get<Point>(transmitter(s, "mast").at), (Point{-10, 0, 2.5}));
    EXPECT_EQ(s.transmitters[s.transmitter("mast").value()].owner, "Dee");
    EXPECT_EQ(s.transmitters[s.transmitter("mast").value()].source, Source::relay);
}

}  // namespace
}  // namespace fieldpeg::day
