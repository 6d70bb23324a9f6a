#include "server/book/names.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace fieldpeg::book {
namespace {

const std::string composed = "Zo\u00eb";     // one character for e with two dots
const std::string decomposed = "Zoe\u0308";  // an e, and two dots to go above it

std::string why_not(std::string_view written) {
    std::string why;
    EXPECT_FALSE(proper_name(written, why)) << printable(written) << " was taken";
    return why;
}

std::string proper(std::string_view written) {
    std::string why;
    const auto name = proper_name(written, why);
    EXPECT_TRUE(name) << printable(written) << " " << why;
    return name.value_or("");
}

TEST(ProperName, IsKeptAsItWasWritten) {
    for (const std::string name : {"Ann", "Dee's tripod", "O\u2019Hara", "\u674e\u96f7", "x",
                                   "Pilot 7 (spare)", "J\u00f8rgen"})
        EXPECT_EQ(proper(name), name);
}

TEST(ProperName, ComesInItsComposedForm) {
    EXPECT_EQ(proper(decomposed), composed);
    EXPECT_EQ(proper(composed), composed);
}

TEST(ProperName, HasOneToFortyCharacters) {
    EXPECT_EQ(proper(std::string(40, 'a')).size(), 40u);
    EXPECT_NE(why_not(std::string(41, 'a')).find("41"), std::string::npos);
    EXPECT_NE(why_not(std::string(900, 'a')).find("900"), std::string::npos);
    EXPECT_NE(why_not("").find("0 characters"), std::string::npos);
}

// What comes is as long as a message may be. Putting accents into their order takes as many steps
// as there are pairs of them [UAX15, D109 of its core specification]: of a million, hours.
TEST(ProperName, OfMoreBytesThanANameHasIsRefusedUnread) {
    std::string marks = "e";
    while (marks.size() < (1 << 20)) marks += "\u0308\u0323";  // above, then below: out of order
    EXPECT_NE(why_not(marks).find(std::to_string(marks.size()) + " bytes"), std::string::npos);
    EXPECT_EQ(name_key(marks), marks);
    EXPECT_NE(why_not(std::string(name_bytes_max, 'a')).find("characters"), std::string::npos);
    EXPECT_NE(why_not(std::string(name_bytes_max + 1, 'a')).find("bytes"), std::string::npos);
}

TEST(NameKey, IsOfWhatIsAsLongAsANameMayBe) {
    EXPECT_EQ(name_key(std::string(name_bytes_max, 'A')), std::string(name_bytes_max, 'a'));
    const std::string longer(name_bytes_max + 1, 'A');
    EXPECT_EQ(name_key(longer), longer);
}

// Characters, not bytes; and an accent composed with its letter is one of them.
TEST(ProperName, CountsCharactersAndNotBytes) {
    std::string forty_wide, forty_accented;
    for (int i = 0; i < 40; ++i) {
        forty_wide += "\u98db";
        forty_accented += "e\u0308";
    }
    EXPECT_EQ(proper(forty_wide), forty_wide);
    EXPECT_EQ(proper(forty_accented).size(), 80u);
    EXPECT_FALSE(why_not(forty_wide + "\u98db").empty());
}

TEST(ProperName, HasNothingInvisible) {
    for (const auto& name :
         {std::string("A\nnn"), std::string("A\tnn"), std::string("Ann\0", 4),
          std::string("A\x1b[31mnn"), std::string("A\u200bnn"), std::string("A\u202enn"),
          std::string("A\u00adnn"), std::string("A\u0085nn"), std::string("A\u2028nn"),
          std::string("A\ue000nn"), std::string("A\x7fnn"), std::string("A\u2066nn"),
          std::string("Ann\ufe0f"), std::string("Ann\u3164"), std::string("A\u034fnn"),
          std::string("Ann\U000e0041"), std::string("Ann\u2800")})
        EXPECT_NE(why_not(name).find("invisible"), std::string::npos) << printable(name);
}

TEST(ProperName, NeitherBeginsNorEndsWithASpace) {
    for (const std::string name : {" Ann", "Ann ", "\u00a0Ann", "Ann\u3000", " "})
        EXPECT_NE(why_not(name).find("space"), std::string::npos) << name;
    EXPECT_EQ(proper("Ann B"), "Ann B");
}

TEST(ProperName, IsValidUtf8) {
    for (const std::string name : {"\xff", "Ann\x80", "\xc3", "\xed\xa0\x80", "\xc0\xaf"})
        EXPECT_NE(why_not(name).find("UTF-8"), std::string::npos) << printable(name);
}

TEST(NameKey, IsTheSameButForCaseAndComposition) {
    EXPECT_EQ(name_key("ANN"), name_key("ann"));
    EXPECT_EQ(name_key(composed), name_key(decomposed));
    EXPECT_EQ(name_key("ZO\u00cb"), name_key(decomposed));
    EXPECT_EQ(name_key("Stra\u00dfe"), name_key("STRASSE"));
    EXPECT_NE(name_key("Ann"), name_key("Anna"));
    EXPECT_NE(name_key("Zoe"), name_key(composed));
}

TEST(NameKey, OfWhatIsNoTextIsThat) {
    EXPECT_EQ(name_key("\xff"), "\xff");
    EXPECT_EQ(name_key(""), "");
}

const std::vector<std::string> gear = {"fm-video", "fm-video-wide", "ofdm-20", "ofdm-40",
                                       "Zo\u00eb"};

TEST(Nearest, IsWhatWasMeant) {
    EXPECT_EQ(nearest("fm-vidoe", gear), "fm-video");
    EXPECT_EQ(nearest("FM-VIDEO-WIDE", gear), "fm-video-wide");
    EXPECT_EQ(nearest("ofdm-2", gear), "ofdm-20");
    EXPECT_EQ(nearest("wide", gear), "fm-video-wide");  // part of a name
}

// Who leaves an accent out has made one mistake.
TEST(Nearest, CountsCharactersAndNotBytes) {
    EXPECT_EQ(nearest("Zoe", gear), "Zo\u00eb");
}

TEST(Nearest, IsNothingWhenNothingIsNear) {
    EXPECT_EQ(nearest("helicopter", gear), "");
    EXPECT_EQ(nearest("", gear), "");
    EXPECT_EQ(nearest("fm-video", {}), "");
    EXPECT_EQ(nearest(std::string(10'000, 'x'), gear), "");
}

TEST(Printable, ShowsControlCharactersByTheirNumber) {
    EXPECT_EQ(printable("A\x1b[31m\n"), "A\\x1b[31m\\x0a");
    EXPECT_EQ(printable(std::string_view("\0\x7f", 2)), "\\x00\\x7f");
    EXPECT_EQ(printable("Zo\u00eb"), "Zo\u00eb");
}

// Unicode's charts: C1 controls, General Punctuation, Tags, Variation Selectors, Hangul
// Compatibility Jamo, Braille Patterns, Private Use; a code point that no character has.
TEST(Visible, ShowsByItsNumberWhatCannotBeSeen) {
    EXPECT_EQ(visible("a\tb\n\x1b[2J\x7f"), "a\\x09b\\x0a\\x1b[2J\\x7f");
    EXPECT_EQ(visible("\u0085\u009b2J"), "\\u{85}\\u{9b}2J");
    EXPECT_EQ(visible("\u202eAnn\u202c\u2066\u2069"), "\\u{202e}Ann\\u{202c}\\u{2066}\\u{2069}");
    EXPECT_EQ(visible("a\u2028b\u2029\u200b\ufeff"), "a\\u{2028}b\\u{2029}\\u{200b}\\u{feff}");
    EXPECT_EQ(visible("\U000e0001\U000e0041\ufe0f"), "\\u{e0001}\\u{e0041}\\u{fe0f}");
    EXPECT_EQ(visible("\ufff9a\u0600"), "\\u{fff9}a\\u{600}");  // of category Cf, and not ignorable
    EXPECT_EQ(visible("\u3164\u2800\ue000\u0378"), "\\u{3164}\\u{2800}\\u{e000}\\u{378}");
}

// The Unicode Standard, table 3-7 (well-formed UTF-8): a stray byte, one cut short, an overlong
// slash, half of a surrogate pair, beyond U+10FFFF.
TEST(Visible, ShowsTheBytesOfWhatIsNoUtf8) {
    EXPECT_EQ(visible("a\x9bz"), "a\\x9bz");
    EXPECT_EQ(visible("\xe2\x82"), "\\xe2\\x82");
    EXPECT_EQ(visible("\xc0\xaf"), "\\xc0\\xaf");
    EXPECT_EQ(visible("\xed\xa0\x80"), "\\xed\\xa0\\x80");
    EXPECT_EQ(visible("\xf4\x90\x80\x80"), "\\xf4\\x90\\x80\\x80");
}

TEST(Visible, LeavesWhatPeopleWrite) {
    for (const std::string text :
         {"", "Ann", "Zo\u00eb", "\u98db\u884c", "\u0623\u062d\u0645\u062f",
          "25 mW \u2013 \u201cquick\u201d", "\U0001f681", "a\u00a0b"}) {
        EXPECT_EQ(visible(text), text);
        EXPECT_TRUE(is_visible(text)) << text;
    }
    EXPECT_FALSE(is_visible("a\u200bb"));
}

TEST(Printable, IsCutBetweenCharacters) {
    EXPECT_EQ(printable("abcdef", 3), "abc...");
    EXPECT_EQ(printable("abc", 3), "abc");
    for (std::size_t bytes = 0; bytes < 6; ++bytes) {  // two characters of three bytes each
        const auto cut = printable("\u98db\u98db", bytes);
        EXPECT_EQ(cut, bytes < 3 ? "..." : "\u98db...") << bytes;
    }
}

}  // namespace
}  // namespace fieldpeg::book
