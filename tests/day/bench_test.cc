#include "server/day/check.h"
#include "server/spectrum/relay_window.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <string>

/// What `check` says of those who power up on the bench.
namespace fieldpeg::day {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;

/// Ann flies on R1; Cem powers up behind her, `channel` and `bench_mw` as given.
v1::DaySheet somebody_powers_up(const std::string& channel, const std::string& bench_mw,
                                const std::string& bench = "line-2") {
    return sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{.name = "Cem",
                          .place = "line-4",
                          .channel = channel,
                          .stage = "on_bench = true",
                          .more = "bench_place = \"" + bench + "\"",
                          .more_video = "power_mw = [25]\nbench_power_mw = " + bench_mw}));
}

bool ann_has_a_picture(const v1::DaySheet& sheet) {
    const auto reply = check(sheet, v1::Basis::held, 0);
    return reply.pilots(0).margin_ref_db() >= 0;
}

TEST(Bench, IsSaidToHarmWhomItHarms) {
    const auto sheet = somebody_powers_up("R2", "25");
    const auto reply = check(sheet, v1::Basis::held, 0);
    ASSERT_FALSE(ann_has_a_picture(sheet));
    ASSERT_EQ(reply.bench_size(), 1);
    const auto& advice = reply.bench(0);
    EXPECT_EQ(advice.transmitter(), "Cem");
    EXPECT_EQ(advice.harms_owner(), "Ann");
    EXPECT_EQ(advice.harms_receiver(), "goggles");
    EXPECT_NEAR(advice.power_dbm(), 13.979, 0.001);
    EXPECT_NE(advice.text().find("pit mode of at most"), std::string::npos) << advice.text();
    EXPECT_NE(advice.text().find("steps)"), std::string::npos) << advice.text();
}

TEST(Bench, IsSaidNothingOfWhereItHarmsNobody) {
    EXPECT_TRUE(check(somebody_powers_up("R8", "0.1", "pits"), v1::Basis::held, 0).bench().empty());
}

// Taking the advice helps: the power, or the distance.
TEST(Bench, AdviceLeavesEverybodyThePicture) {
    auto sheet = somebody_powers_up("R2", "25");
    const auto advice = check(sheet, v1::Basis::held, 0).bench(0);
    ASSERT_TRUE(advice.has_power_max_dbm() && advice.has_step_back_m());

    auto* video = sheet.mutable_pilots(1)->mutable_video();
    video->set_bench_power_dbm(advice.power_max_dbm() - 0.001);  // the reply is rounded to that
    EXPECT_TRUE(ann_has_a_picture(sheet));
    EXPECT_TRUE(check(sheet, v1::Basis::held, 0).bench().empty());
    video->set_bench_power_dbm(advice.power_max_dbm() + 1);
    EXPECT_FALSE(ann_has_a_picture(sheet));

    video->set_bench_power_dbm(advice.power_dbm());
    auto* bench = sheet.mutable_field()->mutable_places(1);
    ASSERT_EQ(bench->name(), "line-2");
    bench->set_east_m(bench->east_m() + advice.step_back_m());  // Ann stands at the origin
    EXPECT_TRUE(ann_has_a_picture(sheet));
    EXPECT_TRUE(check(sheet, v1::Basis::held, 0).bench().empty());
    bench->set_east_m(bench->east_m() - 1);
    EXPECT_FALSE(ann_has_a_picture(sheet));
}

// 0.1 mW pit mode is harmless at 37 MHz and still fatal on the same channel (docs/model.md, 13).
TEST(Bench, InPitModeIsHarmlessBesideAndFatalOnTheSameChannel) {
    EXPECT_TRUE(ann_has_a_picture(somebody_powers_up("R2", "0.1")));
    EXPECT_FALSE(ann_has_a_picture(somebody_powers_up("R1", "0.1")));
}

}  // namespace
}  // namespace fieldpeg::day
