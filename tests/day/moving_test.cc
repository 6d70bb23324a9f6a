#include "server/day/check.h"
#include "tests/day/course.h"
#include "tests/support/control.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <string>
#include <tuple>
#include <vector>

/// Transmitters that move among their channels as they like. A second method: the same day once for
/// each of those channels, with the transmitter staying there; a pilot gets the worst of these.
namespace fieldpeg::day {
namespace {

using testing::chance;
using testing::changed;
using testing::channel;
using testing::claims;
using testing::Course;
using testing::field_text;
using testing::for_all;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::steered;
using testing::text_of;
using testing::unclaimed;
using testing::whole;

constexpr double mw25_dbm = 13.979400086720376;

v1::CheckReply checked(const v1::DaySheet& sheet) {
    return check(sheet, v1::Basis::held, 100);
}
const v1::PilotResult& pilot(const v1::CheckReply& reply, std::string_view name) {
    return *std::ranges::find(reply.pilots(), name, &v1::PilotResult::pilot);
}

/// In order of seriousness, as spectrum::Verdict has them.
int rank(v1::Verdict::Word word) {
    constexpr v1::Verdict::Word order[] = {
        v1::Verdict::steady, v1::Verdict::tight,   v1::Verdict::patchy, v1::Verdict::too_close,
        v1::Verdict::shaky,  v1::Verdict::too_far, v1::Verdict::clash,  v1::Verdict::no_picture};
    return static_cast<int>(std::ranges::find(order, word) - std::begin(order));
}

/// How bad it is for a pilot: control first, then the word, then the margin.
std::tuple<bool, int, double> badness(const v1::PilotResult& r) {
    return {r.verdict() == v1::Verdict::control_at_risk, rank(r.picture_verdict()),
            -r.margin_ref_db()};
}

v1::Transmitter* gear(v1::DaySheet& sheet, const std::string& name) {
    for (auto& p : *sheet.mutable_pilots())
        if (p.name() == name) return p.mutable_video();
    for (auto& r : *sheet.mutable_relays())
        if (r.name() == name) return r.mutable_transmitter();
    return nullptr;
}
v1::Claim* claim(v1::DaySheet& sheet, const std::string& name) {
    for (auto& p : *sheet.mutable_pilots())
        if (p.name() == name) return p.mutable_claim();
    for (auto& r : *sheet.mutable_relays())
        if (r.name() == name) return r.mutable_claim();
    return nullptr;
}

/// The days that a day with movers may be: at home, and one of them elsewhere.
std::vector<v1::DaySheet> days_of(v1::DaySheet sheet, const std::vector<std::string>& movers) {
    auto home = sheet;
    for (const auto& name : movers) gear(home, name)->set_moves_by_itself(false);
    std::vector<v1::DaySheet> all = {home};
    for (const auto& name : movers)
        for (const auto& at : gear(home, name)->channels()) {
            all.push_back(home);
            *claim(all.back(), name)->mutable_channel() = at;
        }
    return all;
}

void expect_worst_of_all(const v1::DaySheet& sheet, const std::vector<std::string>& movers) {
    const auto moving = checked(sheet);
    std::vector<v1::CheckReply> still;
    for (const auto& day : days_of(sheet, movers)) still.push_back(checked(day));
    for (const auto& r : moving.pilots()) {
        const auto worst = std::ranges::max_element(
            still, {}, [&](const auto& reply) { return badness(pilot(reply, r.pilot())); });
        const auto& expected = pilot(*worst, r.pilot());
        EXPECT_EQ(r.verdict(), expected.verdict()) << r.pilot();
        EXPECT_EQ(r.picture_verdict(), expected.picture_verdict()) << r.pilot();
        EXPECT_NEAR(r.margin_ref_db(), expected.margin_ref_db(), 0.0011) << r.pilot();
        EXPECT_EQ(r.has_outlook(), expected.has_outlook()) << r.pilot();
        EXPECT_NEAR(r.outlook().margin_low_db(), expected.outlook().margin_low_db(), 0.0011);
    }
}

const std::string moves = "moves_by_itself = true\nchannels = [\"R1\", \"R4\", \"R8\"]\n";

v1::DaySheet ann_beside_a_mover(const std::string& on, const std::string& ann_on = "R8") {
    return sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = ann_on}) +
        text_of(PilotText{.name = "Mo", .place = "line-2", .channel = on, .more_video = moves}));
}

TEST(Mover, IsReckonedWithOnTheWorstOfItsChannelsForANeighbour) {
    EXPECT_EQ(pilot(checked(days_of(ann_beside_a_mover("R1"), {"Mo"}).front()), "Ann").verdict(),
              v1::Verdict::steady);
    const auto reply = checked(ann_beside_a_mover("R1"));
    EXPECT_EQ(pilot(reply, "Ann").verdict(), v1::Verdict::clash);
    EXPECT_NE(pilot(reply, "Ann").reason().find("Mo"), std::string::npos)
        << pilot(reply, "Ann").reason();
}

TEST(Mover, IsJudgedItselfOnTheWorstOfItsChannels) {
    EXPECT_EQ(pilot(checked(ann_beside_a_mover("R1")), "Mo").verdict(), v1::Verdict::clash);
}

TEST(Mover, IsTheSameWhereverItIsAtTheMoment) {
    const auto at_r1 = checked(ann_beside_a_mover("R1")), at_r4 = checked(ann_beside_a_mover("R4"));
    for (const auto* name : {"Ann", "Mo"}) {
        EXPECT_EQ(pilot(at_r1, name).verdict(), pilot(at_r4, name).verdict());
        EXPECT_NEAR(pilot(at_r1, name).margin_ref_db(), pilot(at_r4, name).margin_ref_db(), 0.0011);
    }
}

