#include "server/day/text_width.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <string>

namespace fieldpeg::day {
namespace {

using testing::chance;
using testing::for_all;
using testing::one_of;
using testing::whole;

// The advance widths of DejaVu Sans 2.37, as its table "hmtx" has them, in 1/2048 of the size: read
// by a program of its own. A text is never narrower there than we say it is.
TEST(TextWidth, IsThatOfAWideTypeface) {
    struct {
        const char* text;
        double units;
    } const known[] = {
        {"W", 2025},      {"i", 569}, {"0", 1303}, {" ", 651}, {"Finn", 1178 + 569 + 2 * 1298},
        {"\u0416", 2206},  // Cyrillic Zhe
        {"\u0449", 1929},  // shcha
        {"\u043E", 1253},  // o
        {"\u00E9", 1260},  // e with an acute accent
        {"\u03C9", 1715},  // omega
        {"\u05E9", 1451},  // shin
    };
    for (const auto& [text, units] : known) {
        EXPECT_GE(text_width(text, 2048) + 1e-9, units) << text;
        EXPECT_LE(text_width(text, 2048), units * 1.35 + 1) << text;
    }
}

TEST(TextWidth, CountsWideCharactersTwiceAndAccentsNotAtAll) {
    EXPECT_GT(text_width("\u4E2D", 10), 10);                           // an ideograph is square
    EXPECT_DOUBLE_EQ(text_width("e\u0301", 10), text_width("e", 10));  // a combining accent
    EXPECT_DOUBLE_EQ(text_width("", 10), 0);
    EXPECT_GT(text_width("\xFF\xFE", 10), 0);  // no UTF-8: something will be drawn
}

std::string random_text(std::mt19937_64& rng) {
    std::string text;
    for (int i = whole(rng, 0, 60); i > 0; --i)
        text += one_of<std::string>(
            rng, {"a", "W", "i", " ", " ", "\u0436", "\u4E2D", "e\u0301", "\u0645", "-"});
    return text;
}

std::string without_spaces(std::string text) {
    std::erase(text, ' ');
    return text;
}

TEST(Wrapped, KeepsToTheWidthAndLosesNothing) {
    for_all(2000, [](std::mt19937_64& rng) {
        const auto text = random_text(rng);
        const double width = testing::between(rng, 5, 200);
        std::string joined;
        for (const auto& line : wrapped(text, 10, width)) {
            // One ideograph, the widest character here, may be wider than the line.
            EXPECT_LE(text_width(line, 10), std::max(width, 10.6)) << line;
            EXPECT_TRUE(text.empty() || without_spaces(text).empty() || !line.empty());
            EXPECT_FALSE(line.starts_with("\u0301")) << "an accent came off its letter";
            joined += without_spaces(line);
        }
        EXPECT_EQ(joined, without_spaces(text));
    });
}

TEST(Wrapped, BreaksBetweenWordsWhereItCan) {
    EXPECT_EQ(wrapped("Ann and Ben", 10, text_width("Ann and", 10)),
              (std::vector<std::string>{"Ann and", "Ben"}));
    EXPECT_EQ(wrapped("", 10, 50), std::vector<std::string>{""});
    EXPECT_EQ(wrapped("at " + unbroken("200 mW"), 10, text_width("200 mW", 10)).size(), 2U);
}

}  // namespace
}  // namespace fieldpeg::day
