#include "client/show/table.h"

#include "server/day/phrases.h"

#include <gtest/gtest.h>

#include <string>

/// Remarks that many share, said once. People and channels are invented.
namespace fieldpeg::show {
namespace {

void add(google::protobuf::RepeatedPtrField<v1::Remark>& all, const std::string& who,
         const std::string& channel, const std::string& what, const std::string& source) {
    auto& remark = *all.Add();
    remark.set_transmitter(who);
    remark.set_text(channel + " (5658 MHz), occupied 1-2 MHz: " + what);
    remark.set_source(source);
}

TEST(Remarks, ThatManyShareAreOneLineWithTheNames) {
    google::protobuf::RepeatedPtrField<v1::Remark> all;
    for (const auto* who : {"Ann", "Ben", "Cyd", "Dee"})
        add(all, who, "R1", "not within a band", "a table");
    add(all, "Ann", "R1", "touches radar", "another");
    add(all, "Edda", "R2", "touches radar", "another");
    add(all, "Edda", "R2", "loud: very", "another");
    EXPECT_EQ(remarks_text(all, {}),
              "  Ann on R1, Ben on R1 and 2 others: not within a band [1]\n"
              "  Ann on R1 and Edda on R2: touches radar [2]\n"
              "  Edda: R2 (5658 MHz), occupied 1-2 MHz: loud: very [2]\n"
              "  [1] a table\n"
              "  [2] another\n");
}

TEST(Remarks, OfNoChannelHaveTheNamesAlone) {
    google::protobuf::RepeatedPtrField<v1::Remark> all;
    for (const auto* who : {"Ann", "Ben"}) {
        auto& remark = *all.Add();
        remark.set_transmitter(who);
        remark.set_text("200 mW is above the club's limit of 25 mW");
        remark.set_source("the day file");
    }
    EXPECT_EQ(remarks_text(all, {}),
              "  Ann and Ben: 200 mW is above the club's limit of 25 mW [1]\n  [1] the day file\n");
}

TEST(Names, AreAllToldUpToThree) {
    EXPECT_EQ(day::names_text({"Ann"}), "Ann");
    EXPECT_EQ(day::names_text({"Ann", "Ben"}), "Ann and Ben");
    EXPECT_EQ(day::names_text({"Ann", "Ben", "Cyd"}), "Ann, Ben and Cyd");
    EXPECT_EQ(day::names_text({"Ann", "Ben", "Cyd", "Dee"}), "Ann, Ben and 2 others");
}

}  // namespace
}  // namespace fieldpeg::show
