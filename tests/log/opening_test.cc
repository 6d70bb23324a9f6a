#include "server/log/day_log.h"

#include "tests/support/processes.h"
#include "tests/support/temporary.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <memory>
#include <set>
#include <string>

/// How a log is made and closed, and how it is read where nothing may be written. What a file says
/// of itself is read as "SQLite Database File Format", section 1.3, has it.
namespace fieldpeg::log {
namespace {

namespace fs = std::filesystem;

using testing::as_another_user;
using testing::in_another_process;
using testing::read_file;
using testing::TemporaryFolder;
using testing::write_file;

Batch batch_of(std::uint64_t version, std::size_t record_bytes = 20) {
    Batch batch;
    Entry e;
    e.version = version;
    e.kind = "claimed";
    e.record = std::string(record_bytes, 'x');
    batch.entries.push_back(e);
    return batch;
}

class Opening : public ::testing::Test {
protected:
    std::unique_ptr<DayLog> opened(DayLog::Access access = DayLog::Access::write) const {
        auto log = DayLog::open(path_, access);
        EXPECT_TRUE(log) << log.error().why;
        return log ? std::move(*log) : nullptr;
    }

    void append(DayLog& log, std::uint64_t version) const {
        auto batch = batch_of(version);
        const auto done = log.append(batch);
        EXPECT_TRUE(done) << done.error().why;
    }

    void make(std::uint64_t entries) const {
        const auto log = opened();
        for (std::uint64_t version = 1; version <= entries; ++version) append(*log, version);
    }

    /// What a reader finds: how many entries, or why none.
    std::string found() const {
        const auto log = DayLog::open(path_, DayLog::Access::read);
        if (!log) return log.error().why;
        if (const auto fault = (*log)->verify()) return fault->why;
        return std::to_string((*log)->last_version().value());
    }

    /// The same by somebody who may not write there.
    std::string found_by_another() const {
        fs::permissions(folder_.at(""), fs::perms(0555));
        const auto said = as_another_user([&] { return found(); });
        fs::permissions(folder_.at(""), fs::perms(0755));
        return said;
    }

    /// Appends and is gone without closing, as by a kill.
    void append_and_die(std::uint64_t version) const {
        in_another_process([&]() -> std::string {
            const auto log = opened();
            append(*log, version);
            ::_exit(0);
        });
    }

    std::set<std::string> files() const {
        std::set<std::string> names;
        for (const auto& entry : fs::directory_iterator(folder_.at("")))
            if (entry.path().extension() != ".lock") names.insert(entry.path().filename().string());
        return names;
    }

