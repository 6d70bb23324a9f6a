#include "server/service/private_file.h"

#include "tests/support/processes.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>
#include <sys/resource.h>

#include <csignal>
#include <filesystem>
#include <set>
#include <string>

namespace fieldpeg::service {
namespace {

namespace fs = std::filesystem;

using testing::in_another_process;
using testing::read_file;
using testing::TemporaryFolder;
using testing::write_file;

std::set<std::string> files_in(const TemporaryFolder& folder) {
    std::set<std::string> names;
    for (const auto& entry : fs::directory_iterator(folder.at("")))
        names.insert(entry.path().filename().string());
    return names;
}

TEST(PrivateFile, IsWholeAndItsOwnersOnly) {
    const TemporaryFolder folder;
    for (const auto existing : {Existing::stays, Existing::goes}) {
        ASSERT_TRUE(write_private(folder.at("key"), "secret", existing));
        EXPECT_EQ(read_file(folder.at("key")), "secret");
        EXPECT_EQ(fs::status(folder.at("key")).permissions(),
                  fs::perms::owner_read | fs::perms::owner_write);
        EXPECT_EQ(files_in(folder), std::set<std::string>{"key"});
        fs::remove(folder.at("key"));
    }
}

TEST(PrivateFile, IsReplacedOnlyIfItMayGo) {
    const TemporaryFolder folder;
    write_file(folder.at("key"), "old");
    EXPECT_FALSE(write_private(folder.at("key"), "new", Existing::stays));
    EXPECT_EQ(read_file(folder.at("key")), "old");
    EXPECT_TRUE(write_private(folder.at("key"), "new", Existing::goes));
    EXPECT_EQ(read_file(folder.at("key")), "new");
    EXPECT_EQ(files_in(folder), std::set<std::string>{"key"});
}

TEST(PrivateFile, TakesNoHarmFromWhatAKilledOneLeft) {
    const TemporaryFolder folder;
    for (const auto existing : {Existing::stays, Existing::goes}) {
        write_file(folder.at("key.new"), "half a sec");
        EXPECT_TRUE(write_private(folder.at("key"), "secret", existing));
        EXPECT_EQ(read_file(folder.at("key")), "secret");
        EXPECT_EQ(files_in(folder), std::set<std::string>{"key"});
        fs::remove(folder.at("key"));
    }
}

// POSIX, setrlimit: with SIGXFSZ ignored a write beyond the limit is cut or fails.
TEST(PrivateFile, ThatThereIsNoRoomForIsNotThere) {
    const TemporaryFolder folder;
    write_file(folder.at("key"), "old");
    const auto said = in_another_process([&]() -> std::string {
        ::signal(SIGXFSZ, SIG_IGN);
        rlimit limit{};
        ::getrlimit(RLIMIT_FSIZE, &limit);
        limit.rlim_cur = 10;
        ::setrlimit(RLIMIT_FSIZE, &limit);
        const std::string text(100, 'x');
        if (write_private(folder.at("key"), text, Existing::goes)) return "written";
        if (write_private(folder.at("another"), text, Existing::stays)) return "written";
        return "refused";
    });
    EXPECT_EQ(said, "refused");
    EXPECT_EQ(read_file(folder.at("key")), "old");
    EXPECT_EQ(files_in(folder), std::set<std::string>{"key"});
}

}  // namespace
}  // namespace fieldpeg::service
