#include "server/log/day_log.h"

#include "tests/simulation/unsure_disk.h"

#include <gtest/gtest.h>

#include <string>

/// A program is killed, the next one reads what it left, and then the power goes: what the second
/// has read, and so has told, is there for the third. (A write that was not synced is seen by
/// whoever opens the file next, and is not sure to stay: POSIX, write and fsync.)
namespace fieldpeg::simulation {
namespace {

using log::DayLog;

constexpr const char* path = "/day.daylog";

void append(DayLog& log, std::uint64_t version) {
    log::Batch batch;
    log::Entry e;
    e.version = version;
    e.kind = "claimed";
    e.record = "record " + std::to_string(version);
    batch.entries.push_back(std::move(e));
    (void)log.append(batch);  // whether it could be is seen by what is there
}

/// How many entries are there when it is opened; none: it cannot be.
std::optional<std::uint64_t> opened() {
    const auto log = DayLog::open(path, DayLog::Access::write);
    if (!log) return std::nullopt;
    return (*log)->last_version().value();
}

TEST(KilledLog, KeepsWhatTheNextProgramReadOfIt) {
    auto& disk = UnsureDisk::make_the_default();
    int seen_unsynced = 0;
    for (int call = 0; call < 12; ++call) {
        disk.begin_anew(false);
        {
            const auto log = DayLog::open(path, DayLog::Access::write);
            ASSERT_TRUE(log);
            append(**log, 1);
            disk.cut_after(call);  // killed there
            append(**log, 2);
            disk.cut();
        }
        disk.is_left_as_it_is();
        std::uint64_t read = 0;
        {
            const auto log = DayLog::open(path, DayLog::Access::write);
            ASSERT_TRUE(log);
            read = (*log)->last_version().value();
            disk.cut();
        }
        disk.power_returns(nullptr);
        const auto there = opened();
        ASSERT_TRUE(there);
        EXPECT_GE(*there, read) << "killed at call " << call;
        if (read == 2) ++seen_unsynced;
    }
    EXPECT_GT(seen_unsynced, 1) << "what was written is seen, synced or not";
}

}  // namespace
}  // namespace fieldpeg::simulation
