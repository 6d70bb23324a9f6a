#include "server/day/differences.h"

#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

/// What a corrected day file has otherwise, in words. Days and people are invented; that every
/// difference is told, and nothing else, is checked by changing one key at a time.
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::sheet_of;
using testing::whole_day;

std::vector<std::string> told(const std::string& file) {
    std::vector<std::string> all;
    for (const auto& of : differences(sheet_of(whole_day()), sheet_of(file)))
        all.push_back(difference_text(of));
    return all;
}

TEST(Differences, AreNoneBetweenADayAndItsFileWhateverIsHeld) {
    EXPECT_TRUE(told(std::string(whole_day())).empty());
    EXPECT_TRUE(told(changed(whole_day(), "channel  = \"R3\"", "channel  = \"R4\"")).empty());
    std::uint32_t last_id = 0;
    EXPECT_TRUE(
        differences(with_ids(sheet_of(whole_day()), last_id), sheet_of(whole_day())).empty());
}

TEST(Differences, TellOfEachKeyWhatWasAndWhatIs) {
    const std::vector<std::vector<std::string>> keys{
        {"power_mw       = [200, 25]", "power_mw       = [600, 200, 25]",
         "pilot Ann: power 25 mW, 200 mW -> 25 mW, 200 mW, 600 mW"},
        {"channels       = [\"R1-R8\", \"F2\", 5790]", "channels       = [\"R1-R3\"]",
         "pilot Ann: channels R1, R2, R3, R4, R5, R6, R7, R8, F2, 5790 -> R1, R2, R3"},
        {"bench_power_mw = 0.1", "bench_power_mw = 1", "pilot Ann: bench power 0.1 mW -> 1 mW"},
        {"loss_db        = 0.7", "loss_db        = 0.9", "pilot Ann: loss 0.7 dB -> 0.9 dB"},
        {"bench_place          = \"pits\"", "bench_place          = \"tripod\"",
         "pilot Ann: bench place pits -> tripod"},
        {"control_link         = \"hopping-2g4\"\n", "",
         "pilot Ann: control link hopping-2g4 -> none"},
        {"tilt_deg     = 5", "tilt_deg     = 6", "pilot Ann: goggles: tilt 5° -> 6°"},
        {"facing       = \"aircraft\"", "facing_deg   = 4", "pilot Ann: second: "},
        {"at_m     = [3, 0]", "at_m     = [5, 0]", "place line-2: east 3 m -> 5 m"},
        {"radius_m = 900", "radius_m = 800", "area valley: radius 900 m -> 800 m"},
        {"name  = \"Harvest fly-in\"", "name  = \"Fly-in\"", "day: name Harvest fly-in -> Fly-in"},
        {"rules = \"club\"\n", "", "rules: club -> none"},
        {"eirp_mw = 25", "eirp_mw = 10", "rules: allowances differs"},
        {"origin = [52.0, -1.0]", "origin = [52.0001, -1.0]", "day: latitude 52° -> 52.0001°"},
        {"power_mw     = [25, 200]", "power_mw     = [25]",
         "relay Dee's tripod: power 25 mW, 200 mW -> 25 mW"},
        {"sigma_mhz         = 3", "sigma_mhz         = 4",
         "emission my-video: sigma 3 MHz -> 4 MHz"},
        {"iip3_dbm               = -15", "iip3_dbm               = -14",
         "receiver my-receiver: iip3 -15 dBm -> -14 dBm"},
        {"rules = \"club\"", "rules = \"club\"\npower_limit_mw = 25",
         "day: power limit none -> 25 mW"},
    };
    for (const auto& key : keys) {
        const auto all = told(changed(whole_day(), key[0], key[1]));
        ASSERT_EQ(all.size(), 1U) << key[2];
        EXPECT_TRUE(all[0].starts_with(key[2])) << all[0];
    }
}

TEST(Differences, TellWhoIsNewAndWhoIsGone) {
    const auto renamed = changed(testing::club_day(), "name = \"Bob\"", "name = \"Bea\"");
    const auto found = differences(sheet_of(testing::club_day()), sheet_of(renamed));
    ASSERT_EQ(found.size(), 2U);
    EXPECT_EQ(difference_text(found[0]), "pilot Bea: new");
    EXPECT_EQ(difference_text(found[1]), "pilot Bob: gone");
}

}  // namespace
}  // namespace fieldpeg::day