    TemporaryFolder folder_;
    const std::string path_ = folder_.at("day.daylog");
};

using Files = std::set<std::string>;

TEST_F(Opening, ANewLogAppearsWithItsFirstEntryInIt) {
    const auto log = opened();
    EXPECT_FALSE(fs::exists(path_));
    EXPECT_EQ(log->last_version().value(), 0U);
    append(*log, 1);
    EXPECT_EQ(found(), "1");
    append(*log, 2);
    EXPECT_EQ(found(), "2");
    EXPECT_FALSE(fs::exists(path_ + ".new"));
}

TEST_F(Opening, ANewLogThatNothingWasWrittenToLeavesNothing) {
    opened();
    EXPECT_EQ(files(), Files{});
}

TEST_F(Opening, WhatAKilledOneLeftOfANewLogIsNothing) {
    write_file(path_ + ".new", std::string(10'000, 'x'));
    make(1);
    EXPECT_EQ(found(), "1");
    EXPECT_EQ(files(), Files{"day.daylog"});
}

// POSIX, setrlimit: with SIGXFSZ ignored a write beyond the limit fails, as on a full disk.
TEST_F(Opening, ANewLogThatThereIsNoRoomForIsNotThere) {
    for (const rlim_t room : {0UL, 5000UL, 12000UL}) {
        const auto said = in_another_process([&]() -> std::string {
            ::signal(SIGXFSZ, SIG_IGN);
            rlimit limit{};
            ::getrlimit(RLIMIT_FSIZE, &limit);
            const auto all = limit.rlim_cur;
            const auto log = opened();
            limit.rlim_cur = room;
            ::setrlimit(RLIMIT_FSIZE, &limit);
            auto batch = batch_of(1, 30'000);
            if (log->append(batch)) return "written";
            if (fs::exists(path_)) return "half a log";
            limit.rlim_cur = all;
            ::setrlimit(RLIMIT_FSIZE, &limit);
            auto again = batch_of(1, 30'000);
            const auto done = log->append(again);
            return done ? found() : done.error().why;
        });
        EXPECT_EQ(said, "1") << room;
        fs::remove(path_);
    }
}

TEST_F(Opening, ANewLogThatCannotBeOpenedThenSaysSoAndIsThere) {
    {
        const auto log = opened();
        fs::create_directory(path_ + "-wal");
        auto first = batch_of(1);
        auto second = batch_of(2);
        EXPECT_FALSE(log->append(first));
        EXPECT_FALSE(log->append(second));
    }
    fs::remove(path_ + "-wal");
    EXPECT_EQ(found(), "1");
    append(*opened(), 2);
}

TEST_F(Opening, ANewLogNeverTakesThePlaceOfAnother) {
    const auto log = opened();
    write_file(path_, "another's");
    auto batch = batch_of(1);
    EXPECT_FALSE(log->append(batch));
    EXPECT_EQ(read_file(path_), "another's");
}

// SQLite takes an empty file for a new database, and would delete what is beside it.
TEST_F(Opening, AnEmptiedLogIsNoNewDay) {
    make(2);
    append_and_die(3);
    const auto ahead = read_file(path_ + "-wal");
    ASSERT_FALSE(ahead.empty());
    fs::resize_file(path_, 0);
    for (const auto access : {DayLog::Access::write, DayLog::Access::read}) {
        const auto log = DayLog::open(path_, access);
        ASSERT_FALSE(log);
        EXPECT_NE(log.error().why.find("empty"), std::string::npos) << log.error().why;
        EXPECT_NE(log.error().next.find("copy"), std::string::npos) << log.error().next;
    }
    EXPECT_EQ(fs::file_size(path_), 0U);
    EXPECT_EQ(read_file(path_ + "-wal"), ahead);
}

// File Format, 1.3.3: bytes 18 and 19 are 1 for a rollback journal, 2 for a write-ahead log.
TEST_F(Opening, AClosedLogIsOneFile) {
    make(3);
    EXPECT_EQ(files(), Files{"day.daylog"});
    EXPECT_EQ(read_file(path_).substr(18, 2), "\x01\x01");
    append_and_die(4);
    EXPECT_EQ(read_file(path_).substr(18, 2), "\x02\x02");
    opened();
    EXPECT_EQ(files(), Files{"day.daylog"});
    EXPECT_EQ(found(), "4");
}

TEST_F(Opening, WhoReadsAlongKeepsItFromBecomingOneFileAndLosesNothing) {
    {
        const auto log = opened();
        append(*log, 1);
        append(*log, 2);
        SQLite::Database along(path_, SQLite::OPEN_READONLY);
        SQLite::Statement reading(along, "SELECT version FROM event");
        ASSERT_TRUE(reading.executeStep());
    }
    EXPECT_EQ(found(), "2");
}

TEST_F(Opening, ReadingLeavesNothingBehind) {
    make(3);
    EXPECT_EQ(found(), "3");
    EXPECT_EQ(files(), Files{"day.daylog"});
    SQLite::Database(path_, SQLite::OPEN_READWRITE).exec("PRAGMA journal_mode = WAL");
    ASSERT_EQ(read_file(path_).substr(18, 2), "\x02\x02") << "a log of an earlier program";
    EXPECT_EQ(found(), "3");
    EXPECT_EQ(files(), Files{"day.daylog"});
}

TEST_F(Opening, AnArchiveIsReadByAnotherWhoMayNotWrite) {
    make(3);
    EXPECT_EQ(found_by_another(), "3");
    SQLite::Database(path_, SQLite::OPEN_READWRITE).exec("PRAGMA journal_mode = WAL");
    EXPECT_EQ(found_by_another(), "3");
    write_file(path_ + "-wal", "");
    EXPECT_EQ(found_by_another(), "3") << "with an empty write-ahead file";
    fs::remove(path_ + "-wal");
    EXPECT_EQ(files(), Files{"day.daylog"});
}

TEST_F(Opening, ANameThatMeansSomethingInAUriIsOnlyAName) {
    for (const auto* name : {"day?mode=rwc&.daylog", "50%41.daylog", "day#1 ü.daylog"}) {
        const auto path = folder_.at(name);
        {
            auto log = DayLog::open(path, DayLog::Access::write).value();
            append(*log, 1);
        }
        const auto log = DayLog::open(path, DayLog::Access::read);
        ASSERT_TRUE(log) << name << log.error().why;
        EXPECT_EQ((*log)->last_version().value(), 1U) << name;
    }
}

TEST_F(Opening, WhatAKilledOneLeftBesideIsRead) {
    make(2);
    append_and_die(3);
    EXPECT_EQ(found(), "3");
    EXPECT_EQ(found_by_another(), "3") << "with its shared memory";
    fs::remove(path_ + "-shm");
    EXPECT_NE(found_by_another().find("day.daylog-wal"), std::string::npos) << found_by_another();
    EXPECT_EQ(found(), "3") << "by who may write there";
}

// A change of the file itself that was cut off, as by a kill between journal and file.
TEST_F(Opening, AChangeThatWasCutOffIsUndoneOrToldOf) {
    make(2);
    const auto cut_off = [&] {
        in_another_process([&]() -> std::string {
            SQLite::Database db(path_, SQLite::OPEN_READWRITE);
            db.exec(
                "PRAGMA cache_size = 1; BEGIN; "
                "CREATE TABLE much (x); "
                "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT 500) "
                "INSERT INTO much SELECT zeroblob(1000) FROM n");
            ::_exit(0);
        });
        return fs::exists(path_ + "-journal") && fs::file_size(path_ + "-journal") > 0;
    };
    ASSERT_TRUE(cut_off());
    EXPECT_NE(found_by_another().find("day.daylog-journal"), std::string::npos)
        << found_by_another();
    EXPECT_EQ(found(), "2");
    EXPECT_EQ(files(), Files{"day.daylog"});
}

/// What another process finds locked where SQLite keeps its shared lock ("File Locking And
/// Concurrency": 510 bytes from 2 behind PENDING_BYTE), as fcntl(2) tells it.
std::string locked_for_sqlite(const std::string& path) {
    return in_another_process([&]() -> std::string {
        struct flock range {};
        range.l_type = F_WRLCK;
        range.l_whence = SEEK_SET;
        range.l_start = 0x40000002;
        range.l_len = 510;
        const int file = ::open(path.c_str(), O_RDWR);
        if (file < 0 || ::fcntl(file, F_GETLK, &range) != 0) return "cannot be asked";
        return range.l_type == F_UNLCK ? "nothing" : "process " + std::to_string(range.l_pid);
    });
}

TEST_F(Opening, OurLockLeavesThoseOfSqliteAlone) {
    const auto ours = "process " + std::to_string(::getpid());
    const auto log = opened();
    append(*log, 1);
    EXPECT_EQ(locked_for_sqlite(path_), ours);
    append(*log, 2);
    EXPECT_FALSE(DayLog::open(path_, DayLog::Access::write)) << "a second one in this process";
    EXPECT_EQ(locked_for_sqlite(path_), ours);
}

TEST_F(Opening, ASecondToWriteIsRefusedAlsoWhenTheLockFileIsGone) {
    const auto log = opened();
    append(*log, 1);
    fs::remove(path_ + ".lock");
    EXPECT_NE(in_another_process([&]() -> std::string {
                  const auto second = DayLog::open(path_, DayLog::Access::write);
                  return second ? "opened" : second.error().why;
              }).find("held by another program"),
              std::string::npos);
    EXPECT_EQ(in_another_process([&] { return found(); }), "1") << "but it can be read";
}

}  // namespace
}  // namespace fieldpeg::log
