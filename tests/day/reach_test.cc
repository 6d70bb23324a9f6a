#include "server/day/reach.h"

#include "server/day/assessment.h"
#include "server/spectrum/reach.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

/// Dee flies the valley on 1.3 GHz, received on a mast by an omnidirectional antenna and a panel.
std::string with_mast(const std::string& relay_mw = "25") {
    auto dee = text_of(PilotText{
        .name = "Dee", .place = "chair", .channel = "1280", .power_mw = "800", .area = "valley"});
    dee = changed(dee, "circular-omni\"\npolarisation = \"rhcp\"", "vertical-omni-1g3\"");
    const std::string hop =
        "[[relay.receiver]]\nname = \"omni\"\nreceiver = \"fm-video-1g3\"\n"
        "antenna = \"vertical-omni-1g3\"\n"
        "[[relay.receiver]]\nname = \"panel\"\nreceiver = \"fm-video-1g3\"\n"
        "antenna = \"wide-panel\"\n";
    return field_text() + dee +
           text_of(RelayText{.name = "mast", .owner = "Dee", .power_mw = relay_mw, .tables = hop});
}

v1::ReachReply reach_of(const v1::DaySheet& sheet, const std::string& pilot_name = "Dee") {
    const auto* of = &*std::ranges::find(sheet.pilots(), pilot_name, &v1::Pilot::name);
    return reach(sheet, *of, v1::Basis::held).value();
}

bool says(const v1::ReachReply& reply, const std::string& words) {
    return std::ranges::any_of(
        reply.said(), [&](const auto& text) { return text.find(words) != std::string::npos; });
}

// Just inside the end of a stretch there is a picture, just outside there is none: by the margin
// from that one place.
TEST(Reach, EndsWhereThePictureDoes) {
    const auto sheet = sheet_of(with_mast());
    const auto reply = reach_of(sheet);
    const Assessment a(sheet, v1::Basis::held);
    const auto t = *a.situation().transmitter("Dee");
    const auto& scene = a.situation().scene;
    ASSERT_EQ(reply.receivers_size(), 2);
    for (const auto& r : reply.receivers()) {
        EXPECT_EQ(r.by_bearing_size(), 8);
        const auto v = static_cast<std::size_t>(
            std::ranges::find_if(a.situation().receivers,
                                 [&](const auto& of) { return of.name == r.receiver(); }) -
            a.situation().receivers.begin());
        const auto margin_at = [&](const v1::ReachLine& l, double metres, double share) {
            const double angle = l.azimuth_deg() * std::numbers::pi / 180;
            const auto& at = scene.receivers[v].at;
            return spectrum::margin_from({at.x_m + metres * std::sin(angle),
                                          at.y_m + metres * std::cos(angle), l.height_m()},
                                         scene.transmitters[t], scene.receivers[v], *a.reception(v),
                                         share, spectrum::Air::alone)
                .count();
        };
        for (const auto& l : r.by_height()) {
            ASSERT_TRUE(l.has_good_alone() && l.has_usable_alone());
            EXPECT_GE(margin_at(l, 0.99 * l.good_alone().to_m(), 0.98), 0);
            EXPECT_LT(margin_at(l, 1.02 * l.good_alone().to_m(), 0.98), 0);
            EXPECT_GE(margin_at(l, 0.99 * l.usable_alone().to_m(), 0.80), 0);
            EXPECT_LT(margin_at(l, 1.02 * l.usable_alone().to_m(), 0.80), 0);
            EXPECT_LT(l.good_alone().to_m(), l.usable_alone().to_m());
        }
    }
}

// A panel about 165 degrees wide and narrow in elevation carries farther ahead than an
// omnidirectional antenna, and looks past what is near and high (common practice, no published
// source).
TEST(Reach, TellsThePanelFromTheOmni) {
    const auto reply = reach_of(sheet_of(with_mast()));
    EXPECT_TRUE(says(reply, "mast, panel carries farthest"));
    EXPECT_TRUE(says(reply, "climbing with distance helps"));
    const auto behind = [&](int receiver) {
        double least = 1e9;
        for (const auto& l : reply.receivers(receiver).by_bearing())
            least = std::min(least, l.usable_alone().to_m());
        return least;
    };
    EXPECT_LT(behind(1), behind(0));
}

TEST(Reach, SaysWhereTheRelaysOwnHopIsTheLimit) {
    EXPECT_FALSE(says(reach_of(sheet_of(with_mast())), "however well"));
    EXPECT_TRUE(says(reach_of(sheet_of(with_mast("0.001"))), "however well the aircraft is heard"));
}

TEST(Reach, IsLessWithSomebodyOnTheSameChannel) {
    const auto sheet =
        sheet_of(field_text() + text_of(PilotText{.name = "Ann"}) +
                 text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R1"}));
    const auto reply = reach_of(sheet, "Ann");
    for (const auto& l : reply.receivers(0).by_bearing()) {
        ASSERT_TRUE(l.has_usable_alone());
        EXPECT_LT(l.usable().to_m(), l.usable_alone().to_m() / 2);
    }
}

TEST(Reach, IsRefusedWhereNothingFlies) {
    auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .stage = ""}));
    EXPECT_EQ(reach(sheet, sheet.pilots(0), v1::Basis::on_air).error().why, "is not on the air");
    sheet.mutable_pilots(0)->mutable_claim()->set_stage(v1::Claim::bench);
    EXPECT_EQ(reach(sheet, sheet.pilots(0), v1::Basis::held).error().why, "stands on the bench");
    sheet.mutable_pilots(0)->clear_claim();
    EXPECT_EQ(reach(sheet, sheet.pilots(0), v1::Basis::held).error().why, "holds no channel");
}

TEST(Reach, WritesDirectionsAndDistancesAsTheyAreSaid) {
    EXPECT_EQ(compass_text(0), "north");
    EXPECT_EQ(compass_text(-40), "north-west");
    EXPECT_EQ(compass_text(359), "north");
    EXPECT_EQ(compass_text(100), "east");
    EXPECT_EQ(distance_text(377), "377 m");
    EXPECT_EQ(distance_text(8'200), "8.2 km");
    EXPECT_EQ(distance_text(23'600), "24 km");
    EXPECT_EQ(distance_text(100'000), "100 km or more");
}

}  // namespace
}  // namespace fieldpeg::day
