#include "server/service/brief_log.h"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <spdlog/sinks/ostream_sink.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <chrono>
#include <sstream>
#include <string>

namespace fieldpeg::service {
namespace {

using namespace std::chrono_literals;

/// A log of lines at times that the test says.
class BriefLog : public ::testing::Test {
protected:
    BriefLog() { logger_.set_pattern("%v"); }

    void say(spdlog::level::level_enum level, std::chrono::milliseconds at, const char* text) {
        logger_.log(spdlog::log_clock::time_point() + 1h + at, spdlog::source_loc(), level, text);
    }
    long lines() const { return std::ranges::count(text_.str(), '\n'); }

    std::ostringstream text_;
    spdlog::logger logger_{"brief", brief(std::make_shared<spdlog::sinks::ostream_sink_st>(text_))};
};

TEST_F(BriefLog, WritesWhatIsSaidNowAndThen) {
    for (int i = 0; i < 5; ++i) say(spdlog::level::info, i * 100ms, "hello");
    EXPECT_EQ(text_.str(), "hello\nhello\nhello\nhello\nhello\n");
}

// A host that comes and is sent away wrote 591,243 lines in 30 s.
TEST_F(BriefLog, IsBriefWhateverHappensAThousandTimesASecond) {
    for (int ms = 0; ms < 30'000; ++ms) say(spdlog::level::warn, ms * 1ms, "not taken");
    EXPECT_LE(lines(), 30 * (lines_a_second + 1));
    EXPECT_GE(lines(), 30);
}

TEST_F(BriefLog, SaysHowManyItLeftOut) {
    for (int i = 0; i < lines_a_second + 7; ++i) say(spdlog::level::warn, 1ms, "not taken");
    EXPECT_EQ(lines(), lines_a_second);
    say(spdlog::level::warn, 1001ms, "another");
    EXPECT_NE(text_.str().find("7 more lines like these\nanother\n"), std::string::npos);
}

TEST_F(BriefLog, HidesNoErrorBehindComplaints) {
    for (int i = 0; i < 1000; ++i) say(spdlog::level::info, 1ms, "let go");
    say(spdlog::level::err, 1ms, "the log was not written");
    EXPECT_NE(text_.str().find("the log was not written"), std::string::npos);
}

TEST_F(BriefLog, GoesOnWhenTheClockGoesBack) {
    for (int i = 0; i < 100; ++i) say(spdlog::level::warn, 2000ms, "before");
    say(spdlog::level::warn, 0ms, "after");
    EXPECT_NE(text_.str().find("after"), std::string::npos);
}

}  // namespace
}  // namespace fieldpeg::service
