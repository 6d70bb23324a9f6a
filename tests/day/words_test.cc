#include "server/day/words.h"

#include "server/day/sentences.h"

#include "server/day/phrases.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include <cmath>

namespace fieldpeg::day {
namespace {

TEST(Milli, RoundsToAThousandth) {
    EXPECT_EQ(milli(1.23449), 1.234);
    EXPECT_EQ(milli(-1.2346), -1.235);
    EXPECT_EQ(milli(5732), 5732);
    EXPECT_FALSE(std::signbit(milli(-0.0004)));  // no -0 in anybody's table
}

TEST(PowersText, TellsEverySettingOrThatThereIsNone) {
    v1::Transmitter transmitter;
    EXPECT_EQ(powers_text(transmitter), "any power");
    transmitter.add_power_dbm(13.979);
    EXPECT_EQ(powers_text(transmitter), "25 mW");
    transmitter.add_power_dbm(27.782);
    EXPECT_EQ(powers_text(transmitter), "25 mW, 600 mW");
}

TEST(PowersText, SaysThatItMayBeLess) {
    v1::Transmitter transmitter;
    transmitter.set_power_at_most(true);
    EXPECT_EQ(powers_text(transmitter), "any power");
    transmitter.add_power_dbm(27.782);
    EXPECT_EQ(powers_text(transmitter), "600 mW at most");
    transmitter.add_power_dbm(30);
    EXPECT_EQ(powers_text(transmitter), "600 mW, 1 W at most");
}

TEST(PowerText, SpeaksInMilliwattsAndWatts) {
    EXPECT_EQ(power_text(13.979), "25 mW");
    EXPECT_EQ(power_text(0), "1 mW");
    EXPECT_EQ(power_text(-10), "0.1 mW");
    EXPECT_EQ(power_text(27.782), "600 mW");
    EXPECT_EQ(power_text(29.996), "999 mW");
    EXPECT_EQ(power_text(29.999), "1 W");
    EXPECT_EQ(power_text(30.792), "1.2 W");
}

TEST(ChannelText, AlwaysSaysTheMegahertz) {
    v1::Channel channel;
    channel.set_name("R3");
    channel.set_mhz(5732);
    EXPECT_EQ(channel_text(channel), "R3 (5732 MHz)");
    channel.set_name("5362.5");
    channel.set_mhz(5362.5);
    EXPECT_EQ(channel_text(channel), "5362.5 MHz");
}

TEST(ThroughText, HasWordsForEveryKind) {
    for (int kind = 1; kind < v1::PowerWindow::Kind_ARRAYSIZE; ++kind)
        EXPECT_FALSE(through_text(static_cast<v1::PowerWindow::Kind>(kind)).empty());
}

TEST(LeftText, ShowsTheSignThatDecidesAVerdictAndNoneOfNothing) {
    v1::Harm harm;
    harm.set_before(v1::Verdict::tight);
    harm.set_after(v1::Verdict::shaky);
    harm.set_margin_before_db(0);
    harm.set_margin_after_db(-0.04);
    harm.set_through("Ben leaks across");
    EXPECT_EQ(left_text(harm), "-0.04 dB instead of 0.0 (Ben leaks across)");
}

TEST(OwnText, SaysNoMarginWhereThereIsNoPicture) {
    v1::PilotResult own;
    own.set_verdict(v1::Verdict::no_picture);
    own.set_reason("Ann holds no channel");
    EXPECT_EQ(own_text(own), "you would have no picture: Ann holds no channel");
}

TEST(DecibelText, IsANumberOrNone) {
    EXPECT_EQ(db_text(std::numeric_limits<double>::infinity()), "-");
    EXPECT_EQ(db_text(std::nan("")), "-");
    EXPECT_EQ(db_text(-0.0), "0.0");
}

// 456 days of 86 400 s and 8 hours of 3600 s are 39 427 200 s.
TEST(Words, SayByHowMuchAClockWasSetInWhatPeopleCountIn) {
    const auto said = [](std::int64_t by_ms) {
        v1::Event event;
        event.mutable_clock_jumped()->set_by_ms(by_ms);
        return sentence(event, v1::DayState());
    };
    EXPECT_EQ(said(-39'427'200'000), "the server's clock was set back by 456 days 8 h");
    EXPECT_EQ(said(-90'000'000), "the server's clock was set back by 1 day 1 h");
    EXPECT_EQ(said(-3'660'000), "the server's clock was set back by 1 h 1 min");
    EXPECT_EQ(said(-150'900), "the server's clock was set back by 2 min 30 s");
    EXPECT_EQ(said(-2'500), "the server's clock was set back by 2.5 s");
    EXPECT_EQ(said(7'200'000), "the server's clock was set forward by 2 h 0 min");
}

}  // namespace
}  // namespace fieldpeg::day
