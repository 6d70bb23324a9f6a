#include "server/book/lookalikes.h"

#include <gtest/gtest.h>

#include <string>
#include <utility>
#include <vector>

/// Pairs that look the same. Where it is said, they are the examples of Unicode Technical Standard
/// #39 (Unicode Security Mechanisms), section 4, quoted from memory, or lines of its data file
/// confusables.txt; else from Unicode's charts.
namespace fieldpeg::book {
namespace {

using Names = std::vector<std::string>;
using Pair = std::pair<std::string, std::string>;

bool look_alike(const std::string& a, const std::string& b) {
    return Skeleton(a) == Skeleton(b) && Skeleton(b) == Skeleton(a);
}

TEST(Lookalikes, AreThePublishedExamples) {
    for (const auto& [a, b] : {
             Pair{"ljeto", "\u01c9eto"},                       // of one script
             Pair{"paypal", "p\u0430yp\u0430l"},               // of several: Cyrillic a
             Pair{"scope", "\u0455\u0441\u043e\u0440\u0435"},  // of one each: all Cyrillic
             Pair{"rn", "m"},
             Pair{"l", "1"},
             Pair{"l", "I"},
             Pair{"O", "0"},  // confusables.txt
             Pair{"O'Hara", "O\u2019Hara"},
         })
        EXPECT_TRUE(look_alike(a, b)) << a << " and " << b;
}

TEST(Lookalikes, AreOtherScriptsWidthsAndWhatCannotBeSeen) {
    for (const auto& name : {
             "\u0410nn",            // Cyrillic capital A
             "\u0391nn",            // Greek capital Alpha
             "\uff21\uff4e\uff4e",  // full-width
             "A\u200bnn",
             "Ann\ufe0f",
             "A\u034fnn",
             "\u202aAnn",
             "Ann\U000e0041",
             "Ann\u3164",
             "\U0001d400nn",  // mathematical bold A
             "ANN",
         })
        EXPECT_TRUE(look_alike("Ann", name)) << name;
    EXPECT_TRUE(look_alike("Bill", "BiII"));
    EXPECT_TRUE(look_alike("Bill", "Bi\u200bII"));
    EXPECT_TRUE(look_alike("Olly", "O11y"));
    EXPECT_TRUE(look_alike("OLLY", "0lly"));
    EXPECT_TRUE(look_alike("Dee's tripod", "Dee\u2019s  tripod"));
    EXPECT_TRUE(look_alike("Ann B", "Ann\u00a0B"));
}

TEST(Lookalikes, AreNotNamesThatCanBeToldApart) {
    for (const auto& [a, b] : {Pair{"Ann", "Anna"}, Pair{"Ann", "Ben"}, Pair{"Zoe", "Zo\u00eb"},
                               Pair{"Ian", "Lan"}, Pair{"Jan", "Jon"}, Pair{"Gil 1", "Gil 2"},
                               Pair{"\u674e\u96f7", "\u674e\u96ea"}, Pair{"Ann", ""}})
        EXPECT_FALSE(look_alike(a, b)) << a << " and " << b;
}

TEST(Lookalikes, OfANameAreOthersAndNotItself) {
    const Names known = {"Ann", "Ben", "\u0410nn", "ANN"};
    EXPECT_EQ(resembled("Ann", known), Names{"\u0410nn"});
    EXPECT_EQ(resembled("\u0391nn", known), (Names{"Ann", "\u0410nn", "ANN"}));
    EXPECT_EQ(resembled("Cem", known), Names{});
    EXPECT_EQ(resembled("\xff\xfe", known), Names{}) << "no text, and no fault";
}

// server/day/sentences.cc, scene.cc and server/log/pseudonyms.cc say these instead of a name.
TEST(Reserved, AreTheWordsOfTheProgramHoweverTheyAreWritten) {
    for (const auto* name : {"the server",
                             "The Server",
                             "the  server",
                             "th\u0435 s\u0435rver",
                             "somebody",
                             "S0mebody",
                             "person 4",
                             "Person 12",
                             "pers\u043en 4",
                             "person\u00a04",
                             "person \uff14",
                             "person \u0664",
                             "person l",
                             "sighting 1",
                             "sighting I",
                             "\uff53ighting 1",
                             "number 7",
                             "Ann's handset",
                             "Ann\u2019s ground side",
                             "marshal",
                             "The Marshal",
                             "#12",
                             "all"})
        EXPECT_TRUE(is_reserved(name)) << name;
}

TEST(Reserved, AreNotTheNamesOfPeopleAndThings) {
    for (const auto* name :
         {"Ann", "Server Steve", "Persona", "person", "Marshall Mathers", "Sighting Sid", "Pilot 7",
          "Allan", "Dee's tripod", "camp handset", "4", "person four"})
        EXPECT_FALSE(is_reserved(name)) << name;
}

TEST(Reserved, AreNotTheMarshalsForAMarshal) {
    EXPECT_FALSE(is_reserved("Marshal", Bearer::marshal));
    EXPECT_TRUE(is_reserved("the server", Bearer::marshal));
    EXPECT_TRUE(is_reserved("person 4", Bearer::marshal));
}

}  // namespace
}  // namespace fieldpeg::book
