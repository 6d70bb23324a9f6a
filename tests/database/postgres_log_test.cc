#include "server/log/postgres_log.h"

#include "server/log/follower.h"
#include "tests/log/entries.h"
#include "tests/support/cluster.h"

#include <gtest/gtest.h>

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <thread>

/// What a day in a database promises beyond a file: one owner, and never a word that is not kept.
namespace fieldpeg::log {
namespace {

using namespace std::chrono_literals;
using testing::batch_of;
using testing::Cluster;
using testing::entries_of;

using Outcome = Appended::Outcome;

/// Within a time in which it must happen.
bool happens(const std::function<bool()>& what, std::chrono::milliseconds within = 5s) {
    for (const auto until = std::chrono::steady_clock::now() + within;
         std::chrono::steady_clock::now() < until; std::this_thread::sleep_for(10ms))
        if (what()) return true;
    return false;
}

class PostgresDay : public ::testing::Test {
protected:
    std::unique_ptr<DayLog> opened() const {
        auto log = DayLog::open(place_, DayLog::Access::write);
        EXPECT_TRUE(log) << log.error().why;
        return log ? *std::move(log) : nullptr;
    }
    /// As a standby that has waited long enough would.
    std::unique_ptr<DayLog> taken() const {
        auto database = Database::connect(address_, "test").value();
        auto log = PostgresLog::take(place_, *look_at_day(*database, "saturday").value(), 3s);
        EXPECT_TRUE(log) << log.error().why;
        return log ? *std::move(log) : nullptr;
    }
    std::uint64_t append(DayLog& log, std::uint64_t version) const {
        auto batch = batch_of(version);
        EXPECT_TRUE(log.append(batch));
        return version;
    }
    std::string sql(const std::string& text) const {
        return Cluster::shared().run(address_, "SET search_path TO fieldpeg; " + text);
    }
    std::uint64_t entries_written() const {
        const auto log = DayLog::open(place_, DayLog::Access::read).value();
        EXPECT_FALSE(log->verify());
        return entries_of(*log).size();
    }
    /// As a switch that is pulled: connections of that use end, whatever they do.
    void cut(const std::string& use) const {
        sql("SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE datname = "
            "current_database() AND application_name = '" +
            use + "'");
    }

