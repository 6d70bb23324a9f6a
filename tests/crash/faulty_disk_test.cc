#include "tests/crash/faulty_disk.h"
#include "tests/crash/batches.h"

#include "server/log/day_log.h"
#include "tests/crash/forgetful_disk.h"

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <memory>
#include <random>
#include <string>
#include <utility>

/// Every call of the log's SQLite into the file system fails in turn, while a log is made, appended
/// to, taken over from its write-ahead log, read, closed and opened again. What was acknowledged is
/// there afterwards, what was refused is not there by half, and the refusal says what to do. As
/// SQLite's own tests do it (SQLite, "How SQLite Is Tested", I/O error testing; from memory).
namespace fieldpeg::log {
namespace {

using testing::batch_of;
using testing::entries_in_a_batch;
using testing::FaultyDisk;
using testing::ForgetfulDisk;
using testing::record_of;
using Fault = FaultyDisk::Fault;
using Lasts = FaultyDisk::Lasts;

constexpr const char* path = "/day.daylog";
/// Longer than a page of SQLite's.
constexpr std::size_t record_bytes = 5'000;
/// So that the write-ahead log is taken over into the file on the way.
constexpr int pages_until_taken_over = 8;

int take_over_soon(sqlite3* db, const char**, const void*) {
    return sqlite3_wal_autocheckpoint(db, pages_until_taken_over);
}

void expect_clear(const Refusal& why) {
    EXPECT_EQ(why.where, path) << why.why;
    EXPECT_FALSE(why.why.empty());
    EXPECT_FALSE(why.next.empty()) << why.why;
    EXPECT_EQ(why.why.find("within a transaction"), std::string::npos) << why.why;
    EXPECT_EQ(why.why.find("UNIQUE"), std::string::npos) << why.why;
}

class DiskFaults : public ::testing::Test {
protected:
    DiskFaults()
        : below_(ForgetfulDisk::make_the_default()), disk_(FaultyDisk::over_the_default()) {
        sqlite3_auto_extension(reinterpret_cast<void (*)()>(take_over_soon));
    }
    ~DiskFaults() override {
        sqlite3_cancel_auto_extension(reinterpret_cast<void (*)()>(take_over_soon));
        ForgetfulDisk::make_the_default();
    }

    /// What fails once goes well the second time; what fails for longer goes well when mended.
    template <class Act>
    auto until_it_goes(Act act) {
        auto done = act();
        if (done) return done;
        ++refused_;
        expect_clear(done.error());
        done = act();
        if (done) return done;
        expect_clear(done.error());
        disk_.mend();
        done = act();
        EXPECT_TRUE(done) << "mended: " << done.error().why;
        return done;
    }

    void append_to(DayLog& log, std::uint64_t number) {
        const auto done = until_it_goes([&] {
            auto batch = batch_of(number, record_bytes);
            return log.append(batch);
        });
        if (done) ++acknowledged_;
    }

    void read(const DayLog& log) {
        std::uint64_t entries = 0;
        const auto all = until_it_goes([&] {
            entries = 0;
            return log.each(0, UINT64_MAX, [&](const Entry& e) {
                EXPECT_EQ(e.record, record_of(e.version, record_bytes));
                ++entries;
                return true;
            });
        });
        EXPECT_TRUE(all);
        EXPECT_EQ(entries, acknowledged_ * entries_in_a_batch);
        const auto names = until_it_goes([&] { return log.names(); });
        EXPECT_EQ(names.value().size(), acknowledged_);
    }

    std::unique_ptr<DayLog> opened(DayLog::Access access) {
        auto log = until_it_goes([&] { return DayLog::open(path, access); });
        return log ? *std::move(log) : nullptr;
    }

    /// Everything that a log goes through on a day, the power going at its end or not.
    void live_through_a_day() {
        acknowledged_ = 0;
        refused_ = 0;
        {
            const auto log = opened(DayLog::Access::write);
            ASSERT_TRUE(log);
            for (std::uint64_t number = 1; number <= 4; ++number) append_to(*log, number);
            read(*log);
        }
        {
            const auto log = opened(DayLog::Access::read);
            ASSERT_TRUE(log);
            read(*log);
        }
        const auto log = opened(DayLog::Access::write);
        ASSERT_TRUE(log);
        append_to(*log, 5);
        append_to(*log, 6);
    }

    void expect_all_is_there(const std::string& after) {
        const auto log = DayLog::open(path, DayLog::Access::write);
        ASSERT_TRUE(log) << after << log.error().why;
        const auto fault = (*log)->verify();
        EXPECT_FALSE(fault) << after << fault->why;
        EXPECT_EQ((*log)->last_version().value(), acknowledged_ * entries_in_a_batch) << after;
        EXPECT_EQ((*log)->answers().value().size(), acknowledged_) << after;
        EXPECT_EQ((*log)->names().value().size(), acknowledged_) << after;
        EXPECT_TRUE((*log)->is_whole()) << after;
    }

