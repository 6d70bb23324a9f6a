#include "server/day/comparison.h"

#include "server/day/assessment.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace fieldpeg::day {
namespace {

using spectrum::Decibel;
using spectrum::Standing;
using testing::field_text;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;

Standing undisturbed(double good_db, double usable_db) {
    const Decibel good(good_db), usable(usable_db);
    return {good, usable, usable, Decibel(usable_db - 10), good, usable, good, usable};
}

// Who asks pays for themself; that is no harm, whatever it costs.
TEST(Harms, LeaveOutWhoIsExempt) {
    const auto day = [](const std::string& ben_channel) {
        return sheet_of(
            field_text() + text_of(PilotText{.name = "Ann"}) +
            text_of(PilotText{.name = "Ben", .place = "line-2", .channel = ben_channel}));
    };
    const auto apart = day("R8"), together = day("R1");
    const Assessment after(together, v1::Basis::held);
    const Comparison comparison(standings(apart, v1::Basis::held), after);
    const auto of = [&](const Comparison::Names& exempt) {
        std::set<std::string> names;
        for (const auto& harm : comparison.harms(exempt)) names.insert(harm.pilot());
        return names;
    };
    EXPECT_EQ(of({}), (std::set<std::string>{"Ann", "Ben"}));
    EXPECT_EQ(of({"Ben"}), (std::set<std::string>{"Ann"}));
}

// Who flies farther out than before, the others doing as they did, has nobody to blame.
TEST(Change, AtTheRangeAfterIsNoHarmToOneWhoMovesAway) {
    auto before = undisturbed(6, 9), after = undisturbed(-1, 2);
    before.good = Decibel(-1);  // others cost 7 dB, then as now
    after.good = Decibel(-8);
    const Change away{before, after};
    EXPECT_TRUE(spectrum::harms(away.before, away.after));
    EXPECT_FALSE(away.at_the_range_after().is_harm());
}

// A larger area costs a good flight more than a usable one: one who was undisturbed before is so at
// the range of afterwards, or what pushes them below usable then would not be seen.
TEST(Change, AtTheRangeAfterTakesEachShareByItself) {
    auto after = undisturbed(-6, 1);
    after.good = Decibel(-8);
    after.usable = after.closest = Decibel(-1);
    const auto same = Change{undisturbed(10, 12), after}.at_the_range_after();
    EXPECT_EQ(spectrum::interference(same.before), spectrum::Interference::none);
    EXPECT_EQ(spectrum::interference(same.after), spectrum::Interference::clash);
    EXPECT_TRUE(same.is_harm());
}

}  // namespace
}  // namespace fieldpeg::day
