#include "server/book/day_file.h"
#include "server/book/names.h"

#include "tests/book/mistakes.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace fieldpeg::book {
namespace {

using testing::changed;
using testing::expect_each_said;
using testing::field_text;
using testing::listed;
using testing::PilotText;
using testing::problems_of;
using testing::RelayText;
using testing::text_of;
using testing::whole_day;

TEST(DayFileProblem, IsAnUnknownKeyWithWhatWasMeant) {
    expect_each_said({
        {"power_mw       = [200", "powr_mw = [200",
         "powr_mw: is an unknown key; did you mean 'power_mw'?"},
        {"date  = 2026", "dat = 1\ndate = 2026", "dat: is an unknown key; did you mean 'date'?"},
        {"[positioning_receiver.sat", "[fieeld]\nx = 1\n[positioning_receiver.sat",
         "fieeld: is an unknown key; did you mean 'field'?"},
        {"radius_m = 50", "radius_m = 50\nradius_km = 1",
         "area 'circuit', radius_km: is an unknown key", "radius_km"},
        {"on_bench = true", "on_bench = true\n\"\\u001b[31m\" = 1", "\\x1b[31m: is an unknown key",
         "\"\\u001b"},
    });
}

TEST(DayFileProblem, IsANameThatNobodyBears) {
    expect_each_said({
        {"emission       = \"fm-video\"", "emission = \"fm-vidoe\"",
         "pilot 'Ann', video, emission: no emission is called 'fm-vidoe'; did you mean "
         "'fm-video'?"},
        {"antenna        = \"circular-omni\"", "antenna = \"circular-onmi\"",
         "did you mean 'circular-omni'?"},
        {"receiver     = \"my-receiver\"", "receiver = \"my-reciever\"",
         "did you mean 'my-receiver'?"},
        {"place                = \"line-1\"", "place = \"lime-1\"",
         "no place is called 'lime-1'; did you mean 'line-1'?"},
        {"bench_place          = \"pits\"", "bench_place = \"pit\"", "did you mean 'pits'?"},
        {"place        = \"line-2\"", "place = \"zzz\"",
         "receiver 2, place: no place is called 'zzz'"},
        {"area                 = \"circuit\"", "area = \"curcuit\"", "did you mean 'circuit'?"},
        {"owner        = \"Dee\"", "owner = \"Dea\"",
         "relay 'Dee's tripod', owner: no pilot is called 'Dea'", "owner = \"Dea\""},
        {"rules = \"club\"", "rules = \"clubb\"",
         "no rule set is called 'clubb'; did you mean 'club'?"},
        {"\"hopping-2g4\"", "\"hopping-2g5\"", "no control link is called 'hopping-2g5'"},
        {"\"satellite-l1\"", "\"satelite-l1\"", "did you mean 'satellite-l1'?"},
        {"hears        = \"video\"", "hears = \"vidio\"",
         "hears: 'vidio' is unknown; expected video; did you mean 'video'?"},
    });
}

TEST(DayFileProblem, IsAChannelThatDoesNotExist) {
    expect_each_said({
        {"\"F2\", 5790]\n[[", "\"F9\", 5790]\n[[", "row F goes from F1 to F8", "\"F9\""},
        {"\"F2\", 5790]\n[[", "\"Z1\", 5790]\n[[", "is no channel", "\"Z1\""},
        {"\"F2\", 5790]\n[[", "\"F2\", 57900]\n[[", "lies outside 100 to 10000 MHz", "57900"},
        {"\"F2\", 5790]\n[[", "\"F2\", nan]\n[[", "'nan' is no channel", "nan]"},
        {"\"F2\", 5790]\n[[", "\"R8-R1\", 5790]\n[[", "is no range", "\"R8-R1\""},
        {"channel  = \"R3\"", "channel  = \"R9\"", "claim, channel: 'R9' is no channel"},
        {"channel  = \"R3\"", "channel  = \"F3\"",
         "F3 is not among its channels; expected one of R1, R2"},
        {"channel   = 1280", "channel = -1280", "lies outside"},
    });
}

TEST(DayFileProblem, IsAnAbsurdPower) {
    expect_each_said({
        {"power_mw       = [200, 25]", "power_mw = [-5, 25]",
         "video, power_mw: -5 is out of range"},
        {"power_mw       = [200, 25]", "power_mw = [0, 25]", "0 is out of range"},
        {"power_mw       = [200, 25]", "power_mw = [nan, 25]", "nan is out of range"},
        {"power_mw       = [200, 25]", "power_mw = [inf, 25]", "inf is out of range"},
        {"power_mw       = [200, 25]", "power_mw = [1e9, 25]",
         "1e+09 is out of range; expected a number from"},
        {"power_dbm    = 29", "power_dbm = 51",
         "51 is out of range; expected a number from -60 to 50 dBm"},
        {"power_dbm    = 29", "power_dbm = -61", "-61 is out of range"},
        {"power_dbm    = 29", "power_dbm = [-inf, 29]", "-inf is out of range"},
        {"bench_power_mw = 0.1", "bench_power_mw = -0.1", "-0.1 is out of range"},
        {"rules = \"club\"", "lost_picture = 5", "day, lost_picture: is", "lost_picture"},
        {"rules = \"club\"", "lost_picture = \"" + std::string(121, 'x') + "\"",
         "day, lost_picture: is too long", "lost_picture"},
        {"rules = \"club\"", "power_limit_mw = 0", "day, power_limit_mw: 0 is out of range",
         "power_limit_mw"},
        {"rules = \"club\"", "power_limit_mw = 1e9", "1e+09 is out of range", "power_limit_mw"},
        {"rules = \"club\"", "power_limit_mw = \"25\"", "day, power_limit_mw", "power_limit_mw"},
        {"rules = \"club\"", "power_limit_mw = 25\npower_limit_dbm = 14",
         "is given beside power_limit_mw", "power_limit_dbm"},
        {"power_dbm    = 29", "power_dbm = 29\npower_mw = 800",
         "power_dbm: is given beside power_mw", "power_dbm = 29\npower_mw"},
        {"power_mw = 25\non_air", "power_mw = 24\non_air",
         "is none of the powers it can be set to; expected one of 25, 200 mW"},
        {"power_mw = 25\non_air", "on_air", "claim, power_mw: is missing", "[pilot.claim]"},
    });
}

TEST(DayFileProblem, IsAPlaceOrAreaThatCannotBe) {
    expect_each_said({
        {"height_m = [3, 40]", "height_m = [-5, 40]",
         "area 'circuit', height_m: -5 is out of range"},
        {"height_m = [3, 40]", "height_m = [40, 3]",
         "has its ends the wrong way round; expected [lowest, highest]"},
        {"height_m = [3, 40]", "height_m = [3]", "has 1 entries; expected an array of 2 numbers"},
        {"height_m = [3, 40]", "height_m = [3, nan]", "nan is out of range"},
        {"radius_m = 50", "radius_m = 0", "0 is out of range; expected a number from 1"},
        {"radius_m = 50", "radius_m = 1e9", "is out of range"},
        {"centre_m = [0, 80]", "centre_m = [0, inf]", "inf is out of range"},
        {"at_m     = [3, 0]", "at_m = [3, 0, 1]", "place 'line-2', at_m: has 3 entries"},
        {"height_m = 2.5", "height_m = -2.5",
         "-2.5 is out of range; expected a number from 0 to 20000 m above ground"},
        {"origin = [52.0, -1.0]", "origin = [91, -1]", "has a latitude beyond 90 degrees"},
        {"origin = [52.0, -1.0]", "origin = [52, 181]", "181 is out of range"},
    });
}

TEST(DayFileProblem, IsANameUsedTwice) {
    constexpr std::string_view first_area = "[[field.area]]\nname     = \"circuit\"";
    constexpr std::string_view first_pilot = "[[pilot]]\nname                 = \"Ann\"";
    const auto before = [](std::string_view table, std::string_view that) {
        return std::string(table) + std::string(that);
    };
    const auto place =
        before("[[field.place]]\nname = \"LINE-1\"\nat_m = [1, 1]\nheight_m = 1\n", first_area);
    const auto area = before(
        "[[field.area]]\nname = \"Circuit\"\ncentre_m = [1, 1]\nradius_m = 5\nheight_m = [1, 2]\n",
        first_pilot);
    const auto pilot = before("[[pilot]]\nname = \"ANN\"\nplace = \"pits\"\n", first_pilot);
    expect_each_said({
        {first_area, place, "place 'LINE-1', name: 'LINE-1' is used twice", "name = \"LINE-1\""},
        {first_pilot, area, "area 'Circuit', name: 'Circuit' is used twice", "name = \"Circuit\""},
        {first_pilot, pilot, "pilot 'Ann', name: 'Ann' is used twice", "name                 ="},
        {"name         = \"Dee's tripod\"", "name = \"ann\"",
         "relay 'ann', name: 'ann' is used twice"},
        {"name         = \"Dee's tripod\"", "name = \"Video\"", "'video' is what receivers call"},
    });
}

TEST(DayFileProblem, IsTwoPeopleWhoseNamesDifferInCaseOrComposition) {
    for (const auto& [first, second] : {std::pair("Ann", "ANN"), std::pair("Zo\u00eb", "Zoe\u0308"),
                                        std::pair("Zo\u00eb", "ZOE\u0308")}) {
        const auto problems = problems_of(field_text() + text_of(PilotText{.name = first}) +
                                          text_of(PilotText{.name = second, .channel = "R5"}));
        ASSERT_EQ(problems.size(), 1u) << listed(problems);
        EXPECT_NE(problems[0].what.find("is used twice"), std::string::npos);
    }
}

// The pairs are of Unicode's confusables.txt (Technical Standard #39).
TEST(DayFileProblem, IsTwoPeopleWhoseNamesLookTheSame) {
    for (const auto& [first, second] :
         {std::pair("Ann", "\u0410nn"), std::pair("Bill", "BiII"), std::pair("Arnie", "Amie")}) {
        const auto problems = problems_of(field_text() + text_of(PilotText{.name = first}) +
                                          text_of(PilotText{.name = second, .channel = "R5"}));
        ASSERT_EQ(problems.size(), 1u) << listed(problems);
        EXPECT_EQ(problems[0].what, fmt::format("'{}' looks like '{}'", second, first));
        EXPECT_GT(problems[0].line, 0u);
        EXPECT_EQ(problems[0].key, fmt::format("pilot '{}', name", second));
    }
}

TEST(DayFileProblem, IsANameThatTheProgramUsesItself) {
    for (const auto* name : {"the server", "sighting 1", "person 4", "marshal", "Ann's handset"}) {
        const auto problems = problems_of(field_text() + text_of(PilotText{.name = name}));
        ASSERT_EQ(problems.size(), 1u) << listed(problems);
        EXPECT_NE(problems[0].what.find("what the program calls"), std::string::npos);
    }
}

TEST(DayFileProblem, IsANameThatCannotBeSaid) {
    expect_each_said({
        {"name                 = \"Ann\"", "name = \"\"",
         "'' has 0 characters; expected 1 to 40 visible characters"},
        {"name                 = \"Ann\"", "name = \"A\\u0007nn\"",
         "has a control or invisible character", "name = \"A\\u0007"},
        {"name                 = \"Ann\"", "name = \" Ann\"", "begins or ends with a space"},
        {"name                 = \"Ann\"", "name = \"A\\u202Enn\"",
         "'A\\u{202e}nn' has a control or invisible character", "name = \"A\\u202E"},
        {"name         = \"second\"", "name = \"sec\\nond\"", "receiver 2, name: 'sec\\x0aond'",
         "name = \"sec\\nond"},
        {"name   = \"Long Meadow\"", "name = \"Loooooooooooooooooooooooooooooooooooooong\"",
         "has 41 characters"},
    });
}

// A file from somebody else is read by whoever opens it: what its keys hold is printed, too.
TEST(DayFileProblem, IsPrintedAsTextWhateverIsInTheFile) {
    for (const std::string text : {"\"\\u001B[2J\" = 1\n", "\"\\u202E\" = 1\n", "\x1b[2J = 1\n",
                                   "a = \"\u009b2J\"\n", "[kit.\"\\u0007\"]\ntitle = 3\n"}) {
        const auto problems = problems_of(text);
        ASSERT_FALSE(problems.empty());
        for (const auto& problem : problems)
            EXPECT_TRUE(is_visible(to_string(problem))) << to_string(problem);
    }
    const Problem problem{"a\x1b", 1, "b\u202e", "c\u009b", "d\u2028", "e\u200b"};
    EXPECT_EQ(to_string(problem),
              "a\\x1b:1: b\\u{202e}: c\\u{9b}; expected d\\u{2028}; did you mean 'e\\u{200b}'?");
}

TEST(DayFileProblem, IsTwoReceiversOfOneName) {
    const std::string again =
        "[[pilot.receiver]]\nname = \"GOGGLES\"\nreceiver = \"fm-video-5g8\"\n"
        "antenna = \"circular-omni\"\npolarisation = \"rhcp\"\n";
    const auto next = changed(whole_day(), "[[pilot.receiver]]\nname         = \"second\"",
                              again + "[[pilot.receiver]]\nname         = \"second\"");
    EXPECT_EQ(problems_of(next).size(), 1u) << "goggles and GOGGLES, one after the other";
    const auto third = changed(whole_day(), "[pilot.claim]\nchannel  = \"R3\"",
                               again + "[pilot.claim]\nchannel  = \"R3\"");
    EXPECT_EQ(problems_of(third).size(), 1u) << "goggles, second, GOGGLES";
}

TEST(DayFileProblem, IsAClaimThatNobodyCanHold) {
    expect_each_said({
        {"on_air   = true", "on_air = true\non_bench = true",
         "claim, on_bench: is given beside on_air", "on_bench = true"},
        {"channel  = \"R3\"\n", "", "claim, channel: is missing", "[pilot.claim]"},
    });
    const auto problems =
        problems_of(field_text() +
                    "[[pilot]]\nname = \"Ann\"\nplace = \"line-1\"\n[pilot.claim]\nchannel = "
                    "\"R3\"\npower_mw = 25\n");
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_EQ(problems[0].what, "is held by nobody");
}

TEST(DayFileProblem, IsTwoRelaysOfOneOwnerOnOneChannel) {
    const auto two_on = [](const char* channel, const char* owner) {
        return field_text() +
               text_of(PilotText{.name = "Dee", .more_goggles = "hears = \"video\""}) +
               text_of(PilotText{
                   .name = "Finn", .channel = "R2", .more_goggles = "hears = \"video\""}) +
               text_of(RelayText{.name = "mast", .owner = "Dee", .channel = "R5"}) +
               text_of(RelayText{.name = "pole", .owner = owner, .channel = channel});
    };
    const auto problems = problems_of(two_on("5806", "dee"));  // R5 by its frequency
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_EQ(problems[0].what, "5806 is held by 'mast' of the same owner already");
    EXPECT_TRUE(problems_of(two_on("R6", "Dee")).empty());
    EXPECT_TRUE(problems_of(two_on("R5", "Finn")).empty());
}

TEST(DayFileProblem, IsARelayThatHearsAPilotWithoutVideo) {
    const auto problems = problems_of(
        field_text() + "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n" +
        text_of(RelayText{
            .name = "mast",
            .owner = "Dee",
            .tables =
                "[[relay.receiver]]\nreceiver = \"fm-video-1g3\"\nantenna = \"wide-panel\"\n"}));
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_EQ(problems[0].what, "hears nothing, Dee has no video");
}

}  // namespace
}  // namespace fieldpeg::book
