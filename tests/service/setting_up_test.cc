#include "tests/support/days.h"
#include "tests/support/kept_day.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

/// A day that is set up while it goes on: its head, its places, where they are on a map.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::KeptDay;

v1::Command put(const std::string& toml) {
    v1::Command command;
    command.mutable_put()->set_toml(toml);
    command.mutable_put()->set_file("");
    return command;
}

class SettingUp : public ::testing::Test {
protected:
    v1::Reply enter(const std::string& toml) { return day_.take(put(toml)); }
    const v1::DaySheet& sheet() { return day_.keeper().state().sheet(); }
    bool has_place(const std::string& name) {
        return std::ranges::any_of(sheet().field().places(),
                                   [&](const auto& p) { return p.name() == name; });
    }

    KeptDay day_;
};

TEST_F(SettingUp, ChangesWhatIsWrittenOfTheHeadAndNothingElse) {
    auto expected = sheet();
    expected.set_name("Spring meet");
    expected.set_usual_minutes(5);
    ASSERT_TRUE(enter("[day]\nname = \"Spring meet\"\nusual_minutes = 5\n").has_done());
    EXPECT_EQ(sheet().SerializeAsString(), expected.SerializeAsString());
    expected.mutable_field()->set_name("Long meadow");
    expected.mutable_field()->set_latitude_deg(52.1);
    expected.mutable_field()->set_longitude_deg(-1.25);
    ASSERT_TRUE(enter("[field]\nname = \"Long meadow\"\norigin = [52.1, -1.25]\n").has_done());
    EXPECT_EQ(sheet().SerializeAsString(), expected.SerializeAsString());
    day_.reopen();
    EXPECT_EQ(sheet().SerializeAsString(), expected.SerializeAsString());
}

TEST_F(SettingUp, WritesNothingOfWhatIsSoAlready) {
    const auto version = day_.keeper().state().version();
    const auto reply = enter("[day]\nname = \"" + sheet().name() + "\"\n");
    EXPECT_TRUE(reply.has_done());
    EXPECT_EQ(day_.keeper().state().version(), version);
}

TEST_F(SettingUp, GivesBackWhatIsAboveANewLimitAndTakesTheLimitAway) {
    ASSERT_TRUE(day_.take(testing::claim("Ann", "R3", 23.01)).claim().claimed());
    const auto reply = enter("[day]\npower_limit_mw = 25\n");
    ASSERT_TRUE(reply.has_done());
    EXPECT_NE(reply.done().text().find("Ann"), std::string::npos) << reply.done().text();
    EXPECT_NEAR(sheet().power_limit_dbm(), 13.979, 0.001);  // 10 lg 25
    ASSERT_TRUE(enter("[day]\npower_limit_mw = \"none\"\n").has_done());
    EXPECT_FALSE(sheet().has_power_limit_dbm());
}

TEST_F(SettingUp, IsForTheMarshalAlone) {
    day_.enter(day_.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    for (const auto* toml : {"[day]\nname = \"Ann's day\"\n", "[field]\norigin = [1, 2]\n",
                             "[gone]\nplaces = [\"tripod\"]\n"}) {
        const auto reply = day_.take(put(toml), day_.actor('a'));
        EXPECT_EQ(reply.refusal().kind(), v1::Refusal::not_permitted) << toml;
    }
}

TEST_F(SettingUp, TakesAPlaceAwayUnlessSomebodyStandsThere) {
    ASSERT_TRUE(
        enter("[[field.place]]\nname = \"tree\"\nat_m = [50, 3]\nheight_m = 2\n").has_done());
    ASSERT_TRUE(has_place("tree"));
    ASSERT_TRUE(enter("[gone]\nplaces = [\"Tree\"]\n").has_done());
    EXPECT_FALSE(has_place("tree"));
    const auto place = sheet().pilots(0).place();
    const auto refused = enter("[gone]\nplaces = [\"" + place + "\"]\n");
    EXPECT_EQ(refused.refusal().kind(), v1::Refusal::conflict);
    EXPECT_TRUE(has_place(place));
    EXPECT_EQ(enter("[gone]\nplaces = [\"nowhere\"]\n").refusal().kind(), v1::Refusal::malformed);
    EXPECT_EQ(enter("[gone]\nareas = [\"circuit\"]\n").refusal().kind(), v1::Refusal::conflict);
}

TEST_F(SettingUp, RenamesAPlaceInOneStep) {
    ASSERT_TRUE(
        enter("[[field.place]]\nname = \"tree\"\nat_m = [50, 3]\nheight_m = 2\n").has_done());
    ASSERT_TRUE(enter("[[field.place]]\nname = \"oak\"\nat_m = [50, 3]\nheight_m = 2\n"
                      "[gone]\nplaces = [\"tree\"]\n")
                    .has_done());
    EXPECT_TRUE(has_place("oak"));
    EXPECT_FALSE(has_place("tree"));
}

TEST_F(SettingUp, TakesAllOfItOrNothing) {
    const auto before = day_.keeper().state().SerializeAsString();
    EXPECT_TRUE(enter("[day]\nname = \"Spring meet\"\nusual_minutes = 9000\n").has_refusal());
    EXPECT_TRUE(enter("[[field.place]]\nname = \"oak\"\nat_m = [50, 3]\nheight_m = 2\n"
                      "[gone]\nplaces = [\"nowhere\"]\n")
                    .has_refusal());
    EXPECT_TRUE(enter("[gone]\npilots = [\"Ann\"]\n").has_refusal());
    EXPECT_EQ(day_.keeper().state().SerializeAsString(), before);
}

}  // namespace
}  // namespace fieldpeg::service
