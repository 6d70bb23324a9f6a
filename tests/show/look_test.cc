#include "client/show/look.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <string>

namespace fieldpeg::show {
namespace {

constexpr Look coloured{0, true};

TEST(DbText, HasASignAndOneDecimal) {
    EXPECT_EQ(db_text(2.24), "+2.2");
    EXPECT_EQ(db_text(-10.06), "-10.1");
    EXPECT_EQ(db_text(100), "+100.0");
}

// The sign decides a verdict, so what is near zero keeps it: two decimals, and none for nothing.
TEST(DbText, KeepsItsSignNearZero) {
    EXPECT_EQ(db_text(0), "0.0");
    EXPECT_EQ(db_text(-0.0), "0.0");
    EXPECT_EQ(db_text(0.004), "0.0");
    EXPECT_EQ(db_text(0.02), "+0.02");
    EXPECT_EQ(db_text(-0.02), "-0.02");
    EXPECT_EQ(db_text(-0.049), "-0.05");
    EXPECT_EQ(db_text(-0.06), "-0.1");
}

// A margin is shaky from -0.001 dB on, and nobody reads 'shaky' beside '0.0'.
TEST(DbText, NeverShowsNothingForWhatIsShort) {
    EXPECT_NE(db_text(-0.001), "0.0");
    EXPECT_NE(db_text(-0.004), "0.0");
}

TEST(Columns, AreThoseOfATerminal) {
    EXPECT_EQ(columns(""), 0u);
    EXPECT_EQ(columns("Ann"), 3u);
    EXPECT_EQ(columns("Zo\u00eb"), 3u);
    EXPECT_EQ(columns("Zoe\u0308"), 3u);
    EXPECT_EQ(columns("\u98db\u884c"), 4u);
    EXPECT_EQ(columns("\x1b[1;31mclash\x1b[0m"), 5u);
    EXPECT_EQ(columns("\x1b[33m"), 0u);
}

TEST(Columns, OfWhatIsNoTextComeToAnEnd) {
    EXPECT_LE(columns("\xff\xfe\x80"), 3u);
    EXPECT_EQ(columns("ab\x1b[31"), 2u);
    EXPECT_EQ(columns("ab\x1b"), 2u);
}

TEST(VerdictText, IsTheWordWithOrWithoutColour) {
    for (int i = 1; i < v1::Verdict::Word_ARRAYSIZE; ++i) {
        const auto verdict = static_cast<v1::Verdict::Word>(i);
        const auto plain = verdict_text(verdict, {});
        const auto painted = verdict_text(verdict, coloured);
        EXPECT_EQ(plain.find('\x1b'), plain.npos) << plain;
        EXPECT_NE(painted.find(plain), painted.npos) << plain;  // colour beside the word
        EXPECT_EQ(columns(painted), columns(plain)) << plain;
    }
    EXPECT_EQ(verdict_text(v1::Verdict::too_far, {}), "too far");
    EXPECT_EQ(verdict_text(v1::Verdict::no_picture, {}), "no picture");
}

TEST(VerdictText, IsPaintedWhereItNeedsEyes) {
    for (const auto verdict :
         {v1::Verdict::clash, v1::Verdict::shaky, v1::Verdict::tight, v1::Verdict::too_far})
        EXPECT_TRUE(verdict_text(verdict, coloured).starts_with("\x1b["))
            << verdict_text(verdict, {});
    EXPECT_EQ(verdict_text(v1::Verdict::steady, coloured), "steady");
}

TEST(Heading, IsPaintedOnlyInColour) {
    EXPECT_EQ(heading("Pilots", {}), "Pilots\n");
    EXPECT_EQ(heading("Pilots", coloured), "\x1b[1mPilots\x1b[0m\n");
}

TEST(MakersText, ReadsAsTheProductIsMade) {
    v1::Contribution c;
    EXPECT_EQ(makers_text(c), "");
    c.add_from("Ann");
    EXPECT_EQ(makers_text(c), "Ann");
    c.add_from("Ben");
    EXPECT_EQ(makers_text(c), "2 x Ann - Ben");
    c.add_from("Cem");
    EXPECT_EQ(makers_text(c), "Ann + Ben - Cem");
}

TEST(KindText, HasWordsForEveryKind) {
    for (int i = 1; i < v1::Contribution::Kind_ARRAYSIZE; ++i)
        EXPECT_NE(kind_text(static_cast<v1::Contribution::Kind>(i)), "unknown");
}

// Where there is no terminal, and in a test there is none, text is plain.
TEST(LookOfStdout, IsPlainWithoutATerminal) {
    if (isatty(STDOUT_FILENO)) GTEST_SKIP() << "run with its output in a file";
    EXPECT_EQ(look_of_stdout().width, 0u);
    EXPECT_FALSE(look_of_stdout().colour);
}

}  // namespace
}  // namespace fieldpeg::show
