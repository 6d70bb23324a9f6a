#include "server/wire/outbox.h"
#include "tests/support/board_server.h"
#include "tests/support/browser.h"
#include "tests/support/pegs.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <memory>
#include <string>

namespace fieldpeg::board {
namespace {

using namespace std::chrono_literals;
using testing::BoardServer;
using testing::Browser;
using testing::TemporaryFolder;

// As on the wire: a phone that asks and reads nothing, as fast as it is listened to at once.
TEST(PageOwed, ToOneWhoAsksAndReadsNothingIsBounded) {
    TemporaryFolder folder;
    const auto day = folder.at("day.toml");
    testing::write_file(day, testing::club_day());
    testing::ServerSettings settings;
    settings.send_buffer = 4096;
    VisitLimits limits;
    limits.write = 10min;
    std::atomic<int> checks = 0;
    BoardServer board(
        day, settings, limits, wire::Form([&](const v1::ServerFrame& m) {
            const auto text = *json_form().frame(m);
            if (m.response().answer().has_check()) ++checks;
            return std::make_shared<const std::string>(text + std::string(30'000, ' '));
        }));
    Browser deaf(board.port(), Browser::Scheme::http, "127.0.0.1", 4096);
    ASSERT_TRUE(deaf.listen(deaf.origin()));
    constexpr int asked = 35;
    for (int i = 0; i < asked; ++i)
        deaf.say(std::string(R"({"request": {"id": 1, "query": {"check": {}}}})"));
    Browser other(board.port(), Browser::Scheme::http);
    ASSERT_TRUE(other.listen(other.origin()));
    for (int i = 0; i < 10; ++i) {
        const auto answer = other.asked(testing::board());
        ASSERT_TRUE(answer && answer->has_board());
        board.server().settle();
    }
    EXPECT_LE(checks, static_cast<int>(wire::answers_owed_max) + 1);
    EXPECT_GE(checks, 1);
    for (int i = 0; i < asked; ++i) ASSERT_TRUE(deaf.response()) << i;
    EXPECT_EQ(checks, asked);
    board.server().stop();
}

}  // namespace
}  // namespace fieldpeg::board
