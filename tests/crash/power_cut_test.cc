#include "server/log/day_log.h"

#include "tests/crash/batches.h"
#include "tests/crash/forgetful_disk.h"

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <memory>
#include <random>
#include <string>

/// The power goes at each sync in turn, while a log is opened, appended to and closed. What was
/// acknowledged is there afterwards, and nothing is there by half.
namespace fieldpeg::log {
namespace {

using testing::batch_of;
using testing::entries_in_a_batch;
using testing::ForgetfulDisk;
using testing::record_of;

constexpr std::uint64_t batches = 50;
/// So long that the write-ahead log is taken over into the file on the way (after 1000 pages).
constexpr std::size_t record_bytes = 60'000;

constexpr const char* path = "/day.daylog";

/// Appends until the power goes. How many batches were acknowledged.
std::uint64_t appended() {
    auto log = DayLog::open(path, DayLog::Access::write);
    if (!log) return 0;
    for (std::uint64_t number = 1; number <= batches; ++number) {
        auto batch = batch_of(number, record_bytes);
        if (!(*log)->append(batch)) return number - 1;
    }
    return batches;
}

/// What is wrong with the log that is found afterwards; empty if nothing is.
std::string wrong_after(std::uint64_t acknowledged) {
    const auto opened = DayLog::open(path, DayLog::Access::write);
    if (!opened) return "it cannot be opened: " + opened.error().why;
    const auto& log = **opened;
    if (const auto fault = log.verify()) return "the chain does not hold: " + fault->why;
    const auto last = log.last_version().value();
    if (last % entries_in_a_batch != 0) return "half a batch is there";
    const auto there = last / entries_in_a_batch;
    if (there < acknowledged)
        return std::to_string(acknowledged) + " batches were acknowledged, " +
               std::to_string(there) + " are there";
    if (there > acknowledged + 1) return "more is there than was written";
    if (log.answers().value().size() != there || log.names().value().size() != there)
        return "answers or names do not go with the events";
    std::string wrong;
    const auto read = log.each(0, last, [&](const Entry& e) {
        if (e.record != record_of(e.version, record_bytes))
            wrong = "a record is not what was written";
        return wrong.empty();
    });
    if (!read) return "it cannot be read: " + read.error().why;
    if (!wrong.empty()) return wrong;
    auto next = batch_of(there + 1, record_bytes);
    if (!(*opened)->append(next)) return "it cannot be appended to";
    return "";
}

/// How many syncs a whole run takes.
int all_syncs(ForgetfulDisk& disk) {
    disk.begin_anew(0);
    EXPECT_EQ(appended(), batches);
    return disk.syncs();
}

class PowerCut : public ::testing::Test {
protected:
    ForgetfulDisk& disk_ = ForgetfulDisk::make_the_default();
};

TEST_F(PowerCut, IsTriedOnAWriteAheadLogThatIsTakenOverOnTheWay) {
    const int syncs = all_syncs(disk_);
    EXPECT_GT(syncs, static_cast<int>(batches)) << "each acknowledged batch takes a sync";
    EXPECT_TRUE(disk_.exists(path));
    disk_.begin_anew(0);
    const auto log = DayLog::open(path, DayLog::Access::write);
    ASSERT_TRUE(log);
    EXPECT_TRUE(disk_.exists(std::string(path) + "-wal"));
}

TEST_F(PowerCut, LosesNothingThatWasAcknowledged) {
    const int syncs = all_syncs(disk_);
    for (int cut = 1; cut <= syncs; ++cut) {
        disk_.begin_anew(cut);
        const auto acknowledged = appended();
        EXPECT_FALSE(disk_.has_power());
        disk_.power_returns(nullptr);
        EXPECT_EQ(wrong_after(acknowledged), "") << "cut at sync " << cut << " of " << syncs;
    }
}

TEST_F(PowerCut, LosesNothingEvenIfAnyPartOfTheRestStays) {
    const int syncs = all_syncs(disk_);
    std::mt19937_64 rng(1);
    for (int cut = 1; cut <= syncs; ++cut) {
        disk_.begin_anew(cut);
        const auto acknowledged = appended();
        disk_.power_returns(&rng);
        EXPECT_EQ(wrong_after(acknowledged), "") << "cut at sync " << cut << " of " << syncs;
    }
}

// The test of the test: a disk that says it has synced and has not.
TEST_F(PowerCut, LosesWhatADiskOnlySaidItHadWritten) {
    const int syncs = all_syncs(disk_);
    int lost = 0;
    for (int cut = 1; cut <= syncs; ++cut) {
        disk_.begin_anew(cut, true);
        const auto acknowledged = appended();
        disk_.power_returns(nullptr);
        if (!wrong_after(acknowledged).empty()) ++lost;
    }
    EXPECT_GT(lost, syncs / 2);
}

}  // namespace
}  // namespace fieldpeg::log
