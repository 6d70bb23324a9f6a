#include "client/show/day.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <ctime>
#include <string>

/// The log as a table, where a day goes on past midnight.
namespace fieldpeg::show {
namespace {

constexpr std::int64_t midnight_ms = 1'789'862'400'000;  ///< 2026-09-20 00:00 UTC
constexpr std::int64_t minute_ms = 60'000;

class LogTable : public ::testing::Test {
protected:
    LogTable() {
        ::setenv("TZ", "UTC", 1);
        ::tzset();
    }
    ~LogTable() override {
        ::unsetenv("TZ");
        ::tzset();
    }

    void add(std::int64_t at_ms) {
        auto& e = *reply_.add_entries();
        e.set_version(static_cast<std::uint64_t>(reply_.entries_size()));
        e.set_at_ms(at_ms);
        e.set_actor("Ann");
        e.set_kind("claimed");
        e.set_text("Ann claims R1");
    }

    v1::LogReply reply_;
};

std::size_t count_of(const std::string& text, const std::string& part) {
    std::size_t n = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
    return n;
}

TEST_F(LogTable, SaysTheDateWhereItChanges) {
    add(midnight_ms - 2 * minute_ms);
    add(midnight_ms - minute_ms);
    add(midnight_ms);
    add(midnight_ms + minute_ms);
    const auto text = log_text(reply_, {});
    const auto first = text.find("2026-09-19"), second = text.find("2026-09-20");
    EXPECT_LT(first, text.find("23:58:00")) << text;
    EXPECT_LT(text.find("23:59:00"), second) << text;
    EXPECT_LT(second, text.find("00:00:00")) << text;
    EXPECT_EQ(count_of(text, "2026-"), 2U) << text;
}

TEST_F(LogTable, OfOneDateHasNone) {
    add(midnight_ms - 2 * minute_ms);
    add(midnight_ms - 1);
    EXPECT_EQ(count_of(log_text(reply_, {}), "2026-"), 0U);
}

// The clock may be set back over midnight.
TEST_F(LogTable, SaysTheDateAgainWhereItGoesBack) {
    add(midnight_ms - minute_ms);
    add(midnight_ms + minute_ms);
    add(midnight_ms - minute_ms / 2);
    EXPECT_EQ(count_of(log_text(reply_, {}), "2026-09-19"), 2U);
}

TEST_F(LogTable, IsForProgramsWhatItWas) {
    add(midnight_ms - minute_ms);
    add(midnight_ms);
    EXPECT_EQ(count_of(log_csv(reply_), "\r\n"), 3U);
    EXPECT_EQ(count_of(log_json_lines(reply_), "\n"), 2U);
}

}  // namespace
}  // namespace fieldpeg::show
