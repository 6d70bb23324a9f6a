#include "server/book/wifi.h"

#include <gtest/gtest.h>

#include <utility>

namespace fieldpeg::book {
namespace {

// IEEE 802.11: the centre is the start of the band, 2407 or 5000 MHz, and 5 MHz times the number;
// channel 14 lies 12 MHz above 13 [from memory].
TEST(Wifi, HasItsChannelsWhereTheStandardHasThem) {
    for (const auto& [number, mhz] : {std::pair{1, 2412.0},
                                      {6, 2437.0},
                                      {11, 2462.0},
                                      {13, 2472.0},
                                      {14, 2484.0},
                                      {36, 5180.0},
                                      {64, 5320.0},
                                      {100, 5500.0},
                                      {144, 5720.0},
                                      {149, 5745.0},
                                      {165, 5825.0}}) {
        const auto read = wifi_mhz(number, 20);
        ASSERT_TRUE(read) << number;
        EXPECT_EQ(*read, mhz) << number;
        EXPECT_EQ(wifi_mhz(number, 10).value(), mhz) << number;
    }
}

// Pairs of 40 MHz on 5 GHz lie between their two channels [IEEE 802.11, from memory].
TEST(Wifi, HasFortyMegahertzBetweenTheTwoChannelsOfAPair) {
    for (const auto& [number, mhz] :
         {std::pair{36, 5190.0}, {40, 5190.0},  {38, 5190.0},  {44, 5230.0},  {46, 5230.0},
          {60, 5310.0},          {64, 5310.0},  {100, 5510.0}, {104, 5510.0}, {102, 5510.0},
          {132, 5670.0},         {136, 5670.0}, {140, 5710.0}, {144, 5710.0}, {149, 5755.0},
          {153, 5755.0},         {151, 5755.0}, {157, 5795.0}, {161, 5795.0}, {159, 5795.0}}) {
        const auto read = wifi_mhz(number, 40);
        ASSERT_TRUE(read) << number;
        EXPECT_EQ(*read, mhz) << number;
    }
}

TEST(Wifi, HasNoOtherNumbers) {
    for (const int number : {-1, 0, 15, 35, 37, 38, 42, 68, 96, 148, 151, 181, 200}) {
        const auto read = wifi_mhz(number, 20);
        ASSERT_FALSE(read) << number;
        EXPECT_EQ(read.error().where, "wifi");
    }
    for (const int number : {15, 37, 42, 66, 68, 106, 146, 148, 181, 200})
        EXPECT_FALSE(wifi_mhz(number, 40)) << number;
}

// On 2.4 GHz the second half of 40 MHz may lie above or below.
TEST(Wifi, DoesNotGuessWhereFortyMegahertzLieOnTheLowerBand) {
    for (const int number : {1, 6, 13, 14}) {
        const auto read = wifi_mhz(number, 40);
        ASSERT_FALSE(read) << number;
        EXPECT_EQ(read.error().where, "width_mhz");
        EXPECT_FALSE(read.error().next.empty());
    }
}

}  // namespace
}  // namespace fieldpeg::book