TEST(Mover, HarmsNobodyOnChannelsWhereItNeverGoes) {
    // 187, 76 and 72 MHz from its channels
    EXPECT_NE(pilot(checked(ann_beside_a_mover("R1", "5845")), "Ann").verdict(),
              v1::Verdict::clash);
}

TEST(Mover, ShowsItsNeighboursReceiverWhereItDoesMostHarm) {
    const auto reply = checked(ann_beside_a_mover("R1"));
    const auto& goggles = *std::ranges::find(reply.receivers(), "Ann", &v1::ReceiverResult::owner);
    ASSERT_FALSE(goggles.contributions().empty());
    EXPECT_EQ(goggles.contributions(0).kind(), v1::Contribution::co_channel);
    EXPECT_EQ(goggles.contributions(0).from(0), "Mo");
}

TEST(Mover, OfARelayIsTheWorstOfAllToo) {
    const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "F4"}) +
                                unclaimed(PilotText{.name = "Dee", .place = "chair"}) +
                                text_of(RelayText{.name = "mast",
                                                  .owner = "Dee",
                                                  .channel = "R8",
                                                  .more = "moves_by_itself = true\n"
                                                          "channels = [\"R8\", \"F4\"]\n"}));
    EXPECT_EQ(pilot(checked(sheet), "Ann").verdict(), v1::Verdict::clash);
    expect_worst_of_all(sheet, {"mast"});
}

// 1.2 GHz video at high power and control on 2.4 GHz do not go together [common practice, no
// published source]: 2 x 1220 is 2440. On its other channel Ann takes the picture, and control
// comes before pictures.
TEST(Mover, TakesControlIfOneOfItsChannelsDoes) {
    const auto lower = [](const PilotText& p) {
        return changed(text_of(p), "fm-video-5g8", "fm-video-1g3");
    };
    for (const auto* at : {"1220", "1290"}) {
        const auto sheet =
            sheet_of(field_text() + lower({.name = "Ann", .place = "line-2", .channel = "1290"}) +
                     lower({.name = "Mo",
                            .channel = at,
                            .power_mw = "800",
                            .more_video = "moves_by_itself = true\nchannels = [1220, 1290]\n"}) +
                     std::string(steered));
        const auto days = days_of(sheet, {"Mo"});
        EXPECT_EQ(pilot(checked(days[1]), "Mo").picture_verdict(), v1::Verdict::steady);
        EXPECT_EQ(pilot(checked(days[2]), "Mo").verdict(), v1::Verdict::clash);
        EXPECT_EQ(pilot(checked(sheet), "Mo").verdict(), v1::Verdict::control_at_risk) << at;
        expect_worst_of_all(sheet, {"Mo"});
    }
}

// Gains are those of the band it goes to: 20 log10(5732 / 2440) = 7.4 dB more on the lower.
TEST(Mover, GoesFromBandToBandWithTheGainsOfEach) {
    for (const auto* at : {"5732", "2440"}) {
        const auto sheet = sheet_of(field_text() +
                                    changed(text_of(PilotText{.name = "Ann", .channel = "2470"}),
                                            "fm-video-5g8", "fm-video-2g4") +
                                    text_of(PilotText{.name = "Mo",
                                                      .place = "line-2",
                                                      .channel = at,
                                                      .more_video = "moves_by_itself = true\n"
                                                                    "channels = [5732, 2440]\n"}));
        expect_worst_of_all(sheet, {"Mo"});
    }
}

TEST(Mover, IsTheWorstOfAllItsChannelsWhateverTheDay) {
    for_all(25, [](std::mt19937_64& rng) {
        std::string text = field_text();
        std::vector<std::string> movers;
        const int pilots = whole(rng, 2, 4);
        for (int i = 0; i < pilots; ++i) {
            PilotText p{.name = std::string(1, static_cast<char>('A' + i)) + "nn",
                        .place = fmt::format("line-{}", i + 1),
                        .channel = fmt::format("R{}", whole(rng, 1, 8)),
                        .power_mw = one_of(rng, {"25", "200"})};
            if (chance(rng, 50)) {
                p.more_video = fmt::format(
                    "moves_by_itself = true\nchannels = [\"{}\", \"F{}\", \"R{}\"]\n", p.channel,
                    whole(rng, 1, 8), 1 + (p.channel[1] - '0' + whole(rng, 0, 6)) % 8);
                movers.push_back(p.name);
            }
            text += text_of(p);
            if (chance(rng, 30)) text += steered;
        }
        expect_worst_of_all(sheet_of(text), movers);
    });
}

TEST(Mover, IsNotGivenAChannelOfItsOwnToHarmANeighbour) {
    Course course(field_text() + text_of(PilotText{.name = "Ann", .channel = "R8"}) +
                  unclaimed(PilotText{.name = "Mo", .place = "line-2", .more_video = moves}));
    const auto reply = course.send(claims("Mo", channel("R1", 5658), mw25_dbm)).claim();
    EXPECT_FALSE(reply.claimed());
    ASSERT_EQ(reply.harms_size(), 1);
    EXPECT_EQ(reply.harms(0).pilot(), "Ann");
}

TEST(Mover, WithOneChannelHasNowhereToGo) {
    EXPECT_THROW(sheet_of(field_text() + text_of(PilotText{.name = "Mo",
                                                           .more_video = "moves_by_itself = true\n"
                                                                         "channels = [\"R1\"]\n"})),
                 std::logic_error);
}

}  // namespace
}  // namespace fieldpeg::day
