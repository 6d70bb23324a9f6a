#include "server/day/differences.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

/// A day file that was corrected after the log began. People and places are invented.
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::channel;
using testing::club_day;
using testing::Course;
using testing::sheet_of;
using testing::whole_day;

constexpr double mw25_dbm = 13.979400086720376;

TakeDay take(std::string_view file, const std::string& only = "") {
    TakeDay take;
    take.asked.set_file("saturday.toml");
    take.asked.set_only(only);
    take.asked.set_yes_anyway(true);
    take.file = sheet_of(file);
    return take;
}

/// Ann's steps on the club's day, with a list of them to correct.
std::string with_steps(const std::string& steps) {
    return changed(club_day(), "power_mw = [25, 200, 600]", "power_mw = " + steps);
}

std::vector<std::string> gone(const v1::Reply& reply) {
    return {reply.take().follows().begin(), reply.take().follows().end()};
}

TEST(Take, LeavesNoDifference) {
    const std::vector<std::pair<std::string, std::string>> corrections{
        {"power_mw       = [200, 25]", "power_mw       = [25]"},
        {"at_m     = [3, 0]", "at_m     = [5, 0]"},
        {"radius_m = 900", "radius_m = 800"},
        {"name  = \"Harvest fly-in\"\ndate  = 2026-09-19",
         "name  = \"Fly-in\"\ndate  = 2026-09-20"},
        {"origin = [52.0, -1.0]\n", ""},
        {"rules = \"club\"\n", "power_limit_mw = 25\n"},
        {"rules = \"club\"\n", "lost_picture = \"Level off and climb\"\n"},
        {"eirp_mw = 25", "eirp_mw = 10"},
        {"sigma_mhz         = 3", "sigma_mhz         = 4"},
        {"[control_link.hopping-2g4]",
         "[[service]]\nname = \"club radar\"\nband_mhz = [5600, 5650]"
         "\nnote = \"keep clear\"\nsource = \"the club\"\n"
         "[control_link.hopping-2g4]"},
        {"[[field.place]]\nname     = \"tripod\"",
         "[[field.place]]\nname     = \"hill\"\nat_m     = [9, 9]\nheight_m = 2\n"
         "[[field.place]]\nname     = \"tripod\""},
    };
    for (const auto& [was, is] : corrections) {
        const auto file = changed(whole_day(), was, is);
        Course course(whole_day());
        ASSERT_FALSE(differences(course.state().sheet(), sheet_of(file)).empty()) << is;
        const auto reply = course.send(take(file));
        EXPECT_TRUE(reply.take().taken()) << reply.ShortDebugString();
        EXPECT_TRUE(differences(course.state().sheet(), sheet_of(file)).empty()) << is;
        // And back again: what came goes.
        course.send(take(whole_day()));
        EXPECT_TRUE(differences(course.state().sheet(), sheet_of(whole_day())).empty()) << is;
    }
}

TEST(Take, TakesOverWhatTheClubTellsAFlierWhosePictureGoes) {
    Course course(club_day());
    const auto with_drill = [](const std::string& drill) {
        return changed(club_day(), "date = 2026-06-12",
                       "date = 2026-06-12\nlost_picture = \"" + drill + "\"");
    };
    const auto reply = course.send(take(with_drill("Level off and climb"))).take();
    ASSERT_EQ(reply.differences_size(), 1);
    EXPECT_EQ(reply.differences(0).changes(0).what(), "lost picture");
    EXPECT_EQ(course.state().sheet().lost_picture(), "Level off and climb");
    course.send(take(with_drill("Land")));
    EXPECT_EQ(course.state().sheet().lost_picture(), "Land");
    course.send(take(club_day()));
    EXPECT_EQ(course.state().sheet().lost_picture(), "");
}

TEST(Take, KeepsWhatIsHeldAndWhoIsOnTheAir) {
    Course course(club_day());
    course.send(testing::claims("Ann", testing::channel("R1"), mw25_dbm));
    course.send(testing::asks_on("Ann"));
    const auto id = pilot(course.state().sheet(), "Ann")->id();
    course.send(take(changed(club_day(), "name = \"Ann\"\nplace = \"line-1\"",
                             "name = \"Ann\"\nplace = \"line-4\"")));
    EXPECT_EQ(course.stage("Ann"), v1::Claim::on_air);
    EXPECT_EQ(pilot(course.state().sheet(), "Ann")->place(), "line-4");
    EXPECT_EQ(pilot(course.state().sheet(), "Ann")->id(), id);
}

TEST(Take, ChangesNothingUntilItIsWanted) {
    Course course(club_day());
    auto asked = take(changed(club_day(), "name = \"Bob\"", "name = \"Bea\""));
    asked.asked.set_yes_anyway(false);
    const auto version = course.state().version();
    const auto reply = course.send(asked).take();
    EXPECT_EQ(reply.differences_size(), 2);
    EXPECT_FALSE(reply.taken());
    EXPECT_EQ(course.state().version(), version);
}

