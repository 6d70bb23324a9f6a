#include "server/book/channels.h"

#include "server/book/library.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace fieldpeg::book {
namespace {

const ChannelNames& names() {
    static const ChannelNames all(library().rows());
    return all;
}

void expect_reads(std::string_view written, const char* name, double mhz) {
    std::string why;
    const auto channel = names().read(written, why);
    ASSERT_TRUE(channel) << written << ": " << why;
    EXPECT_EQ(channel->name(), name) << written;
    EXPECT_EQ(channel->mhz(), mhz) << written;
    EXPECT_EQ(why, "") << written;
}

void expect_refuses(std::string_view written, const char* phrase) {
    std::string why;
    EXPECT_FALSE(names().read(written, why)) << written << " was taken";
    EXPECT_NE(why.find(phrase), std::string::npos) << written << ": " << why;
}

TEST(Channel, IsReadByItsRowAndNumber) {
    expect_reads("R3", "R3", 5732);
    expect_reads("r3", "R3", 5732);
    expect_reads("A1", "A1", 5865);
    expect_reads("e8", "E8", 5945);
    expect_reads("F8", "F8", 5880);
}

TEST(Channel, IsReadByItsFrequency) {
    expect_reads("5806", "5806", 5806);
    expect_reads("5806MHz", "5806", 5806);
    expect_reads("5806 mhz", "5806", 5806);
    expect_reads("5.806GHz", "5806", 5806);
    expect_reads("5.806 ghz", "5806", 5806);
    expect_reads("5806.5", "5806.5", 5806.5);
    expect_reads("1280.0", "1280", 1280);
}

// What is finer than a kilohertz is rounded to the nearest.
TEST(Channel, LiesOnWholeKilohertz) {
    expect_reads("5800.0004", "5800", 5800);
    expect_reads("5800.0006", "5800.001", 5800.001);
    expect_reads("5.8000006GHz", "5800.001", 5800.001);
}

// Called by no more decimals than that, whatever a double makes of it.
TEST(Channel, IsCalledByAtMostThreeDecimals) {
    for (int khz = 0; khz < 1'000; ++khz) {
        const auto written = fmt::format("{}.{:03}", 5'650 + khz % 300, khz);
        std::string why;
        const auto channel = names().read(written, why);
        ASSERT_TRUE(channel) << written;
        const auto point = channel->name().find('.');
        EXPECT_TRUE(point == std::string::npos || channel->name().size() - point <= 4)
            << written << " is called " << channel->name();
    }
}

TEST(Channel, OfAnUnknownRowIsRefusedWithTheRows) {
    for (const auto* written : {"Z1", "L1", "X", "!", " R3"})
        expect_refuses(written, "is no channel: a row (A, B, E, F, R)");
    expect_refuses("", "is no channel");
}

TEST(Channel, OutsideItsRowIsRefusedWithTheRowsEnds) {
    for (const auto* written :
         {"R9", "R0", "R", "R-1", "R1.5", "R3x", "RR3", "R99999999999999999999"})
        expect_refuses(written, "row R goes from R1 to R8");
}

TEST(Channel, OutsideTheModelIsRefused) {
    for (const auto* written : {"-5806", "0", "99.9", "10001", "1e9", "1e300", "5806GHz"})
        expect_refuses(written, "outside 100 to 10000 MHz");
    expect_reads("100", "100", 100);
    expect_reads("10000", "10000", 10'000);
}

TEST(Channel, IsANumberThatExists) {
    for (const auto* written : {"nan", "inf", "-inf", "1e999", "infinity"})
        expect_refuses(written, "is no channel");
    expect_refuses("5806kHz", "neither MHz nor GHz");
    expect_refuses("5806 R3", "neither MHz nor GHz");
}

TEST(Channel, IsPrintedSafelyWhenItIsRefused) {
    expect_refuses("\x1b[31mR3", "\\x1b");
    std::string why;
    EXPECT_FALSE(names().read(std::string(10'000, 'Q'), why));
    EXPECT_LT(why.size(), 200u);
}

std::vector<std::string> range(std::string_view written) {
    std::string why;
    std::vector<std::string> list;
    for (const auto& channel : names().read_range(written, why)) list.push_back(channel.name());
    EXPECT_EQ(why, "") << written;
    return list;
}

TEST(ChannelRange, HasBothEnds) {
    EXPECT_EQ(range("R1-R3"), (std::vector<std::string>{"R1", "R2", "R3"}));
    EXPECT_EQ(range("r7-R8"), (std::vector<std::string>{"R7", "R8"}));
    EXPECT_EQ(range("A5-A5"), std::vector<std::string>{"A5"});
    EXPECT_EQ(range("R1-R8").size(), 8u);
    EXPECT_EQ(range("F2"), std::vector<std::string>{"F2"});
    EXPECT_EQ(range("5790"), std::vector<std::string>{"5790"});
}

TEST(ChannelRange, LiesInOneRowTheLowerNumberFirst) {
    for (const auto* written : {"R3-R1", "R1-F2", "5658-5695", "R1-5800", "5800-R1"}) {
        std::string why;
        EXPECT_TRUE(names().read_range(written, why).empty()) << written;
        EXPECT_NE(why.find("is no range"), std::string::npos) << written << ": " << why;
    }
}

TEST(ChannelRange, RefusesAnEndThatIsNoChannel) {
    for (const auto* written : {"R1-R9", "R0-R3", "R1-", "-R3", "-", "R1-R3-R5", "Z1-Z3"}) {
        std::string why;
        EXPECT_TRUE(names().read_range(written, why).empty()) << written;
        EXPECT_FALSE(why.empty()) << written;
    }
}

void expect_power(std::string_view written, double dbm) {
    std::string why;
    const auto power = read_power_dbm(written, why);
    ASSERT_TRUE(power) << written << ": " << why;
    EXPECT_NEAR(*power, dbm, 0.0005) << written;
}

TEST(Power, IsReadInMilliwattsWattsAndDecibels) {
    expect_power("25mW", 13.979);
    expect_power("25 mW", 13.979);
    expect_power("25", 13.979);
    expect_power("0.6W", 27.782);
    expect_power("600mW", 27.782);
    expect_power("14dBm", 14);
    expect_power("14 dBm", 14);
    expect_power("-10dBm", -10);
    expect_power("0dBm", 0);
    expect_power("1e-6", -60);
    expect_power("100W", 50);
}

TEST(Power, IsAboveZero) {
    for (const auto* written : {"0", "0mW", "-5", "-5mW", "-0.6W"}) {
        std::string why;
        EXPECT_FALSE(read_power_dbm(written, why)) << written;
        EXPECT_NE(why.find("above zero"), std::string::npos) << why;
    }
}

TEST(Power, IsNotAbsurd) {
    for (const auto* written : {"101W", "1e9", "50.001dBm", "-60.001dBm", "1e-7mW"}) {
        std::string why;
        EXPECT_FALSE(read_power_dbm(written, why)) << written;
        EXPECT_NE(why.find("-60 to 50 dBm"), std::string::npos) << why;
    }
}

TEST(Power, IsANumberWithAUnitOfPower) {
    for (const auto* written : {"nan", "inf", "-inf", "nan mW", "1e999", "", "mW", "much"}) {
        std::string why;
        EXPECT_FALSE(read_power_dbm(written, why)) << written;
        EXPECT_NE(why.find("is no power"), std::string::npos) << why;
    }
    std::string why;
    EXPECT_FALSE(read_power_dbm("25dBi", why));
    EXPECT_NE(why.find("none of mW, W and dBm"), std::string::npos) << why;
}

}  // namespace
}  // namespace fieldpeg::book
