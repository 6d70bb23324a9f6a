#include "tests/support/board_server.h"
#include "tests/support/browser.h"
#include "tests/support/pegs.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <functional>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>

/// Mistakes of ours, on purpose, in the middle of talking to a phone: its connection ends and it is
/// told so; the others notice nothing.
namespace fieldpeg::board {
namespace {

using testing::BoardServer;
using testing::Browser;
using testing::TemporaryFolder;

class PageFailures : public ::testing::Test {
protected:
    /// A server that fails to write what is like that.
    void start(const std::function<bool(const v1::ServerFrame&)>& like) {
        testing::write_file(day_, testing::club_day());
        board_ = std::make_unique<BoardServer>(
            day_, testing::ServerSettings(), VisitLimits(), wire::Form([like](const auto& m) {
                if (like(m)) throw std::runtime_error("a mistake on purpose");
                return json_form().frame(m);
            }));
    }

    /// What is said last to somebody who says this.
    std::optional<v1::ServerFrame> last_word_to(const std::string& text) const {
        Browser browser(board_->port(), Browser::Scheme::http);
        EXPECT_TRUE(browser.listen(browser.origin()));
        browser.say(text);
        std::optional<v1::ServerFrame> last, next;
        while ((next = browser.hear())) last = std::move(next);
        return last;
    }

    void expect_the_day_goes_on() {
        Browser other(board_->port(), Browser::Scheme::http);
        ASSERT_TRUE(other.listen(other.origin()));
        v1::Query check;
        check.mutable_check();
        EXPECT_TRUE(other.asked(check));
        EXPECT_NO_THROW(board_->server().stop());
    }

    TemporaryFolder folder_;
    const std::string day_ = folder_.at("day.toml");
    std::unique_ptr<BoardServer> board_;
};

TEST_F(PageFailures, InAnsweringAreTold) {
    start([](const auto& m) { return m.response().answer().has_board(); });
    const auto last = last_word_to(R"({"request": {"id": 1, "query": {"board": {}}}})");
    ASSERT_TRUE(last && last->has_goodbye());
    EXPECT_EQ(last->goodbye().kind(), v1::Refusal::unavailable);
    expect_the_day_goes_on();
}

TEST_F(PageFailures, InWritingASnapshotAreTold) {
    start([](const auto& m) { return m.has_change(); });
    const auto last = last_word_to(R"({"request": {"id": 1, "watch": true}})");
    ASSERT_TRUE(last && last->has_goodbye());
    EXPECT_EQ(last->goodbye().kind(), v1::Refusal::unavailable);
    expect_the_day_goes_on();
}

}  // namespace
}  // namespace fieldpeg::board
