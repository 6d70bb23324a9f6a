#include "client/show/times.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdint>
#include <cstdlib>
#include <ctime>
#include <string>

namespace fieldpeg::show {
namespace {

/// This machine stands in another zone for as long as it lives.
class Zone {
public:
    explicit Zone(const char* name) : had_one_(std::getenv("TZ") != nullptr) {
        if (had_one_) before_ = std::getenv("TZ");
        ::setenv("TZ", name, 1);
        ::tzset();
    }
    ~Zone() {
        if (had_one_)
            ::setenv("TZ", before_.c_str(), 1);
        else
            ::unsetenv("TZ");
        ::tzset();
    }
    Zone(const Zone&) = delete;
    Zone& operator=(const Zone&) = delete;

private:
    bool had_one_;
    std::string before_;
};

// In Berlin the clock goes from 3 back to 2 on 25 October 2026 at 1:00 UTC, and from 2 to 3 on
// 29 March 2026 at 1:00 UTC: the last Sundays of the months, as in all of the European Union.
constexpr std::int64_t back_ms = 1'792'890'000'000;
constexpr std::int64_t forward_ms = 1'774'746'000'000;
constexpr std::int64_t hour_ms = 3'600'000;
constexpr std::int64_t last_ms_of_second = 999;  ///< a moment is the end of its second

std::int64_t read(const std::string& written, std::int64_t day_ms) {
    const auto moment = read_moment(written, day_ms, day_ms);
    EXPECT_TRUE(moment) << written << ": " << moment.error().why;
    return moment ? moment->at_ms() : -1;
}

TEST(LocalTime, IsThatOfTheZoneSummerAndWinter) {
    const Zone berlin("Europe/Berlin");
    EXPECT_EQ(date_time_text(back_ms - 1), "2026-10-25 02:59:59 +0200");
    EXPECT_EQ(date_time_text(back_ms), "2026-10-25 02:00:00 +0100");
    EXPECT_EQ(clock_text(forward_ms - 1), "01:59:59");
    EXPECT_EQ(clock_text(forward_ms), "03:00:00");
    EXPECT_EQ(date_text(back_ms - 3 * hour_ms - 1), "2026-10-24");
    EXPECT_EQ(date_text(back_ms), "2026-10-25");
    EXPECT_EQ(zone_doubt(), std::nullopt);
}

TEST(LocalTime, IsReadOnTheDaysDate) {
    const Zone berlin("Europe/Berlin");
    EXPECT_EQ(read("03:00", back_ms), back_ms + hour_ms + last_ms_of_second);
    EXPECT_EQ(read("01:59:59", back_ms), back_ms - hour_ms - 1000 + last_ms_of_second);
    EXPECT_EQ(read("2026-03-29 03:00", back_ms), forward_ms + last_ms_of_second);
    EXPECT_EQ(read("2026-03-29 03:00:07", back_ms), forward_ms + 7000 + last_ms_of_second);
    const Zone colombo("Asia/Colombo");
    EXPECT_EQ(read("2026-03-29 06:30", back_ms), forward_ms + last_ms_of_second);
}

TEST(LocalTime, ThatComesTwiceIsRefusedWithWhatToTypeInstead) {
    const Zone berlin("Europe/Berlin");
    for (const auto* written : {"02:00", "02:30", "02:59:59", "2026-10-25 02:30"}) {
        const auto moment = read_moment(written, back_ms, back_ms);
        ASSERT_FALSE(moment) << written;
        EXPECT_NE(moment.error().why.find("comes twice on 2026-10-25"), std::string::npos)
            << moment.error().why;
        EXPECT_TRUE(moment.error().next.starts_with(
            fmt::format("the first time is {0}+0200, the second {0}+0100; or #", written)))
            << moment.error().next;
    }
    EXPECT_EQ(read("02:30+0200", back_ms), back_ms - hour_ms / 2 + last_ms_of_second);
    EXPECT_EQ(read("02:30+0100", back_ms), back_ms + hour_ms / 2 + last_ms_of_second);
    EXPECT_EQ(read("2026-10-25 02:30:00 +0100", forward_ms),
              back_ms + hour_ms / 2 + last_ms_of_second);
}

TEST(LocalTime, ThatNeverComesIsRefusedWithWhatToTypeInstead) {
    const Zone berlin("Europe/Berlin");
    for (const auto* written : {"02:00", "02:30", "02:59:59", "2026-03-29 02:30"}) {
        const auto moment = read_moment(written, forward_ms, forward_ms);
        ASSERT_FALSE(moment) << written;
        EXPECT_NE(moment.error().why.find("does not come on 2026-03-29"), std::string::npos)
            << moment.error().why;
        EXPECT_NE(moment.error().why.find("from 02:00 to 03:00"), std::string::npos)
            << moment.error().why;
        EXPECT_FALSE(moment.error().next.empty());
    }
    EXPECT_EQ(read("02:30+0100", forward_ms), forward_ms + hour_ms / 2 + last_ms_of_second);
}

TEST(LocalTime, MayBeSetBackByHalfAnHour) {
    const Zone lord_howe("Australia/Lord_Howe");
    const auto moment = read_moment("2026-04-05 01:45", back_ms, back_ms);
    ASSERT_FALSE(moment);
    EXPECT_NE(moment.error().next.find("01:45+1100"), std::string::npos) << moment.error().next;
    EXPECT_NE(moment.error().next.find("01:45+1030"), std::string::npos) << moment.error().next;
    EXPECT_TRUE(read_moment("2026-04-05 02:00", back_ms, back_ms));
}

TEST(LocalTime, IsReadBackAsItIsShown) {
    for (const auto* name : {"Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "UTC"}) {
        const Zone zone(name);
        for (auto at_ms = back_ms - 26 * hour_ms; at_ms < back_ms + 26 * hour_ms;
             at_ms += hour_ms / 4)
            EXPECT_EQ(read(date_time_text(at_ms), forward_ms), at_ms + last_ms_of_second) << name;
    }
}

// A day from eight in the evening, 19 September 2026, until twenty past midnight.
constexpr std::int64_t evening_ms = 1'789'840'800'000;
constexpr std::int64_t night_ms = evening_ms + 4 * hour_ms + hour_ms / 3;

std::int64_t read_on(const std::string& written, std::int64_t first_ms, std::int64_t last_ms) {
    const auto moment = read_moment(written, first_ms, last_ms);
    EXPECT_TRUE(moment) << written << ": " << moment.error().why;
    return moment ? moment->at_ms() - last_ms_of_second : -1;
}

TEST(Moment, OfADayThatWentOverMidnightIsOnTheDateThatIsNearer) {
    const Zone berlin("Europe/Berlin");
    EXPECT_EQ(date_time_text(evening_ms), "2026-09-19 20:00:00 +0200");
    EXPECT_EQ(read_on("23:50", evening_ms, night_ms), evening_ms + 3 * hour_ms + hour_ms * 5 / 6);
    EXPECT_EQ(read_on("00:10", evening_ms, night_ms), evening_ms + 4 * hour_ms + hour_ms / 6);
    EXPECT_EQ(read_on("19:00", evening_ms, night_ms), evening_ms - hour_ms);
    EXPECT_EQ(read_on("01:00", evening_ms, night_ms), evening_ms + 5 * hour_ms);
    EXPECT_EQ(read_on("2026-09-20 23:50", evening_ms, night_ms),
              evening_ms + 27 * hour_ms + hour_ms * 5 / 6);
    // One that did not is on its date, however late.
    EXPECT_EQ(read_on("23:50", night_ms, night_ms + hour_ms),
              evening_ms + 27 * hour_ms + hour_ms * 5 / 6);
    // One that was set up the evening before flies on the next day.
    EXPECT_EQ(read_on("00:00", evening_ms, evening_ms + 20 * hour_ms), evening_ms + 4 * hour_ms);
    EXPECT_EQ(read_on("14:30", evening_ms, evening_ms + 18 * hour_ms),
              evening_ms + 18 * hour_ms + hour_ms / 2);
}

TEST(Moment, ThatEndsAStretchIsTheFirstSuchTimeFromItsBeginningOn) {
    const Zone berlin("Europe/Berlin");
    const auto end = [](const std::string& written, std::int64_t from_ms) {
        return read_end(written, from_ms).value().at_ms() - last_ms_of_second;
    };
    EXPECT_EQ(end("23:00", evening_ms), evening_ms + 3 * hour_ms);
    EXPECT_EQ(end("00:30", evening_ms), evening_ms + 4 * hour_ms + hour_ms / 2);
    EXPECT_EQ(end("20:00", evening_ms), evening_ms);
    EXPECT_EQ(end("19:59", evening_ms), evening_ms + 24 * hour_ms - hour_ms / 60);
    EXPECT_EQ(end("2026-09-19 19:00", evening_ms), evening_ms - hour_ms);
    // Over the hour that comes twice in the night of 25 October 2026.
    EXPECT_EQ(end("04:00", back_ms - 5 * hour_ms), back_ms + 2 * hour_ms);
    EXPECT_FALSE(read_end("soon", evening_ms));
    EXPECT_FALSE(read_end("02:30", back_ms - 5 * hour_ms)) << "comes twice";
}

TEST(Moment, MayBeAnEntryOfTheLog) {
    EXPECT_EQ(read_moment("#120", back_ms, back_ms).value().version(), 120U);
    for (const auto* written : {"#", "#0", "#-1", "#1x", "# 1", "#99999999999999999999"})
        EXPECT_FALSE(read_moment(written, back_ms, back_ms)) << written;
}

TEST(Moment, IsRefusedWhereItIsNoTime) {
    const Zone berlin("Europe/Berlin");
    for (const auto* written :
         {"", "yesterday", "14", "14:", "24:00", "14:60", "14:32:60", "14:32x", "14:32 x", "-1:30",
          "14:32+", "14:32+9900", "14:32+1500", "2026-02-30 10:00", "2026-13-01 10:00",
          "2026-09-19", "2026-09-19 2026-09-19 10:00", "14:32:05.5", "99999999-01-01 10:00"})
        EXPECT_FALSE(read_moment(written, back_ms, back_ms)) << written;
}

// The library's regular expressions go as deep as a text is long.
TEST(Moment, OfFortyLettersIsReadAndOfOneMoreRefused) {
    const auto spread = [](std::size_t size) {
        const std::string date = "2026-09-19", time = "14:32";
        return date + std::string(size - date.size() - time.size(), ' ') + time;
    };
    EXPECT_TRUE(read_moment(spread(40), back_ms, back_ms));
    EXPECT_FALSE(read_moment(spread(41), back_ms, back_ms));
    EXPECT_FALSE(read_moment(spread(1 << 20), back_ms, back_ms));
    EXPECT_FALSE(read_moment('#' + std::string(1 << 20, '1'), back_ms, back_ms));
}

// A TZ of the C library's own form, or a zone that nobody has heard of: not what people are told
// to set, but no reason to fail.
TEST(LocalTime, WithoutDataAboutTheZoneIsThatOfTheSystemAndSaysSo) {
    const Zone rules("CET-1CEST,M3.5.0,M10.5.0/3");
    EXPECT_EQ(date_time_text(back_ms - 1), "2026-10-25 02:59:59 +0200");
    EXPECT_EQ(date_time_text(back_ms), "2026-10-25 02:00:00 +0100");
    EXPECT_EQ(read("03:00", back_ms), back_ms + hour_ms + last_ms_of_second);
    const auto twice = read_moment("02:30", back_ms, back_ms);
    ASSERT_FALSE(twice);
    EXPECT_NE(twice.error().next.find("02:30+0200"), std::string::npos) << twice.error().next;
    EXPECT_NE(twice.error().next.find("02:30+0100"), std::string::npos) << twice.error().next;
    const auto never = read_moment("02:30", forward_ms, forward_ms);
    ASSERT_FALSE(never);
    EXPECT_NE(never.error().why.find("does not come on 2026-03-29"), std::string::npos);
    ASSERT_TRUE(zone_doubt());
    EXPECT_NE(zone_doubt()->find("CET-1CEST"), std::string::npos) << *zone_doubt();

    const Zone unheard_of("Erewhon/Nowhere");
    EXPECT_EQ(date_time_text(back_ms), "2026-10-25 01:00:00 +0000");
    EXPECT_EQ(read("01:00", back_ms), back_ms + last_ms_of_second);
    ASSERT_TRUE(zone_doubt());
    EXPECT_NE(zone_doubt()->find("Erewhon/Nowhere"), std::string::npos) << *zone_doubt();
}

}  // namespace
}  // namespace fieldpeg::show
