#include "server/service/shared_answers.h"

#include "server/day/state.h"
#include "tests/support/kept_day.h"

#include <gtest/gtest.h>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include <deque>
#include <optional>

/// Questions that take long, with threads that work when the test says so.
namespace fieldpeg::service {
namespace {

v1::Query check(unsigned contributions = 0) {
    v1::Query query;
    query.mutable_check()->set_contributions(contributions);
    return query;
}

class Sharing : public ::testing::Test {
protected:
    std::optional<v1::Answer>& ask(const v1::Query& query, Of of) {
        answers_.emplace_back();
        asio::co_spawn(loop_, asked(query, of, answers_.back()), asio::detached);
        settle();
        return answers_.back();
    }
    asio::awaitable<void> asked(v1::Query query, Of of, std::optional<v1::Answer>& answer) {
        answer = co_await shared_.ask(std::move(query), of, state_);
    }

    void settle() {
        loop_.restart();
        loop_.poll();
    }
    /// Works out all that waits there; how many were.
    std::size_t work(asio::io_context& worker) {
        std::size_t done = 0;
        for (worker.restart(); worker.poll_one() > 0; worker.restart()) {
            ++done;
            settle();
        }
        return done;
    }

    testing::KeptDay day_;
    v1::DayState state_ = day_.keeper().state();
    asio::io_context loop_, people_, strangers_;
    std::deque<std::optional<v1::Answer>> answers_;
    SharedAnswers shared_{loop_.get_executor(),
                          {people_.get_executor(), strangers_.get_executor()},
                          SharedAnswers::Rest::none};
};

TEST_F(Sharing, IsOfWhatFollowsFromTheDayAlone) {
    EXPECT_TRUE(SharedAnswers::takes(check()));
    auto past = check();
    past.mutable_moment()->set_version(1);
    EXPECT_FALSE(SharedAnswers::takes(past));
    v1::Query log;
    log.mutable_log();
    EXPECT_FALSE(SharedAnswers::takes(log)) << "it needs the log";
}

TEST_F(Sharing, OneAnswerIsForAllWhoAskTheSameOfTheSameVersion) {
    for (int i = 0; i < 40; ++i) ask(check(), Of::strangers);
    EXPECT_EQ(work(strangers_), 1U);
    for (const auto& one : answers_) {
        ASSERT_TRUE(one);
        EXPECT_TRUE(one->has_check());
        EXPECT_EQ(one->version(), state_.version());
        EXPECT_EQ(one->check().SerializeAsString(), answers_.front()->check().SerializeAsString());
    }
    // Later, and by people too.
    EXPECT_TRUE(ask(check(), Of::people)) << "at once";
    EXPECT_EQ(work(people_) + work(strangers_), 0U);
}

TEST_F(Sharing, AnotherQuestionOrAnotherVersionIsAnotherAnswer) {
    ask(check(), Of::people);
    EXPECT_EQ(work(people_), 1U);
    ask(check(3), Of::people);
    EXPECT_EQ(work(people_), 1U);
    state_.set_version(state_.version() + 1);
    const auto& later = ask(check(), Of::people);
    EXPECT_EQ(work(people_), 1U);
    ASSERT_TRUE(later);
    EXPECT_EQ(later->version(), state_.version());
}

// What was asked before somebody claimed may be answered as it is after, but not the other way
// round: who claims and then asks sees their claim.
TEST_F(Sharing, NobodyGetsAnAnswerOfBeforeTheyAsked) {
    const auto& first = ask(check(), Of::people);
    const auto begun = state_.version();
    state_.set_version(begun + 1);
    const auto& second = ask(check(), Of::people);
    EXPECT_EQ(work(people_), 2U);
    ASSERT_TRUE(first && second);
    EXPECT_EQ(first->version(), begun);
    EXPECT_EQ(second->version(), begun + 1);
}

TEST_F(Sharing, StrangersNeverHoldPeopleUp) {
    for (unsigned i = 0; i < 40; ++i) ask(check(i), Of::strangers);
    const auto& mine = ask(check(1000), Of::people);
    EXPECT_EQ(work(people_), 1U);
    EXPECT_TRUE(mine);
}

TEST_F(Sharing, HowManyWaitIsBounded) {
    // One is being worked out, the others wait.
    for (unsigned i = 0; i <= questions_waiting_max; ++i) ask(check(i), Of::strangers);
    const auto& one_more = ask(check(999), Of::strangers);
    ASSERT_TRUE(one_more);
    EXPECT_EQ(one_more->refusal().kind(), v1::Refusal::unavailable);
    EXPECT_FALSE(ask(check(3), Of::strangers)) << "the same as another waits with it";
    work(strangers_);
    EXPECT_TRUE(answers_[3]->has_check());
}

TEST_F(Sharing, WhatNobodyWaitsForAnyLongerIsNotWorkedOut) {
    ask(check(1), Of::strangers);
    asio::cancellation_signal leave;
    std::optional<v1::Answer> none;
    asio::co_spawn(loop_, asked(check(2), Of::strangers, none),
                   asio::bind_cancellation_slot(leave.slot(), asio::detached));
    settle();
    leave.emit(asio::cancellation_type::terminal);
    settle();
    EXPECT_EQ(work(strangers_), 1U);
}

}  // namespace
}  // namespace fieldpeg::service
