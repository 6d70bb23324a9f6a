#include "server/log/day_log.h"

#include "tests/support/temporary.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <memory>
#include <string>

/// What becomes of the files of a log while it is open: no yes is given that could not be found
/// again.
namespace fieldpeg::log {
namespace {

namespace fs = std::filesystem;

using testing::read_file;
using testing::TemporaryFolder;
using testing::write_file;

class OpenLog : public ::testing::Test {
protected:
    OpenLog() {
        log_ = DayLog::open(path_, DayLog::Access::write).value();
        for (int i = 0; i < 3; ++i) EXPECT_EQ(append(), "");
    }

    /// Why an entry was not taken; empty: it was.
    std::string append() {
        Batch batch;
        Entry e;
        e.version = appended_ + 1;
        e.kind = "claimed";
        e.record = std::string(3000, 'x');
        batch.entries.push_back(e);
        const auto done = log_->append(batch);
        if (done) ++appended_;
        return done ? "" : done.error().where + ": " + done.error().why;
    }

    std::string fault() const {
        const auto there = log_->in_its_place();
        return there ? "" : there.error().where + ": " + there.error().why;
    }

    void expect_no_yes(const std::string& file, const std::string& why) {
        for (const auto& said : {append(), fault(), append()}) {
            EXPECT_NE(said.find(file), std::string::npos) << said;
            EXPECT_NE(said.find(why), std::string::npos) << said;
        }
        EXPECT_EQ(log_->last_version().value(), 3U);
    }

    /// How many entries a copy of the log's file alone has.
    std::uint64_t in_the_file_alone() const {
        const auto copy = folder_.at("copy.daylog");
        fs::copy_file(path_, copy, fs::copy_options::overwrite_existing);
        const auto log = DayLog::open(copy, DayLog::Access::read).value();
        EXPECT_FALSE(log->verify());
        return log->last_version().value();
    }

    TemporaryFolder folder_;
    const std::string path_ = folder_.at("day.daylog");
    const std::string ahead_ = path_ + "-wal";
    const std::string shared_ = path_ + "-shm";
    std::unique_ptr<DayLog> log_;
    std::uint64_t appended_ = 0;
};

TEST_F(OpenLog, ThatIsMovedTakesNothingUntilItIsBack) {
    fs::rename(path_, folder_.at("elsewhere"));
    expect_no_yes(path_, "moved or deleted");
    fs::rename(folder_.at("elsewhere"), path_);
    EXPECT_EQ(fault(), "");
    EXPECT_EQ(append(), "");
}

TEST_F(OpenLog, ThatIsDeletedOrAnotherTakesNothing) {
    fs::remove(path_);
    expect_no_yes(path_, "moved or deleted");
    write_file(path_, std::string(100'000, 'x'));
    expect_no_yes(path_, "another file");
}

TEST_F(OpenLog, ThatIsCutTakesNothingAnyMore) {
    const auto before = read_file(path_);
    fs::resize_file(path_, 4096);
    expect_no_yes(path_, "cut off");
    std::ofstream(path_, std::ios::binary) << before;  // who knows whether it is the same
    expect_no_yes(path_, "cut off");
}

TEST_F(OpenLog, WithoutItsWriteAheadFileTakesNothingAndKeepsWhatItSaid) {
    EXPECT_LT(in_the_file_alone(), 3U) << "or this tests nothing";
    fs::remove(ahead_);
    expect_no_yes(ahead_, "moved or deleted");
    EXPECT_EQ(in_the_file_alone(), 3U);
    write_file(ahead_, "");  // by one who reads along
    expect_no_yes(ahead_, "another file");
    log_.reset();
    EXPECT_EQ(in_the_file_alone(), 3U);
    EXPECT_TRUE(fs::exists(ahead_)) << "it is not ours to delete";
}

TEST_F(OpenLog, WithoutItsSharedMemoryTakesNothingAndKeepsWhatItSaid) {
    fs::remove(shared_);
    expect_no_yes(shared_, "moved or deleted");
    EXPECT_EQ(in_the_file_alone(), 3U);
}

TEST_F(OpenLog, WhoseWriteAheadFileIsCutTakesNothing) {
    fs::resize_file(ahead_, fs::file_size(ahead_) - 100);
    const auto said = append();
    EXPECT_NE(said.find(ahead_), std::string::npos) << said;
    EXPECT_NE(fault().find("cut off"), std::string::npos);
}

TEST_F(OpenLog, WhoseFilesAreAllBackGoesOn) {
    for (const auto& file : {path_, ahead_, shared_}) fs::rename(file, file + ".elsewhere");
    EXPECT_NE(append(), "");
    for (const auto& file : {path_, ahead_, shared_}) fs::rename(file + ".elsewhere", file);
    EXPECT_EQ(append(), "");
    log_.reset();
    EXPECT_EQ(in_the_file_alone(), 4U);
}

TEST_F(OpenLog, BehindALinkIsWatchedWhereItIs) {
    log_.reset();
    fs::create_directory(folder_.at("real"));
    fs::rename(path_, folder_.at("real/day.daylog"));
    fs::create_symlink(folder_.at("real/day.daylog"), path_);
    log_ = DayLog::open(path_, DayLog::Access::write).value();
    EXPECT_EQ(append(), "");
    fs::remove(folder_.at("real/day.daylog-wal"));
    EXPECT_NE(append().find("real/day.daylog-wal"), std::string::npos);
}

// A log grows by being taken over from its write-ahead file, again and again.
TEST_F(OpenLog, ThatGrowsIsInItsPlace) {
    for (int i = 0; i < 60; ++i) {
        Batch batch;
        Entry e;
        e.version = ++appended_;
        e.record = std::string(100'000, 'x');
        batch.entries.push_back(e);
        ASSERT_TRUE(log_->append(batch));
    }
    EXPECT_GT(fs::file_size(path_), 1'000'000U) << "or this tests nothing";
    EXPECT_EQ(append(), "");
}

}  // namespace
}  // namespace fieldpeg::log
