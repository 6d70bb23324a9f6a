#include "server/board/visit.h"
#include "tests/support/board_server.h"
#include "tests/support/browser.h"
#include "tests/support/pegs.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <memory>
#include <string>

/// What is long comes with gzip to those who ask for that. The bytes are counted without a client.
namespace fieldpeg::board {
namespace {

using testing::BoardServer;
using testing::Browser;
using testing::TemporaryFolder;

/// A text as a client sends it, masked with zeros [RFC6455, 5.2].
std::string masked(const std::string& text) {
    EXPECT_LT(text.size(), 126U);
    return std::string("\x81") + static_cast<char>(0x80 + text.size()) + std::string(4, '\0') +
           text;
}

class SmallBoards : public ::testing::Test {
protected:
    SmallBoards() {
        testing::write_file(day_, testing::crowded_day());
        board_ = std::make_unique<BoardServer>(day_);
    }

    /// All that comes until the board and a pong have come.
    std::string bytes_of_board(const std::string& wish) const {
        Browser raw(board_->port(), Browser::Scheme::http);
        raw.send(
            "GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\n"
            "Connection: Upgrade\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
            "Sec-WebSocket-Version: 13\r\n" +
            wish + "\r\n");
        const auto accepted = raw.read_raw("\r\n\r\n");
        raw.send(masked(R"({"request": {"id": 1, "query": {"board": {}}}})"));
        raw.send(masked(R"({"ping": true})"));
        return accepted + raw.read_raw(R"({"pong":true})");
    }

    TemporaryFolder folder_;
    std::string day_ = folder_.at("day.toml");
    std::unique_ptr<BoardServer> board_;
};

TEST_F(SmallBoards, AreSentToWhoeverAsksForThem) {
    const auto plain = bytes_of_board("");
    const auto small = bytes_of_board("Sec-WebSocket-Protocol: other, fieldpeg.gzip\r\n");
    EXPECT_EQ(plain.find("fieldpeg.gzip"), std::string::npos);
    EXPECT_NE(small.find("fieldpeg.gzip"), std::string::npos);
    EXPECT_NE(plain.find(R"("transmitter":")"), std::string::npos);
    EXPECT_EQ(small.find(R"("transmitter":")"), std::string::npos);
    EXPECT_NE(small.find(R"({"welcome":{)"), std::string::npos) << "what is short stays as it is";
    EXPECT_LT(small.size() * 2, plain.size());
}

TEST_F(SmallBoards, AreTheBoardsThatAreAskedFor) {
    for (const auto scheme : {Browser::Scheme::http, Browser::Scheme::https}) {
        Browser phone(board_->port(), scheme);
        phone.takes_small = true;
        ASSERT_TRUE(phone.listen(phone.origin(), ""));
        phone.say(std::string(R"({"request": {"id": 1, "watch_changes": true}})"));
        auto told = phone.hear();
        while (told && !told->has_change()) told = phone.hear();
        ASSERT_TRUE(told);
        const auto asked = phone.asked(testing::board());
        ASSERT_TRUE(asked);
        EXPECT_EQ(testing::bytes_of(told->change().board()), testing::bytes_of(asked->board()));
    }
}

}  // namespace
}  // namespace fieldpeg::board
