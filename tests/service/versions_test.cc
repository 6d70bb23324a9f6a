#include "client/show/json.h"
#include "server/service/keeper.h"
#include "tests/support/temporary.h"

#include "fieldpeg/v1/json.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <string>
#include <vector>

/// Logs that each version of the program wrote, and what it said of their days (versions/make.sh).
namespace fieldpeg::service {
namespace {

namespace fs = std::filesystem;
using testing::read_file;
using testing::TemporaryFolder;

const fs::path kept = fs::path(FIELDPEG_SOURCE_DIR) / "tests/service/versions";

std::vector<std::string> versions() {
    std::vector<std::string> all;
    for (const auto& file : fs::directory_iterator(kept))
        if (file.path().extension() == ".sql") all.push_back(file.path().stem().string());
    return all;
}

class LogOfVersion : public ::testing::TestWithParam<std::string> {};

TEST_P(LogOfVersion, FoldsToTheDayThatThatVersionSaidItWas) {
    const TemporaryFolder folder;
    const auto files = files_of(folder.at("day.toml"));
    SQLite::Database(files.log, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE)
        .exec(read_file(kept / (GetParam() + ".sql")));
    std::vector<std::string> differences;
    auto keeper = Keeper::open(files, log::DayLog::Access::read, 1'800'000'000'000, differences);
    ASSERT_TRUE(keeper) << keeper.error().why;
    v1::Query query;
    query.mutable_day();
    const auto day = (*keeper)->answer(query, 1'800'000'000'000).day();
    v1::DayReply said;  // what came later has no part in it
    ASSERT_TRUE(v1::read_json(read_file(kept / (GetParam() + ".json")), said));
    EXPECT_TRUE(show::json_text(day) == show::json_text(said))
        << "is another day than version " << GetParam() << " said";
    query.mutable_log();
    EXPECT_TRUE((*keeper)->answer(query, 1'800'000'000'000).log().verified());
}

INSTANTIATE_TEST_SUITE_P(Kept, LogOfVersion, ::testing::ValuesIn(versions()), [](const auto& one) {
    std::string name = one.param;
    for (auto& c : name) c = c == '.' ? '_' : c;
    return name;
});

TEST(Versions, AreKeptFromTheFirstOn) {
    EXPECT_GE(versions().size(), 2U);
}

}  // namespace
}  // namespace fieldpeg::service