    /// Each call in turn, until a day passes without a fault. How many there were.
    int live_through_all(Fault fault, Lasts lasts, bool power_goes) {
        for (int call = 1;; ++call) {
            below_.begin_anew(0);
            disk_.fail(call, fault, lasts);
            live_through_a_day();
            disk_.mend();
            if (power_goes) below_.power_returns(nullptr);
            const auto after = "call " + std::to_string(call) + " failed: " + disk_.failed() + ": ";
            expect_all_is_there(after);
            if (disk_.failed().empty()) {
                RecordProperty("calls_failed", call - 1);
                return call - 1;
            }
            if (HasFailure()) {
                ADD_FAILURE() << after;
                return call;
            }
            refusals_ += refused_;
        }
    }

    /// Appends until one is refused; then the power goes, and any part stays of what was not sure
    /// to. How many batches are there afterwards.
    std::uint64_t batches_there_after_a_refusal(int call, Fault fault) {
        below_.begin_anew(0);
        auto log = DayLog::open(path, DayLog::Access::write);
        EXPECT_TRUE(log);
        disk_.fail(call, fault, Lasts::once);
        for (acknowledged_ = 0; acknowledged_ < 6; ++acknowledged_) {
            auto batch = batch_of(acknowledged_ + 1, record_bytes);
            if (!(*log)->append(batch)) break;
        }
        below_.power_returns(&rng_);
        disk_.mend();
        const auto again = DayLog::open(path, DayLog::Access::write);
        if (!again || (*again)->verify() || !(*again)->is_whole()) {
            ADD_FAILURE() << "call " << call << " failed: " << disk_.failed();
            return 0;
        }
        const auto there = (*again)->names().value().size();
        EXPECT_EQ((*again)->last_version().value(), there * entries_in_a_batch);
        EXPECT_EQ((*again)->answers().value().size(), there);
        return there;
    }

    ForgetfulDisk& below_;
    FaultyDisk& disk_;
    std::mt19937_64 rng_{1};
    std::uint64_t acknowledged_ = 0;
    int refused_ = 0;
    int refusals_ = 0;
};

TEST_F(DiskFaults, AreTriedOnALogThatIsTakenOverOnTheWay) {
    below_.begin_anew(0);
    disk_.fail(0, Fault::full, Lasts::once);
    live_through_a_day();
    EXPECT_EQ(acknowledged_, 6U);
    EXPECT_GT(disk_.calls(), 6 * 6) << "each batch is more than six pages";
    EXPECT_TRUE(disk_.failed().empty());
}

TEST_F(DiskFaults, OfAnyCallOnceLoseNothing) {
    EXPECT_GT(live_through_all(Fault::error, Lasts::once, false), 200);
    EXPECT_GT(refusals_, 50);
}

TEST_F(DiskFaults, OfAnyCallOnceLoseNothingThoughThePowerGoesThen) {
    EXPECT_GT(live_through_all(Fault::error, Lasts::once, true), 200);
}

TEST_F(DiskFaults, OfAllCallsFromOneOnLoseNothing) {
    EXPECT_GT(live_through_all(Fault::error, Lasts::until_mended, true), 200);
}

TEST_F(DiskFaults, OfWritesThatAreCutShortLoseNothing) {
    EXPECT_GT(live_through_all(Fault::short_write, Lasts::once, false), 50);
    EXPECT_GT(live_through_all(Fault::short_write, Lasts::until_mended, true), 50);
}

TEST_F(DiskFaults, OfADiskThatIsFullLoseNothing) {
    EXPECT_GT(live_through_all(Fault::full, Lasts::once, true), 50);
    EXPECT_GT(live_through_all(Fault::full, Lasts::until_mended, true), 50);
    EXPECT_GT(refusals_, 50);
}

// A refused batch whose last sync alone failed may be there whole after the power went: the answer
// in it is then given to whoever asks the same again.
TEST_F(DiskFaults, LeaveARefusedBatchThereWholeOrNotAtAll) {
    for (const auto fault : {Fault::error, Fault::short_write, Fault::full}) {
        for (int call = 1;; ++call) {
            const auto there = batches_there_after_a_refusal(call, fault);
            if (disk_.failed().empty()) break;
            ASSERT_GE(there, acknowledged_) << call << " failed: " << disk_.failed();
            ASSERT_LE(there, acknowledged_ + 1) << call << " failed: " << disk_.failed();
        }
    }
}

}  // namespace
}  // namespace fieldpeg::log
