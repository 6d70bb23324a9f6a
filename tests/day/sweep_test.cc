#include "server/day/sweep.h"

#include "server/day/check.h"
#include "server/day/scene.h"
#include "tests/day/course.h"
#include "tests/support/control.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/ranges.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>

/// A measured spectrum beside what is claimed. What stands out of a floor, and by how much, is
/// common practice, no published source; the levels are worked by hand.
namespace fieldpeg::day {
namespace {

using testing::between;
using testing::changed;
using testing::Course;
using testing::field_text;
using testing::for_all;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;
using testing::whole;

/// -100 dBm a MHz from 5600 to 6000 MHz.
v1::Sweep quiet(double start_mhz = 5600, int steps = 401, float level_dbm = -100) {
    v1::Sweep sweep;
    sweep.set_start_mhz(start_mhz);
    sweep.set_step_mhz(1);
    sweep.set_resolution_mhz(1);
    for (int i = 0; i < steps; ++i) sweep.add_level_dbm(level_dbm);
    return sweep;
}
/// Something `half_mhz` to both sides of `mhz`.
v1::Sweep with(v1::Sweep sweep, double mhz, float level_dbm, int half_mhz = 4) {
    const int middle = static_cast<int>(std::lround((mhz - sweep.start_mhz()) / sweep.step_mhz()));
    for (int i = middle - half_mhz; i <= middle + half_mhz; ++i) sweep.set_level_dbm(i, level_dbm);
    return sweep;
}

std::string ann_and_ben() {
    return field_text() + text_of(PilotText{.name = "Ann", .channel = "R3"}) +
           text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R8"});
}

v1::EnterSweep entered(const v1::Sweep& sweep, bool use_floor = false, bool only_try = false) {
    v1::EnterSweep asked;
    *asked.mutable_sweep() = sweep;
    asked.set_use_floor(use_floor);
    asked.set_only_try(only_try);
    return asked;
}

bool said(const v1::SweepReply& reply, std::string_view phrase) {
    return std::ranges::any_of(reply.said(), [&](const std::string& text) {
        return text.find(phrase) != std::string::npos;
    });
}

// --- what stands out

// 9 MHz of -70 dBm each: -70 + 10 log10 9 = -60.458 dBm.
TEST(Sweep, HasAHumpWithAllItsPower) {
    const auto reply = read_against(with(quiet(), 5700, -70), sheet_of(field_text()));
    ASSERT_EQ(reply.humps_size(), 1);
    EXPECT_NEAR(reply.humps(0).centre_mhz(), 5700, 0.001);
    EXPECT_EQ(reply.humps(0).low_mhz(), 5696);
    EXPECT_EQ(reply.humps(0).high_mhz(), 5704);
    EXPECT_NEAR(reply.humps(0).level_dbm(), -60.458, 0.001);
    EXPECT_EQ(reply.low_mhz(), 5600);
    EXPECT_EQ(reply.high_mhz(), 6000);
}

// A step that was measured in a quarter of its width counts four times: + 6.021 dB.
TEST(Sweep, ReckonsPowerByItsResolution) {
    auto narrow = with(quiet(), 5700, -70);
    narrow.set_resolution_mhz(0.25);
    EXPECT_NEAR(read_against(narrow, sheet_of(field_text())).humps(0).level_dbm(), -60.458 + 6.021,
                0.001);
}

// The centre is that of the power: 5700 and 5702 MHz, the second ten times as strong.
TEST(Sweep, HasTheCentreOfAHumpsPower) {
    const auto sweep = with(with(quiet(), 5700, -80, 0), 5702, -70, 0);
    const auto reply = read_against(sweep, sheet_of(field_text()));
    ASSERT_EQ(reply.humps_size(), 1);  // nearer than 3 MHz is one
    EXPECT_NEAR(reply.humps(0).centre_mhz(), (5700 + 10 * 5702) / 11.0, 0.001);
}

TEST(Sweep, CountsWhatStandsTenDecibelsOutOfItsFloor) {
    const auto humps = [](float level_dbm) {
        return read_against(with(quiet(), 5700, level_dbm), sheet_of(field_text())).humps_size();
    };
    EXPECT_EQ(humps(-90), 1);
    EXPECT_EQ(humps(-90.5F), 0);
    EXPECT_EQ(humps(-100), 0);
}

TEST(Sweep, HasHumpsStrongestFirst) {
    const auto sweep = with(with(with(quiet(), 5650, -80), 5750, -60), 5850, -70);
    const auto reply = read_against(sweep, sheet_of(field_text()));
    ASSERT_EQ(reply.humps_size(), 3);
    EXPECT_NEAR(reply.humps(0).centre_mhz(), 5750, 0.001);
    EXPECT_NEAR(reply.humps(1).centre_mhz(), 5850, 0.001);
    EXPECT_NEAR(reply.humps(2).centre_mhz(), 5650, 0.001);
}

// --- whose it is

TEST(Sweep, SaysWhatIsOnTheAirAndHeldByNobody) {
    const auto sweep =
        with(with(with(quiet(), 5732, -50), 5917, -50), 5820, -65);  // R3, R8, and something
    const auto reply = read_against(sweep, sheet_of(ann_and_ben()));
    ASSERT_EQ(reply.humps_size(), 3);
    int nobodys = 0;
    for (const auto& hump : reply.humps()) {
        if (hump.claimed_by().empty()) {
            ++nobodys;
            EXPECT_NEAR(hump.centre_mhz(), 5820, 0.001);
        } else {
            EXPECT_EQ(hump.claimed_by_size(), 1);
            EXPECT_EQ(hump.claimed_by(0), hump.centre_mhz() < 5800 ? "Ann" : "Ben");
        }
    }
    EXPECT_EQ(nobodys, 1);
    EXPECT_TRUE(said(reply, "something is on the air around 5820 MHz"));
    EXPECT_TRUE(reply.not_heard().empty());
}

TEST(Sweep, SaysWhoIsOnTheAirByTheLogAndNotHeard) {
    const auto reply = read_against(with(quiet(), 5732, -50), sheet_of(ann_and_ben()));
    ASSERT_EQ(reply.not_heard_size(), 1);
    EXPECT_EQ(reply.not_heard(0), "Ben");
    EXPECT_TRUE(said(reply, "Ben is on the air by the log and is not heard here"));
}

TEST(Sweep, SaysNothingOfWhoeverIsOffOrOutsideIt) {
    const auto off = field_text() + text_of(PilotText{.name = "Ann", .channel = "R3", .stage = ""});
    EXPECT_TRUE(read_against(quiet(), sheet_of(off)).not_heard().empty());
    EXPECT_TRUE(read_against(quiet(2400, 100), sheet_of(ann_and_ben())).not_heard().empty());
}

TEST(Sweep, ExpectsNoSteadySignalOfAHandset) {
    const auto day =
        field_text() + unclaimed(PilotText{.name = "Ann"}) + std::string(testing::steered);
    EXPECT_TRUE(read_against(quiet(2400, 100), sheet_of(day)).not_heard().empty());
}

TEST(Sweep, SaysThatAllIsWellWhereItIs) {
    const auto sweep = with(with(quiet(5600, 401, -108), 5732, -50), 5917, -50);
    const auto reply = read_against(sweep, sheet_of(ann_and_ben()));
    ASSERT_EQ(reply.said_size(), 1);
    EXPECT_TRUE(said(reply, "all that stands out is held by somebody"));
}

// --- the floor

// Below it lies a fifth: of 100 levels from -100 dBm up the 21st.
TEST(Sweep, HasItsFloorWhereAFifthOfItLies) {
    v1::Sweep sweep = quiet(5700, 100);
    for (int i = 0; i < 100; ++i) sweep.set_level_dbm(i, static_cast<float>(-100 + (i * 37) % 100));
    EXPECT_NEAR(floor_of(sweep).dbm_per_mhz(), -80, 0.001);
    EXPECT_EQ(floor_of(sweep).low_mhz(), 5700);
    EXPECT_EQ(floor_of(sweep).high_mhz(), 5799);
}

TEST(Sweep, HasItsFloorInOneMegahertz) {
    auto sweep = quiet();
    sweep.set_resolution_mhz(0.1);
    EXPECT_NEAR(floor_of(sweep).dbm_per_mhz(), -90, 0.001);
}

// k T0 is -113.975 dBm a MHz [SI-9: k]; the best receiver of the day there goes before.
TEST(Sweep, StandsBesideTheNoiseThatIsAssumed) {
    const auto sheet = sheet_of(ann_and_ben());
    const auto& profile =
        *std::ranges::find(sheet.receiver_profiles(), "fm-video-5g8", &v1::ReceiverProfile::name);
    const auto reply = read_against(quiet(), sheet);
    EXPECT_NEAR(reply.assumed_dbm_per_mhz(), -113.975 + profile.noise_figure_db(), 0.001);
    EXPECT_EQ(reply.floor_dbm_per_mhz(), -100);
    EXPECT_TRUE(said(reply, "the noise floor lies"));
    EXPECT_FALSE(read_against(quiet(2400, 50), sheet).has_assumed_dbm_per_mhz());
}

// --- letting it count

double noise_figure(const v1::DaySheet& sheet, std::string_view owner) {
    const auto s = situation(sheet, v1::Basis::held);
    for (std::size_t v = 0; v < s.receivers.size(); ++v)
        if (s.receivers[v].owner == owner)
            return s.scene.profiles[s.scene.receivers[v].profile].noise_figure.count();
    throw std::out_of_range(std::string(owner));
}

/// Ann on 5.8 GHz, Cleo on 1.3 GHz.
std::string two_bands() {
    return field_text() + text_of(PilotText{.name = "Ann", .channel = "R3"}) +
           changed(text_of(PilotText{.name = "Cleo", .place = "line-2", .channel = "1280"}),
                   "fm-video-5g8", "fm-video-1g3");
}

TEST(SweepFloor, RaisesTheNoiseOfReceiversThereAndOnlyOfThose) {
    Course course(two_bands());
    const double cleo = noise_figure(course.state().sheet(), "Cleo");
    const auto before = check(course.state().sheet(), v1::Basis::held, 0);
    const auto reply = course.send(entered(quiet(), true)).swept();
    EXPECT_TRUE(reply.entered());
    EXPECT_TRUE(reply.floor_used());
    EXPECT_NEAR(noise_figure(course.state().sheet(), "Ann"), -100 + 113.975, 0.001);
    EXPECT_EQ(noise_figure(course.state().sheet(), "Cleo"), cleo);
    const auto after = check(course.state().sheet(), v1::Basis::held, 0);
    EXPECT_LT(after.pilots(0).margin_ref_db(), before.pilots(0).margin_ref_db() - 3);
    EXPECT_EQ(after.pilots(1).margin_ref_db(), before.pilots(1).margin_ref_db());
}

TEST(SweepFloor, LowersNobodysNoise) {
    Course course(two_bands());
    const double before = noise_figure(course.state().sheet(), "Ann");
    course.send(entered(quiet(5600, 401, -125), true));
    EXPECT_EQ(noise_figure(course.state().sheet(), "Ann"), before);
}

TEST(SweepFloor, DoesNotCountUnlessSomebodySaysSo) {
    Course course(two_bands());
    const double before = noise_figure(course.state().sheet(), "Ann");
    const auto reply = course.send(entered(quiet())).swept();
    EXPECT_TRUE(reply.entered());
    EXPECT_FALSE(reply.floor_used());
    EXPECT_EQ(noise_figure(course.state().sheet(), "Ann"), before);
    EXPECT_TRUE(course.state().sheet().floors().empty());
}

TEST(SweepFloor, TakesThePlaceOfTheOneBefore) {
    Course course(two_bands());
    course.send(entered(quiet(5600, 401, -90), true));
    course.send(entered(quiet(1200, 100, -95), true));
    course.send(entered(quiet(5700, 401, -100), true));
    ASSERT_EQ(course.state().sheet().floors_size(), 2);
    EXPECT_NEAR(noise_figure(course.state().sheet(), "Ann"), -100 + 113.975, 0.001);
    EXPECT_NEAR(noise_figure(course.state().sheet(), "Cleo"), -95 + 113.975, 0.001);
}

TEST(SweepFloor, WarnsWhomItMakesWorseOff) {
    Course course(two_bands());
    course.send(entered(quiet(5600, 401, -70), true));
    ASSERT_GE(course.state().unacknowledged_size(), 1);
    for (const auto& warning : course.state().unacknowledged())
        EXPECT_EQ(warning.pilot(), holder(course.state().sheet(), "Ann")->id);
}

// --- who may

TEST(EnterSweep, LetsOnlyTheMarshalHaveAFloorCount) {
    Course course(two_bands());
    const auto ann = course.join("Ann");
    const auto before = course.events().size();
    for (const bool only_try : {false, true})
        EXPECT_TRUE(course.send(entered(quiet(), true, only_try), ann).has_refusal()) << only_try;
    EXPECT_EQ(course.events().size(), before);
    EXPECT_TRUE(course.send(entered(quiet()), ann).swept().entered());
    EXPECT_TRUE(course.state().sheet().floors().empty());
}

TEST(EnterSweep, IsNothingForOnlookers) {
    Course course(two_bands());
    const auto onlooker = course.join("Olga", v1::Role::onlooker);
    const auto before = course.events().size();
    EXPECT_TRUE(course.send(entered(quiet()), onlooker).has_refusal());
    EXPECT_EQ(course.events().size(), before);
}

TEST(EnterSweep, ChangesNothingIfItIsOnlyATry) {
    Course course(ann_and_ben());
    const auto state = course.state().SerializeAsString();
    const auto sweep = with(quiet(), 5820, -60);
    const auto tried = course.send(entered(sweep, true, true)).swept();
    EXPECT_FALSE(tried.entered());
    EXPECT_FALSE(tried.floor_used());
    EXPECT_EQ(course.state().SerializeAsString(), state);
    auto entered_reply = course.send(entered(sweep, true)).swept();
    entered_reply.set_entered(false);
    entered_reply.set_floor_used(false);
    EXPECT_EQ(entered_reply.SerializeAsString(), tried.SerializeAsString());
}

TEST(EnterSweep, LeavesTheLastOnTheDayWithItsTime) {
    Course course(ann_and_ben());
    course.send(entered(quiet()));
    auto second = with(quiet(), 5820, -60);
    second.set_note("at the line");
    course.send(entered(second));
    const auto& kept = course.state().sheet().sweep();
    EXPECT_EQ(kept.note(), "at the line");
    EXPECT_EQ(kept.at_ms(), course.now_ms());
    EXPECT_EQ(kept.level_dbm(220), -60);
}

TEST(EnterSweep, FoldsToTheSameStateAgain) {
    Course course(two_bands());
    course.send(entered(quiet(5600, 401, -90), true));
    course.send(entered(with(quiet(), 5820, -60)));
    course.send(entered(quiet(1200, 100, -95), true));
    v1::DayState folded;
    for (const auto& event : course.events()) apply(folded, event);
    EXPECT_EQ(folded.SerializeAsString(), course.state().SerializeAsString());
}

// --- whatever was measured

TEST(SweepProperty, HasHumpsThatLieInItAndHoldItsStrongest) {
    const auto sheet = sheet_of(ann_and_ben());
    for_all(200, [&](std::mt19937_64& rng) {
        v1::Sweep sweep = quiet(between(rng, 5000, 6000), whole(rng, 2, 600));
        sweep.set_step_mhz(between(rng, 0.01, 5));
        sweep.set_resolution_mhz(between(rng, 0.001, 5));
        for (auto& level : *sweep.mutable_level_dbm())
            level = static_cast<float>(between(rng, -130, testing::chance(rng, 5) ? 20 : -80));
        const auto reply = read_against(sweep, sheet);
        double before = 1000;
        for (const auto& hump : reply.humps()) {
            EXPECT_LE(hump.low_mhz(), hump.centre_mhz() + 0.001);
            EXPECT_LE(hump.centre_mhz(), hump.high_mhz() + 0.001);
            EXPECT_GE(hump.low_mhz(), reply.low_mhz());
            EXPECT_LE(hump.high_mhz(), reply.high_mhz());
            EXPECT_LE(hump.level_dbm(), before);
            before = hump.level_dbm();
        }
        const auto strongest = std::ranges::max_element(sweep.level_dbm());
        const auto floor = reply.floor_dbm_per_mhz() + 10 * std::log10(sweep.resolution_mhz());
        if (*strongest < floor + 10.01) return;
        const double at =
            sweep.start_mhz() +
            static_cast<double>(strongest - sweep.level_dbm().begin()) * sweep.step_mhz();
        EXPECT_TRUE(std::ranges::any_of(reply.humps(), [&](const v1::Hump& hump) {
            return hump.low_mhz() <= at + 0.001 && at <= hump.high_mhz() + 0.001;
        }));
    });
}

TEST(Sweep, KnowsThatWhoMovesByItselfMayBeElsewhere) {
    const auto day =
        field_text() +
        text_of(PilotText{.name = "Mo",
                          .channel = "R3",
                          .more_video = "moves_by_itself = true\nchannels = [\"R3\", \"R8\"]\n"});
    const auto reply = read_against(with(quiet(), 5917, -50), sheet_of(day));
    EXPECT_TRUE(reply.not_heard().empty());
    ASSERT_EQ(reply.humps_size(), 1);
    EXPECT_EQ(reply.humps(0).claimed_by_size(), 1);
}
TEST(Sweep, DoesNotExpectToHearWhoIsOnTheBench) {
    const auto day = field_text() +
                     text_of(PilotText{.name = "Ann", .channel = "R3", .stage = "on_bench = true"});
    EXPECT_TRUE(read_against(quiet(), sheet_of(day)).not_heard().empty());
}
TEST(SweepFloor, RaisesTheNoiseOfAControlReceiverThere) {
    Course course(field_text() + text_of(PilotText{.name = "Ann", .channel = "R3"}) +
                  std::string(testing::steered));
    course.send(entered(quiet(2400, 84, -40), true));
    const auto reply = check(course.state().sheet(), v1::Basis::held, 0);
    EXPECT_NE(reply.pilots(0).control().word(), v1::Control::ok);
}
TEST(SweepFloor, CountsWhereTwoReceiversOfOneProfileStand) {
    Course course(two_bands());
    course.send(entered(quiet(5600, 401, -90), true));
    const auto s = situation(course.state().sheet(), v1::Basis::held);
    EXPECT_EQ(s.scene.profiles.size(),
              static_cast<std::size_t>(course.state().sheet().receiver_profiles_size()) + 1);
}
TEST(Mover, HasItsCautionsOnEveryChannelItGoesTo) {
    const auto day = field_text() +
                     text_of(PilotText{.name = "Ann",
                                       .channel = "R3",
                                       .more = "positioning_receiver = \"satellite-l1-l2\"",
                                       .more_video = "moves_by_itself = true\nchannels = [\"R3\", "
                                                     "1280]\n"});
    const auto cautions = check(sheet_of(day), v1::Basis::held, 0).cautions();
    const auto said = [&](std::string_view part) {
        return std::ranges::count_if(
            cautions, [&](const auto& text) { return text.find(part) != text.npos; });
    };
    EXPECT_EQ(said("Ann moves by itself"), 1);
    EXPECT_EQ(said("Ann on 1280 MHz lies in the band of Ann's positioning receiver"), 1)
        << fmt::format("{}", fmt::join(cautions, "\n"));
    EXPECT_EQ(said("R3, 1280"), 1);
}

}  // namespace
}  // namespace fieldpeg::day
