#include "client/show/table.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <sstream>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

TEST(Table, StandsInColumnsTwoSpacesApart) {
    Table table({{"pilot"}, {"margin", Table::Align::right}, {"verdict"}});
    table.row({"Ann", "+2.2", "steady"});
    table.row({"Benjamin", "-10.4", "clash"});
    EXPECT_EQ(table.text({}),
              "pilot     margin  verdict\n"
              "Ann         +2.2  steady\n"
              "Benjamin   -10.4  clash\n");
}

// Wide characters take two columns, an accent put on a letter none, a colour none.
TEST(Table, CountsColumnsAndNotBytes) {
    Table table({{"who"}, {"what"}});
    table.row({"\u98db\u884c", "a"});
    table.row({"Zoe\u0308", "b"});
    table.row({"\x1b[1;31mclash\x1b[0m", "c"});
    const auto lines = lines_of(table.text({}));
    for (const auto& line : lines)
        EXPECT_EQ(columns(line.substr(0, line.find_last_of(' ') + 1)), 7u) << line;
}

TEST(Table, HasNoSpacesAtTheEndOfALine) {
    Table table({{"a long title"}, {""}});
    table.row({"x", ""});
    table.row({"x", "y "});
    for (const auto& line : lines_of(table.text({}))) EXPECT_FALSE(line.ends_with(' ')) << line;
}

TEST(Table, WrapsItsLastColumnUnderItself) {
    Table table({{"who"}, {"why"}});
    table.row({"Ann", "the area is larger than power and antennas reach"});
    EXPECT_EQ(table.text({.width = 30, .colour = false}),
              "who  why\n"
              "Ann  the area is larger than\n"
              "     power and antennas reach\n");
}

TEST(Table, DoesNotWrapWhereThereIsNoRoomOrNoEnd) {
    Table table({{"who"}, {"why"}});
    table.row({"Ann", "the area is larger than power and antennas reach"});
    EXPECT_EQ(lines_of(table.text({.width = 20, .colour = false})).size(), 2u);
    EXPECT_EQ(lines_of(table.text({})).size(), 2u);
}

TEST(Table, IsEmptyUntilItHasARow) {
    Table table({{"who"}});
    EXPECT_TRUE(table.empty());
    EXPECT_EQ(table.text({}), "who\n");
    table.row({""});
    EXPECT_FALSE(table.empty());
}

std::string random_words(std::mt19937_64& rng) {
    std::string text;
    for (int i = testing::whole(rng, 0, 30); i > 0; --i) {
        text += testing::one_of(rng, {"a", "margin", "Zo\u00eb", "\u98db\u884c", "5806", "-"});
        text += testing::chance(rng, 20) ? "  " : " ";
    }
    return text;
}

std::string without_spaces(std::string text) {
    std::erase(text, ' ');
    return text;
}

// Whatever the words: no line too wide unless it is one word, none lost.
TEST(Wrapped, KeepsTheWidthAndTheWords) {
    testing::for_all(200, [](std::mt19937_64& rng) {
        const auto text = random_words(rng);
        const auto width = static_cast<std::size_t>(testing::whole(rng, 1, 40));
        std::string together;
        for (const auto& line : wrapped(text, width)) {
            EXPECT_TRUE(columns(line) <= width || line.find(' ') == line.npos) << line;
            together += line;
        }
        EXPECT_EQ(without_spaces(together), without_spaces(text));
    });
}

TEST(Wrapped, IsOneLineWhereThereIsNoEnd) {
    EXPECT_EQ(wrapped("one two  three", 0), std::vector<std::string>{"one two  three"});
    EXPECT_EQ(wrapped("", 10), std::vector<std::string>{""});
    EXPECT_EQ(wrapped("    ", 2), std::vector<std::string>{""});
}

TEST(Item, IndentsLaterLinesUnderTheFirst) {
    EXPECT_EQ(item("  - ", "set 25 mW and stay where you are", {.width = 26, .colour = false}),
              "  - set 25 mW and stay\n"
              "    where you are\n");
    EXPECT_EQ(item("  ! ", "short", {}), "  ! short\n");
}

}  // namespace
}  // namespace fieldpeg::show