    const std::string address_ = Cluster::shared().new_database();
    const std::string place_ = address_ + "#saturday";
};

TEST_F(PostgresDay, ThatAnotherServerHasIsRefused) {
    const auto log = opened();
    append(*log, 1);
    const auto second = DayLog::open(place_, DayLog::Access::write);
    ASSERT_FALSE(second);
    EXPECT_EQ(second.error().kind, Refusal::Kind::conflict);
    EXPECT_EQ(log->hold(), Hold::sure);
    append(*log, 2);
}

TEST_F(PostgresDay, GoesOnWhereItsHolderEnded) {
    append(*opened(), 1);
    const auto log = opened();
    EXPECT_EQ(log->last_version().value(), 1U);
    append(*log, 2);
    EXPECT_EQ(entries_written(), 2U);
}

// The fence: whoever was deposed and does not know it yet writes nothing any more.
TEST_F(PostgresDay, IsNotWrittenByWhoeverWasDeposed) {
    const auto first = opened();
    append(*first, 1);
    const auto second = taken();
    auto late = batch_of(2);
    late.answers.push_back({3, "once", "yes"});
    EXPECT_EQ(first->append(late).outcome, Outcome::not_ours);
    EXPECT_EQ(first->hold(), Hold::lost);
    EXPECT_TRUE(second->answers().value().empty());
    append(*second, 2);
    EXPECT_EQ(entries_written(), 2U);
}

// The lease: nor do they answer.
TEST_F(PostgresDay, IsNotToldByWhoeverWasDeposed) {
    const auto first = opened();
    append(*first, 1);
    const auto second = taken();
    EXPECT_TRUE(happens([&] { return first->hold() == Hold::lost; }, 2s));
    EXPECT_FALSE(first->in_its_place());
    EXPECT_EQ(second->hold(), Hold::sure);
}

TEST_F(PostgresDay, IsTakenByOneOfTwo) {
    append(*opened(), 1);
    auto database = Database::connect(address_, "test").value();
    const auto seen = *look_at_day(*database, "saturday").value();
    const auto one = PostgresLog::take(place_, seen, 3s);
    const auto other = PostgresLog::take(place_, seen, 3s);
    EXPECT_TRUE(one);
    EXPECT_FALSE(other);
}

// A holder that stalled in the middle of an append has the day's row: it is ended, and its append
// with it.
TEST_F(PostgresDay, IsTakenFromWhoeverStalledInTheMiddleOfAnAppend) {
    append(*opened(), 1);
    auto stalled = Database::connect(address_, "stalled").value();
    ASSERT_TRUE(stalled->run("UPDATE fieldpeg.day SET backend = pg_backend_pid()"));
    ASSERT_TRUE(stalled->run("BEGIN"));
    ASSERT_TRUE(stalled->run("UPDATE fieldpeg.day SET version = 2"));
    const auto second = taken();
    ASSERT_TRUE(second);
    append(*second, 2);
    EXPECT_FALSE(stalled->run("COMMIT"));
    EXPECT_EQ(entries_written(), 2U);
}

TEST_F(PostgresDay, IsWrittenOverANewConnectionWhereTheOldOneWasLost) {
    const auto log = opened();
    append(*log, 1);
    cut("fieldpeg log");
    append(*log, 2);
    cut("fieldpeg holder");
    EXPECT_TRUE(happens([&] { return log->hold() == Hold::sure; }));
    append(*log, 3);
    EXPECT_EQ(entries_written(), 3U);
}

TEST_F(PostgresDay, OfALaterOrEarlierFormatIsRefused) {
    append(*opened(), 1);
    for (const auto* version : {"999", "-1"}) {
        sql(std::string("UPDATE format SET version = ") + version);
        for (const auto access : {DayLog::Access::write, DayLog::Access::read}) {
            const auto log = DayLog::open(place_, access);
            ASSERT_FALSE(log);
            EXPECT_NE(log.error().why.find(version), std::string::npos) << log.error().why;
        }
    }
}

TEST_F(PostgresDay, InADatabaseThatIsNotThereIsRefused) {
    for (const auto access : {DayLog::Access::write, DayLog::Access::read}) {
        const auto log = DayLog::open(Cluster::shared().address("nowhere") + "#saturday", access);
        ASSERT_FALSE(log);
        EXPECT_NE(log.error().why.find("nowhere"), std::string::npos) << log.error().why;
    }
}

TEST_F(PostgresDay, IsRefusedToWhomTheDatabaseDoesNotKnow) {
    const auto log = DayLog::open(
        "postgresql://stranger:secret@/club?host=" + Cluster::shared().folder() + "#saturday",
        DayLog::Access::write);
    ASSERT_FALSE(log);
    EXPECT_NE(log.error().why.find("stranger"), std::string::npos) << log.error().why;
    EXPECT_EQ((log.error().where + log.error().why + log.error().next).find("secret"),
              std::string::npos);
}

TEST_F(PostgresDay, IsRefusedToWhoMayNotWriteIt) {
    append(*opened(), 1);
    sql("DROP ROLE IF EXISTS reader; CREATE ROLE reader LOGIN; GRANT USAGE ON SCHEMA fieldpeg TO "
        "reader; GRANT SELECT ON ALL TABLES IN SCHEMA fieldpeg TO reader");
    auto place = place_;
    place.replace(place.find("fieldpeg@"), 8, "reader");
    EXPECT_EQ(DayLog::open(place, DayLog::Access::write).error().kind,
              Refusal::Kind::not_permitted);
    EXPECT_EQ(entries_of(*DayLog::open(place, DayLog::Access::read).value()).size(), 1U);
    sql("DROP OWNED BY reader; DROP ROLE reader");
}

class Standby : public PostgresDay {
protected:
    std::unique_ptr<Follower> follower(const std::string& address = "192.0.2.8:7323") const {
        return Follower::begin(place_, address).value();
    }
    /// Looks ten times a second, as servers do, until it may be taken.
    std::chrono::milliseconds waits_for(Follower& follower, std::chrono::milliseconds within) {
        const auto begun = std::chrono::steady_clock::now();
        EXPECT_TRUE(happens([&] { return follower.look().may_take; }, within));
        return std::chrono::duration_cast<std::chrono::milliseconds>(
            std::chrono::steady_clock::now() - begun);
    }
};

TEST_F(Standby, TakesADayThatHasNotBegun) {
    const auto waiting = follower();
    EXPECT_TRUE(waiting->look().may_take);
    const auto log = waiting->take();
    ASSERT_TRUE(log);
    append(**log, 1);
}

TEST_F(Standby, WaitsWhileTheHolderShowsSignsOfLife) {
    const auto log = opened();
    log->answered_at("192.0.2.7:7323");
    const auto waiting = follower();
    EXPECT_FALSE(happens([&] { return waiting->look().may_take; }, 4s));
    EXPECT_EQ(waiting->look().holder, "192.0.2.7:7323");
    EXPECT_TRUE(
        happens([&] { return log->standbys() == std::vector<std::string>{"192.0.2.8:7323"}; }));
}

TEST_F(Standby, IsRungWhenTheHolderEnds) {
    auto log = opened();
    append(*log, 1);
    const auto waiting = follower();
    EXPECT_FALSE(happens([&] { return waiting->look().may_take; }, 700ms));
    log.reset();
    EXPECT_TRUE(happens([&] { return waiting->look().may_take; }, 2s));
    append(*waiting->take().value(), 2);
    EXPECT_EQ(entries_written(), 2U);
}

TEST_F(Standby, TakesOverFromWhoeverIsSilent) {
    const auto log = opened();
    append(*log, 1);
    const auto waiting = follower();
    EXPECT_FALSE(happens([&] { return waiting->look().may_take; }, 700ms));
    // Its thread stands still, as when its lid is closed: the row of its signs is locked.
    auto lock = Database::connect(address_, "lid").value();
    ASSERT_TRUE(lock->run("BEGIN"));
    ASSERT_TRUE(lock->run("SELECT FROM fieldpeg.beat FOR UPDATE"));
    EXPECT_TRUE(happens([&] { return waiting->look().may_take; }, 6s));
    EXPECT_NE(log->hold(), Hold::sure) << "it may still be told, and is taken over";
    ASSERT_TRUE(lock->run("ROLLBACK"));
    const auto taken = waiting->take();
    ASSERT_TRUE(taken) << taken.error().why;
    auto late = batch_of(2);
    EXPECT_EQ(log->append(late).outcome, Outcome::not_ours);
    append(**taken, 2);
}

// Of three servers the third does not take the day from the second, which has just taken it.
TEST_F(Standby, IsNotRungByOneThatTakesOver) {
    auto log = opened();
    append(*log, 1);
    const auto one = follower("192.0.2.8:7323"), other = follower("192.0.2.9:7323");
    for (int i = 0; i < 10; ++i) {
        one->look();
        other->look();
    }
    log.reset();
    ASSERT_TRUE(happens([&] { return one->look().may_take; }, 2s));
    const auto second = one->take();
    ASSERT_TRUE(second);
    EXPECT_FALSE(happens([&] { return other->look().may_take; }, 4s));
    append(**second, 2);
}

}  // namespace
}  // namespace fieldpeg::log
