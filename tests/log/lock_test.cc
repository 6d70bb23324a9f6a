#include "server/log/lock.h"

#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <sys/wait.h>
#include <unistd.h>
#include <csignal>
#include <optional>
#include <string>
#include <utility>

namespace fieldpeg::log {
namespace {

using testing::TemporaryFolder;

TEST(Lock, RefusesASecondAndNamesTheProcess) {
    const TemporaryFolder folder;
    const auto first = Lock::take(folder.at("lock"));
    ASSERT_TRUE(first) << first.error().why;
    const auto second = Lock::take(folder.at("lock"));
    ASSERT_FALSE(second);
    EXPECT_EQ(second.error().kind, Refusal::Kind::unavailable);
    EXPECT_NE(second.error().why.find("process " + std::to_string(::getpid())), std::string::npos)
        << second.error().why;
}

TEST(Lock, IsGivenBackWhenItGoes) {
    const TemporaryFolder folder;
    for (int i = 0; i < 3; ++i) EXPECT_TRUE(Lock::take(folder.at("lock"))) << i;
}

TEST(Lock, GoesAlongWhenItIsMoved) {
    const TemporaryFolder folder;
    auto first = Lock::take(folder.at("lock"));
    ASSERT_TRUE(first);
    std::optional<Lock> kept(std::move(*first));
    EXPECT_FALSE(Lock::take(folder.at("lock")));
    kept.reset();
    EXPECT_TRUE(Lock::take(folder.at("lock")));
}

TEST(Lock, OfOneDayDoesNotHoldAnother) {
    const TemporaryFolder folder;
    const auto saturday = Lock::take(folder.at("saturday"));
    const auto sunday = Lock::take(folder.at("sunday"));
    EXPECT_TRUE(saturday);
    EXPECT_TRUE(sunday);
}

TEST(Lock, InAFolderThatIsNotThereIsRefused) {
    const TemporaryFolder folder;
    EXPECT_FALSE(Lock::take(folder.at("nowhere/lock")));
}

TEST(Lock, GoesWithItsProcessHoweverThatEnds) {
    const TemporaryFolder folder;
    int ready[2];
    ASSERT_EQ(::pipe(ready), 0);
    const auto child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
        const auto held = Lock::take(folder.at("lock"));
        const char said = held ? 'y' : 'n';
        if (::write(ready[1], &said, 1) == 1)
            while (true) ::pause();
        ::_exit(1);
    }
    char said = 0;
    ASSERT_EQ(::read(ready[0], &said, 1), 1);
    EXPECT_EQ(said, 'y');
    const auto meanwhile = Lock::take(folder.at("lock"));
    EXPECT_EQ(meanwhile ? "" : meanwhile.error().why,
              "the day is held by another program (process " + std::to_string(child) + ")");
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    EXPECT_TRUE(Lock::take(folder.at("lock")));
    ::close(ready[0]);
    ::close(ready[1]);
}

}  // namespace
}  // namespace fieldpeg::log