TEST(Take, TakesOnlyWhatIsCalledSo) {
    const auto file =
        changed(changed(club_day(), "name = \"Ann\"\nplace = \"line-1\"",
                        "name = \"Ann\"\nplace = \"line-3\""),
                "name = \"Bob\"\nplace = \"line-2\"", "name = \"Bob\"\nplace = \"line-4\"");
    Course course(club_day());
    EXPECT_EQ(course.send(take(file, "Bob")).take().differences_size(), 1);
    EXPECT_EQ(pilot(course.state().sheet(), "Ann")->place(), "line-1");
    EXPECT_EQ(pilot(course.state().sheet(), "Bob")->place(), "line-4");
}

TEST(Take, RefusesOneThingThatNeedsAnother) {
    const auto file = changed(changed(club_day(), "name = \"Bob\"\nplace = \"line-2\"",
                                      "name = \"Bob\"\nplace = \"hill\""),
                              "[[field.place]]\nname = \"pits\"",
                              "[[field.place]]\nname = \"hill\"\nat_m = [1, 9]\nheight_m = 2\n"
                              "[[field.place]]\nname = \"pits\"");
    Course course(club_day());
    const auto version = course.state().version();
    const auto reply = course.send(take(file, "Bob")).take();
    EXPECT_EQ(reply.refusal().where(), "Bob");
    EXPECT_NE(reply.refusal().why().find("hill"), std::string::npos);
    EXPECT_EQ(course.state().version(), version);
    EXPECT_TRUE(course.send(take(file, "hill")).take().taken());
    EXPECT_TRUE(course.send(take(file, "Bob")).take().taken());
}

TEST(Take, LetsNobodyGoWhoHoldsAChannel) {
    const auto file = changed(club_day(), "name = \"Bob\"", "name = \"Bea\"");
    Course course(club_day());
    course.send(testing::claims("Bob", testing::channel("R1"), mw25_dbm));
    const auto version = course.state().version();
    for (const auto* only : {"", "Bob"}) {
        const auto refusal = course.send(take(file, only)).take().refusal();
        EXPECT_EQ(refusal.kind(), v1::Refusal::conflict);
        EXPECT_NE(refusal.why().find("Bob holds R1"), std::string::npos) << refusal.why();
    }
    EXPECT_EQ(course.state().version(), version);
    course.send(testing::releases("Bob"));
    EXPECT_TRUE(course.send(take(file)).take().taken());
    EXPECT_FALSE(pilot(course.state().sheet(), "Bob"));
    EXPECT_TRUE(pilot(course.state().sheet(), "Bea"));
}

TEST(Take, GivesBackWhatNoLongerFitsAndNamesTheBestInTheSameGroup) {
    const auto before = with_steps("[25, 200]");
    Course course(before);
    auto claim = testing::claims("Ann", testing::channel("R1"), 23.010299956639813);
    claim.mutable_claim()->set_group(2);
    ASSERT_TRUE(course.send(claim).claim().claimed());
    const auto reply = course.send(take(with_steps("[25]")));
    const auto* ann = pilot(course.state().sheet(), "Ann");
    EXPECT_FALSE(ann->has_claim());
    EXPECT_EQ(ann->last_group(), 2U);
    ASSERT_EQ(gone(reply).size(), 2U);
    EXPECT_TRUE(gone(reply)[0].starts_with("Ann gives R1 (5658 MHz) back")) << gone(reply)[0];
    EXPECT_TRUE(gone(reply)[1].starts_with("best for Ann now: ")) << gone(reply)[1];
    EXPECT_TRUE(gone(reply)[1].ends_with(" at 25 mW in group 2")) << gone(reply)[1];
}

TEST(Take, OfALowerLimitGivesBackWhatIsAboveItButWhatTheMarshalAllowed) {
    const auto limited = [](const std::string& mw) {
        return changed(with_steps("[25, 200, 600]"), "date = 2026-06-12",
                       "date = 2026-06-12\npower_limit_mw = " + mw);
    };
    for (const bool is_allowed : {false, true}) {
        Course course(limited(is_allowed ? "100" : "200"));
        auto claim = testing::claims("Ann", testing::channel("R1"), 23.010299956639813);
        if (is_allowed) claim.mutable_claim()->set_allowed_because("far out");
        ASSERT_TRUE(course.send(claim).claim().claimed());
        EXPECT_TRUE(course.send(take(limited("25"))).take().taken());
        EXPECT_EQ(pilot(course.state().sheet(), "Ann")->has_claim(), is_allowed);
    }
}

TEST(Take, IsTheMarshals) {
    Course course(club_day());
    const auto ann = course.join("Ann");
    EXPECT_EQ(course.send(take(changed(club_day(), "name = \"Bob\"", "name = \"Bea\"")), ann)
                  .refusal()
                  .kind(),
              v1::Refusal::not_permitted);
}

}  // namespace
}  // namespace fieldpeg::day
