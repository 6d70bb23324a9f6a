#include "server/book/day_file.h"

#include "server/book/reader.h"
#include "tests/book/mistakes.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace fieldpeg::book {
namespace {

using testing::changed;
using testing::field_text;
using testing::problems_of;
using testing::whole_day;

TEST(DayFile, OfTwoMegabytesIsRefusedUnread) {
    const auto problems = problems_of(std::string(2'000'000, '#'));
    ASSERT_EQ(problems.size(), 1u);
    EXPECT_EQ(problems[0].what, "is 2000000 bytes long");
    EXPECT_EQ(problems[0].line, 0u);
}

TEST(DayFile, MayBeAsLongAsTheLimit) {
    std::string text(whole_day());
    text.resize(toml_bytes_max, '#');
    EXPECT_TRUE(problems_of(text).empty());
    EXPECT_EQ(problems_of(text + "#").size(), 1u);
}

TEST(DayFile, OfBinaryBytesIsNotToml) {
    for (const std::string& bytes :
         {std::string("\x7f\x45\x4c\x46\x02\x01\x01\0\0\0", 10), std::string(1'000, '\0'),
          std::string("\xff\xfe["), std::string("[day]\nname = \"\xff\"\n")}) {
        const auto problems = problems_of(bytes);
        ASSERT_EQ(problems.size(), 1u);
        EXPECT_TRUE(problems[0].what.starts_with("is not TOML: ")) << problems[0].what;
        for (const char c : problems[0].what) EXPECT_GE(static_cast<unsigned char>(c), 0x20);
    }
}

TEST(DayFile, NamesTheLineWhereItStopsBeingToml) {
    const auto problems =
        problems_of(changed(whole_day(), "at_m     = [3, 0]", "at_m     = [3, 0"));
    ASSERT_EQ(problems.size(), 1u);
    EXPECT_TRUE(problems[0].what.starts_with("is not TOML: ")) << problems[0].what;
    EXPECT_NEAR(problems[0].line, 17, 1);  // at_m, or the line after it, where a comma was due
    const auto twice = problems_of("[day]\nname = \"x\"\nname = \"y\"\n");
    ASSERT_EQ(twice.size(), 1u);
    EXPECT_EQ(twice[0].line, 3u);
}

TEST(DayFile, NestedDeeplyIsRefusedAndNotFollowed) {
    EXPECT_EQ(problems_of("a = " + std::string(100'000, '[')).size(), 1u);
}

TEST(DayFile, OfNothingLacksItsDayAndField) {
    const auto problems = problems_of("");
    ASSERT_EQ(problems.size(), 2u);
    EXPECT_EQ(problems[0].key, "day");
    EXPECT_EQ(problems[1].key, "field");
}

// All that is wrong is said at once, in the order of the file.
TEST(DayFile, SaysSeveralProblemsInTheOrderOfItsLines) {
    auto text = changed(whole_day(), "[rules.club]\ntitle", "[rules.club]\ntitel = \"\"\ntitle");
    text = changed(text, "radius_m = 50", "radius_m = -50");
    text = changed(text, "channel  = \"R3\"", "channel  = \"R9\"");
    const auto problems = problems_of(text);
    ASSERT_EQ(problems.size(), 3u);
    EXPECT_TRUE(std::ranges::is_sorted(problems, {}, &Problem::line));
    EXPECT_EQ(problems[0].key, "field, area 'circuit', radius_m");
    EXPECT_EQ(problems[1].key, "pilot 'Ann', claim, channel");
    EXPECT_EQ(problems[2].key, "rules 'club', titel");
}

TEST(DayFile, SaysNoMoreProblemsThanHelp) {
    std::string text(whole_day());
    for (int i = 0; i < 60; ++i) text += "what" + std::to_string(i) + " = 1\n";
    const auto problems = problems_of(text);
    ASSERT_EQ(problems.size(), problems_max + 1);
    EXPECT_EQ(problems.back().what, "10 more problems");
    EXPECT_GT(problems[0].line, 0u);
}

TEST(DayFile, HasABoundOnEverything) {
    std::string channels, receivers;
    for (int i = 0; i < 65; ++i) channels += std::to_string(5'650 + i) + ", ";
    for (int i = 0; i < 9; ++i)
        receivers += "[[pilot.receiver]]\nreceiver = \"fm-video-5g8\"\nantenna = \"dipole\"\n";
    const std::string pilot = "[[pilot]]\nname = \"Ann\"\nplace = \"line-1\"\n";
    const std::string video =
        "area = \"circuit\"\n[pilot.video]\nemission = \"fm-video\"\nantenna = \"dipole\"\n";
    for (const auto& [more, what] :
         {std::pair<std::string, std::string>{video + "channels = [" + channels + "]\n",
                                              "has 65 entries"},
          {video + "channels = [\"R1-R8\", \"A1-A8\", \"B1-B8\", \"E1-E8\", \"F1-F8\", \"R1-R8\", "
                   "\"A1-A8\", \"B1-B8\", 5801]\n",
           "are 65 channels"},
          {receivers, "has 9 entries"}}) {
        const auto problems = problems_of(field_text() + pilot + more);
        ASSERT_EQ(problems.size(), 1u) << what;
        EXPECT_EQ(problems[0].what, what);
    }
}

TEST(LoadDay, RefusesAFolderAndAFileThatIsNotThere) {
    for (const auto& [path, what] : {std::pair("/", "is a folder"),
                                     std::pair("/there/is/no/such/day.toml", "cannot be read")}) {
        Problems problems;
        EXPECT_FALSE(load_day(path, problems));
        ASSERT_EQ(problems.size(), 1u);
        EXPECT_TRUE(problems[0].what.starts_with(what)) << problems[0].what;
        EXPECT_EQ(problems[0].file, path);
    }
}

TEST(Problem, ReadsAsOneLine) {
    EXPECT_EQ(
        to_string({"day.toml", 12, "pilot 'Ann', video", "is missing", "a table", "vidoe"}),
        "day.toml:12: pilot 'Ann', video: is missing; expected a table; did you mean 'vidoe'?");
    EXPECT_EQ(to_string({"day.toml", 0, "", "is a folder", "", ""}), "day.toml: is a folder");
}

}  // namespace
}  // namespace fieldpeg::book
