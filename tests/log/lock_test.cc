#include "server/log/lock.h"

#include "tests/support/processes.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <sys/wait.h>
#include <unistd.h>
#include <csignal>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>

namespace fieldpeg::log {
namespace {

using testing::in_another_process;
using testing::read_file;
using testing::TemporaryFolder;
using testing::write_file;

std::string why_not_taken(const std::string& path) {
    const auto lock = Lock::take(path);
    return lock ? "" : lock.error().why;
}

class LockOnALog : public ::testing::Test {
protected:
    LockOnALog() { write_file(path_, "a log"); }

    std::string why_not_another() const {
        return in_another_process([&] { return why_not_taken(path_); });
    }

    TemporaryFolder folder_;
    const std::string path_ = folder_.at("day.daylog");
};

TEST_F(LockOnALog, RefusesASecondAndNamesTheProcess) {
    const auto first = Lock::take(path_);
    ASSERT_TRUE(first) << first.error().why;
    EXPECT_FALSE(first->is_new());
    EXPECT_EQ(Lock::take(path_).error().kind, Refusal::Kind::unavailable);
    const auto why =
        "the day is held by another program (process " + std::to_string(::getpid()) + ")";
    EXPECT_EQ(why_not_taken(path_), why);
    EXPECT_EQ(why_not_another(), why);
}

TEST_F(LockOnALog, IsGivenBackWhenItGoes) {
    for (int i = 0; i < 3; ++i) EXPECT_EQ(why_not_taken(path_), "") << i;
}

TEST_F(LockOnALog, GoesAlongWhenItIsMoved) {
    auto first = Lock::take(path_);
    ASSERT_TRUE(first);
    std::optional<Lock> kept(std::move(*first));
    EXPECT_NE(why_not_another(), "");
    kept.reset();
    EXPECT_EQ(why_not_another(), "");
}

// The file beside it is for people; somebody may tidy up.
TEST_F(LockOnALog, HoldsAlsoWhenTheFileBesideItIsDeleted) {
    const auto first = Lock::take(path_);
    ASSERT_TRUE(first);
    std::filesystem::remove(path_ + ".lock");
    EXPECT_NE(why_not_another().find("held by another program"), std::string::npos);
}

TEST_F(LockOnALog, GoesWithTheLogWhereverThatIs) {
    const auto first = Lock::take(path_);
    ASSERT_TRUE(first);
    std::filesystem::rename(path_, folder_.at("sunday.daylog"));
    EXPECT_NE(in_another_process([&] { return why_not_taken(folder_.at("sunday.daylog")); }), "");
}

TEST_F(LockOnALog, OfOneDayDoesNotHoldAnother) {
    write_file(folder_.at("sunday"), "a log");
    const auto saturday = Lock::take(path_);
    const auto sunday = Lock::take(folder_.at("sunday"));
    EXPECT_TRUE(saturday);
    EXPECT_TRUE(sunday);
}

TEST_F(LockOnALog, InAFolderThatIsNotThereIsRefused) {
    EXPECT_FALSE(Lock::take(folder_.at("nowhere/day.daylog")));
}

TEST_F(LockOnALog, GoesWithItsProcessHoweverThatEnds) {
    int ready[2];
    ASSERT_EQ(::pipe(ready), 0);
    const auto child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
        const auto held = Lock::take(path_);
        const char said = held ? 'y' : 'n';
        if (::write(ready[1], &said, 1) == 1)
            while (true) ::pause();
        ::_exit(1);
    }
    char said = 0;
    ASSERT_EQ(::read(ready[0], &said, 1), 1);
    EXPECT_EQ(said, 'y');
    EXPECT_EQ(why_not_taken(path_),
              "the day is held by another program (process " + std::to_string(child) + ")");
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    EXPECT_EQ(why_not_taken(path_), "");
    ::close(ready[0]);
    ::close(ready[1]);
}

class LockOnNoLogYet : public ::testing::Test {
protected:
    TemporaryFolder folder_;
    const std::string path_ = folder_.at("day.daylog");
};

TEST_F(LockOnNoLogYet, LeavesNothingUnderItsName) {
    {
        const auto lock = Lock::take(path_);
        ASSERT_TRUE(lock);
        EXPECT_TRUE(lock->is_new());
        EXPECT_NE(in_another_process([&] { return why_not_taken(path_); }), "");
        std::filesystem::remove(path_ + ".lock");
        EXPECT_NE(in_another_process([&] { return why_not_taken(path_); }), "");
    }
    EXPECT_FALSE(std::filesystem::exists(path_));
    EXPECT_FALSE(std::filesystem::exists(path_ + ".new"));
}

TEST_F(LockOnNoLogYet, HoldsWhatItBecame) {
    auto lock = Lock::take(path_);
    ASSERT_TRUE(lock);
    write_file(lock->file(), "a log");
    ASSERT_TRUE(lock->becomes(path_));
    EXPECT_EQ(read_file(path_), "a log");
    EXPECT_FALSE(lock->is_new());
    std::filesystem::remove(path_ + ".lock");
    EXPECT_NE(in_another_process([&] { return why_not_taken(path_); }), "");
}

TEST_F(LockOnNoLogYet, NeverTakesThePlaceOfAnother) {
    auto lock = Lock::take(path_);
    ASSERT_TRUE(lock);
    write_file(path_, "another's");
    EXPECT_FALSE(lock->becomes(path_));
    EXPECT_EQ(read_file(path_), "another's");
}

TEST_F(LockOnNoLogYet, EmptiesWhatOneLeftThatWasKilled) {
    write_file(path_ + ".new", "half a lo");
    auto lock = Lock::take(path_);
    ASSERT_TRUE(lock);
    ASSERT_TRUE(lock->make_empty());
    EXPECT_EQ(read_file(lock->file()), "");
}

}  // namespace
}  // namespace fieldpeg::log
