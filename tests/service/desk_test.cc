#include "server/service/desk.h"

#include "tests/support/kept_day.h"

#include <gtest/gtest.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include <algorithm>
#include <chrono>
#include <exception>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

/// The queue before the day, without connections.
namespace fieldpeg::service {
namespace {

using namespace std::chrono_literals;
using testing::claim;
using testing::KeptDay;

class OpenDesk : public ::testing::Test {
protected:
    asio::awaitable<void> submitted(v1::Command command, std::optional<v1::Reply>& reply) {
        Ask ask;
        ask.command = std::move(command);
        reply = co_await desk_.submit(std::move(ask));
    }

    void submit(const v1::Command& command, std::optional<v1::Reply>& reply) {
        asio::co_spawn(io_, submitted(command, reply), asio::detached);
    }

    /// Until there is nothing left to do.
    void run() {
        std::exception_ptr failure;
        asio::co_spawn(io_, desk_.run(), [&](std::exception_ptr e) { failure = e; });
        desk_.close();
        io_.run();
        EXPECT_FALSE(failure) << "the desk was ended by an exception";
    }

    /// As long as that does not hold.
    template <class Holds>
    void run_until(Holds holds) {
        const auto most = std::chrono::steady_clock::now() + 60s;
        while (!holds() && std::chrono::steady_clock::now() < most) {
            io_.restart();
            io_.run_one_for(100ms);
        }
        EXPECT_TRUE(holds());
    }

    KeptDay day_;
    asio::io_context io_;
    Desk desk_{io_.get_executor(), day_.keeper(), [this] { return day_.now_ms() + 1000; }};
};

v1::Command new_ticket() {
    v1::Command command;
    command.mutable_renew_ticket()->set_role(v1::Role::pilot);
    return command;
}

TEST_F(OpenDesk, RefusesTheOneThatFailsAndDecidesTheOthersOfItsBatch) {
    day_.keeper().write_ticket = [](const std::string&, v1::TicketReply&) {
        throw std::runtime_error("a mistake on purpose");
    };
    std::optional<v1::Reply> before, failing, after;
    submit(claim("Ann", "R3"), before);
    submit(new_ticket(), failing);
    submit(claim("Bob", "R7"), after);
    run();
    ASSERT_TRUE(before && failing && after);
    EXPECT_TRUE(before->claim().claimed()) << before->DebugString();
    EXPECT_EQ(failing->refusal().kind(), v1::Refusal::unavailable) << failing->DebugString();
    EXPECT_FALSE(failing->refusal().next().empty());
    EXPECT_TRUE(after->claim().claimed()) << after->DebugString();
    const auto version = day_.keeper().state().version();
    day_.reopen();
    EXPECT_EQ(day_.keeper().state().version(), version) << "the log has another day";
}

v1::Query long_plan() {
    v1::Query query;
    query.mutable_plan()->mutable_planned()->set_seconds(300);
    return query;
}

TEST_F(OpenDesk, TellsWhoeverAsksBeyondTheMostErrandsToAskAgain) {
    std::vector<std::shared_ptr<Errand>> errands;
    std::vector<std::optional<v1::Answer>> answers(errands_max + 1);
    for (auto& answer : answers)
        errands.push_back(desk_.begin(
            long_plan(), [](const v1::Progress&) {}, [&](v1::Answer a) { answer = std::move(a); }));
    run_until([&] { return answers.back().has_value(); });
    EXPECT_EQ(answers.back()->refusal().kind(), v1::Refusal::unavailable);
    EXPECT_NE(answers.back()->refusal().why().find("others wait"), std::string::npos);
    EXPECT_NE(answers.back()->refusal().next().find("again"), std::string::npos);
    // All that were taken are answered, and then there is room again.
    for (auto& errand : errands) errand->enough();
    run_until(
        [&] { return std::ranges::all_of(answers, [](const auto& a) { return a.has_value(); }); });
    for (std::size_t i = 0; i < errands_max; ++i)
        EXPECT_TRUE(answers[i]->has_plan()) << i << answers[i]->DebugString();
    errands.clear();
    std::optional<v1::Answer> one_more;
    const auto errand = desk_.begin(
        long_plan(), [](const v1::Progress&) {}, [&](v1::Answer a) { one_more = std::move(a); });
    errand->enough();
    run_until([&] { return one_more.has_value(); });
    EXPECT_TRUE(one_more->has_plan());
}

TEST_F(OpenDesk, TellsNothingToWhoeverIsGone) {
    int told = 0;
    {
        std::vector<std::shared_ptr<Errand>> errands;
        for (std::size_t i = 0; i + 1 < errands_max; ++i)
            errands.push_back(desk_.begin(
                long_plan(), [&](const v1::Progress&) { ++told; }, [&](v1::Answer) { ++told; }));
        for (auto& errand : errands) errand->forget();
    }
    std::optional<v1::Answer> behind_them;
    const auto errand = desk_.begin(
        long_plan(), [](const v1::Progress&) {}, [&](v1::Answer a) { behind_them = std::move(a); });
    errand->enough();
    run_until([&] { return behind_them.has_value(); });
    EXPECT_TRUE(behind_them->has_plan());
    EXPECT_EQ(told, 0);
}

/// A desk all of whose work is done in one loop, in the order in which it comes.
class DeskOfOneLoop : public ::testing::Test {
protected:
    asio::awaitable<void> asked(Of of, std::string name) {
        v1::Query board;
        board.mutable_board();
        co_await desk_.ask(std::move(board), of);
        done_.push_back(std::move(name));
    }
    void ask(Of of, const std::string& name) {
        asio::co_spawn(io_, asked(of, name), asio::detached);
    }
    asio::awaitable<void> submitted(std::string name) {
        Ask ask;
        ask.command = claim("Ann", "R3");
        co_await desk_.submit(std::move(ask));
        done_.push_back(std::move(name));
    }
    void run() {
        asio::co_spawn(io_, desk_.run(), asio::detached);
        io_.poll();
        desk_.close();
        io_.restart();
        io_.run();
    }
    std::ptrdiff_t place_of(const std::string& name) const {
        return std::ranges::find(done_, name) - done_.begin();
    }

    KeptDay day_;
    asio::io_context io_{1};
    Desk desk_{io_.get_executor(),
               day_.keeper(),
               [this] { return day_.now_ms() + 1000; },
               {io_.get_executor(), io_.get_executor(), io_.get_executor(), io_.get_executor()}};
    std::vector<std::string> done_;
};

TEST_F(DeskOfOneLoop, AnswersPeopleBeforeStrangers) {
    for (int i = 0; i < 20; ++i) ask(Of::strangers, "stranger");
    ask(Of::people, "Ann");
    run();
    ASSERT_EQ(done_.size(), 21U);
    EXPECT_LE(place_of("Ann"), 1) << "behind the one that was being answered at most";
}

TEST_F(DeskOfOneLoop, DecidesACommandBetweenQuestions) {
    constexpr int questions = 200;
    for (int i = 0; i < questions; ++i) ask(Of::people, "question");
    asio::co_spawn(io_, submitted("claim"), asio::detached);
    run();
    ASSERT_EQ(done_.size(), questions + 1U);
    EXPECT_LT(place_of("claim"), questions / 4) << "it waits for some of them, and not for all";
}

}  // namespace
}  // namespace fieldpeg::service
