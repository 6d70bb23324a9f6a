#include "server/day/find.h"
#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

/// Who has to be silent so that one that is down is heard. People and places are invented; that a
/// lost model is found by walking its own receiver towards it is common practice, no published
/// source.
namespace fieldpeg::day {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;

v1::DaySheet day_of(const std::string& ben_on, double mika_dbm = 13.98) {
    auto sheet = sheet_of(
        field_text() +
        text_of(PilotText{.name = "Mika", .place = "line-1", .channel = "R3"}) +
        text_of(PilotText{
            .name = "Ben", .place = "line-2", .channel = ben_on, .stage = "on_air = true"}));
    sheet.mutable_pilots(0)->mutable_claim()->set_stage(v1::Claim::down);
    sheet.mutable_pilots(0)->mutable_claim()->set_lies("tall grass");
    sheet.mutable_pilots(0)->mutable_claim()->set_power_dbm(mika_dbm);
    std::uint32_t last_id = 0;
    return with_ids(sheet, last_id);
}

v1::FindReply found(const v1::DaySheet& sheet) {
    return find(sheet, sheet.pilots(0)).value();
}

TEST(Find, AsksForSilenceOnItsOwnChannel) {
    const auto reply = found(day_of("R3"));
    ASSERT_EQ(reply.silent_size(), 1);
    EXPECT_EQ(reply.silent(0), "Ben");
    EXPECT_LT(reply.above_db(), 3);
    EXPECT_TRUE(reply.is_heard());
    EXPECT_EQ(reply.lies(), "tall grass");
    EXPECT_EQ(reply.flies_there(0), "Ben");
}

TEST(Find, AsksOnlyThoseForSilenceWhoDrownIt) {
    auto sheet = day_of("R3");
    auto& dora = *sheet.add_pilots() = sheet.pilots(1);
    dora.set_name("Dora");
    dora.set_id(9);
    dora.mutable_claim()->mutable_channel()->set_name("F8");
    dora.mutable_claim()->mutable_channel()->set_mhz(5880);
    const auto reply = found(sheet);
    ASSERT_EQ(reply.silent_size(), 1);
    EXPECT_EQ(reply.silent(0), "Ben");
}

TEST(Find, LetsThoseFarOffOnTheDialGoOn) {
    const auto reply = found(day_of("F8"));
    EXPECT_EQ(reply.silent_size(), 0);
    EXPECT_EQ(reply.above_db(), reply.above_silent_db());
}

// What is silenced is as if it had never been switched on: the same level is left [closed form].
TEST(Find, WithThemSilentIsAsWithThemAway) {
    auto away = day_of("R3");
    away.mutable_pilots()->DeleteSubrange(1, 1);
    EXPECT_NEAR(found(day_of("R3")).above_silent_db(), found(away).above_db(), 0.001);
}

// Over noise alone ten times the power is 10 dB more [closed form].
TEST(Find, OverNoiseGrowsAsThePowerDoes) {
    auto weak = day_of("R3", 0), strong = day_of("R3", 10);
    for (auto* sheet : {&weak, &strong}) sheet->mutable_pilots()->DeleteSubrange(1, 1);
    EXPECT_NEAR(found(strong).above_db() - found(weak).above_db(), 10, 0.001);
}

TEST(Find, SaysWhereItIsTooWeak) {
    const auto reply = found(day_of("F8", -60));
    EXPECT_FALSE(reply.is_heard());
    EXPECT_EQ(reply.silent_size(), 0);  // it would help nobody
}

TEST(Find, IsForWhoIsDown) {
    auto sheet = day_of("R3");
    sheet.mutable_pilots(0)->mutable_claim()->set_stage(v1::Claim::on_air);
    EXPECT_FALSE(find(sheet, sheet.pilots(0)));
    sheet = day_of("R3");
    sheet.mutable_pilots(0)->clear_receivers();
    EXPECT_FALSE(find(sheet, sheet.pilots(0)));
}

}  // namespace
}  // namespace fieldpeg::day
