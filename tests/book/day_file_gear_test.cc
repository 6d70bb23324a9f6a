#include "tests/book/mistakes.h"

#include <gtest/gtest.h>

/// What may be wrong with gear that is written or used in a day file, and with values at large.
namespace fieldpeg::book {
namespace {

using testing::expect_each_said;
using testing::listed;
using testing::problems_of;

TEST(DayFileProblem, IsAnAntennaThatDoesNotGoWithItsPolarisation) {
    expect_each_said({
        {"polarisation   = \"rhcp\"\n", "",
         "video, polarisation: is missing; expected rhcp or lhcp", "[pilot.video]"},
        {"polarisation   = \"rhcp\"", "polarisation = \"vertical\"",
         "vertical does not go with circular-omni"},
        {"polarisation = \"vertical\"", "polarisation = \"lhcp\"",
         "lhcp does not go with my-whip; expected vertical or horizontal"},
        {"polarisation   = \"rhcp\"", "polarisation = \"rhpc\"",
         "'rhpc' is unknown; expected one of rhcp, lhcp, vertical, horizontal"},
        {"facing       = \"aircraft\"", "facing = \"north\"", "'north' is unknown"},
        {"facing       = \"aircraft\"", "facing = \"aircraft\"\nfacing_deg = 3",
         "facing: is given beside facing_deg", "facing = \"aircraft\""},
        {"tilt_deg     = 5", "tilt_deg = 95", "95 is out of range"},
        {"loss_db        = 0.7", "loss_db = -1", "-1 is out of range"},
    });
}

TEST(DayFileProblem, IsGearThatCannotBe) {
    expect_each_said({
        {"[10, -20], [30, -50]]", "[10, -2], [30, -50]]",
         "emission 'my-video', density_db: knot 3: the curve turns back here",
         "density_db        ="},
        {"[[0, 0], [5, -3]", "[[1, 0], [5, -3]", "knot 1: the first offset is not 0",
         "density_db        ="},
        {"[[0, 0], [5, -3]", "[[0, 0], [0, -3]", "knot 2: offset not above the one before",
         "density_db        ="},
        {"[[0, 0], [5, -3], [10, -20], [30, -50]]", "[[0, 0]]", "knot 2: missing",
         "density_db        ="},
        {"[[0, 0], [5, -3]", "[[0, 0], [5]", "entry 2 is not a pair", "density_db        ="},
        {"[[0, 0], [5, -3]", "[[0, nan], [5, -3]", "nan is out of range", "density_db        ="},
        {"[20, 30], [40, 55]]", "[20, 30], [40, 25]]",
         "receiver 'my-receiver', selectivity_db: knot 4: the curve turns back",
         "selectivity_db         ="},
        {"selectivity_db         = [[0, 0]", "selectivity_db         = [[0, 1]",
         "attenuation at the centre is not 0 dB"},
        {"sharp_db               = 20", "sharp_db               = 9", "is below watchable_db"},
        {"front_end_mhz          = [5500, 6000]", "front_end_mhz = [6000, 5500]",
         "ends the wrong way round"},
        {"iip3_dbm               = -15\n", "", "iip3_dbm: is missing", "[receiver.my-receiver]"},
        {"cascade                = [{gain_db = 15, noise_figure_db = 1}",
         "noise_figure_db = 7\ncascade = [{gain_db = 15, noise_figure_db = 1}",
         "cascade: is given beside noise_figure_db", "cascade ="},
        {"gain_db = 15, noise", "gain_db = 150, noise", "cascade 1, gain_db: 150 is out of range",
         "cascade  "},
        {"deviation_mhz     = 3.5", "deviation_mhz = 3.5\nnecessary_mhz = 17",
         "necessary_mhz: is given beside", "necessary_mhz"},
        {"polarisation       = \"linear\"", "polarisation = \"linear\"\naxial_ratio_db = 2",
         "axial_ratio_db: belongs to circular antennas", "axial_ratio_db"},
        {"[\"derived\", \"a borrowed analyser\"]", "[\"guessed\", \"?\"]", "is no provenance",
         "density_db = [\"guessed\""},
        {"band_mhz        = [2405, 2480]", "band_mhz = [2480, 2405]", "ends the wrong way round"},
        {"title   = \"The club's own sheet\"\n", "", "rules 'club', title: is missing",
         "[rules.club]"},
    });
}

TEST(DayFileProblem, IsACurveWithoutKnots) {
    expect_each_said({
        {"[[0, 0], [5, -3], [10, -20], [30, -50]]", "[]", "density_db", "density_db        ="},
        {"[[0, 0], [8, 3], [20, 30], [40, 55]]", "[]", "selectivity_db",
         "selectivity_db         ="},
    });
}

TEST(DayFileProblem, IsAValueOfTheWrongKind) {
    expect_each_said({
        {"name  = \"Harvest fly-in\"", "name = 5",
         "day, name: is a number; expected a text in quotes"},
        {"date  = 2026-09-19", "date = \"2026-09-19\"",
         "day, date: is a text; expected a date without quotes"},
        {"date  = 2026-09-19", "date = 2026-09-19T10:00:00", "day, date: is a date or time"},
        {"on_air   = true", "on_air = \"yes\"", "on_air: is a text; expected true or false"},
        {"radius_m = 50", "radius_m = \"50\"", "radius_m: is a text; expected a number"},
        {"at_m     = [3, 0]", "at_m = 3", "at_m: is a number; expected an array of 2 numbers"},
        {"at_m     = [3, 0]", "at_m = [3, \"0\"]", "at_m: is a text; expected a number"},
        {"channels     = [1280, 1320]", "channels = \"R1-R8\"",
         "channels: is a text; expected an array"},
        {"channels     = [1280, 1320]", "channels = [true]",
         "entry 1 is true or false; expected texts or numbers"},
        {"channel   = 1280", "channel = true", "channel: is true or false"},
        {"power_dbm    = 29", "power_dbm = {a = 1}", "is a table; expected a number"},
        {"power_dbm    = 29", "power_dbm = []", "is empty; expected at least one number"},
        {"constant_envelope = true", "constant_envelope = 1",
         "is a number; expected true or false"},
        {"antenna      = \"my-whip\"", "antenna = [\"my-whip\"]",
         "antenna: is an array; expected a text"},
    });
}

TEST(DayFileProblem, IsATableOfTheWrongKind) {
    const std::string head = "[day]\nname = \"x\"\ndate = 2026-01-01\n";
    for (const auto& [text, says] :
         {std::pair<std::string, std::string>{"pilot = 3\n" + head + "[field]\nname = \"y\"\n",
                                              "pilot: is a number; expected [[pilot]] tables"},
          {"field = \"meadow\"\n" + head, "field: is a text; expected a table"},
          {"relay = [1]\n" + head + "[field]\nname = \"y\"\n", "relay: entry 1 is a number"},
          {"antenna = 1\n" + head + "[field]\nname = \"y\"\n",
           "antenna: is a number; expected tables [antenna.NAME]"},
          {"emission.x = 1\n" + head + "[field]\nname = \"y\"\n", "emission: 'x' is a number"},
          {head + "[field]\nname = \"y\"\nplace = [[1]]\n", "place: entry 1 is an array"}}) {
        const auto problems = problems_of(text);
        ASSERT_EQ(problems.size(), 1u) << text << listed(problems);
        EXPECT_NE(to_string(problems[0]).find(says), std::string::npos) << to_string(problems[0]);
    }
}

// A number that no double holds exactly is a number all the same.
TEST(DayFileProblem, IsSaidOfAHugeWholeNumber) {
    expect_each_said({{"radius_m = 50", "radius_m = 9007199254740993", "is out of range"}});
}

}  // namespace
}  // namespace fieldpeg::book
