#include "server/log/day_log.h"

#include "server/log/hash.h"
#include "tests/log/entries.h"
#include "tests/log/every_form.h"
#include "tests/support/temporary.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace fieldpeg::log {
namespace {

using testing::digest_of;
using testing::entry_of;
using testing::EveryLog;
using testing::read_file;
using testing::record_of;
using testing::TemporaryFolder;
using testing::write_file;

class DayLogFile : public ::testing::Test {
protected:
    std::unique_ptr<DayLog> opened(DayLog::Access access = DayLog::Access::write) const {
        auto log = DayLog::open(path_, access);
        EXPECT_TRUE(log) << log.error().why;
        return log ? std::move(*log) : nullptr;
    }

    std::string why_not_opened(DayLog::Access access = DayLog::Access::write) const {
        const auto log = DayLog::open(path_, access);
        return log ? "" : log.error().why;
    }

    /// A log of so many entries, in one batch each.
    void make(std::uint64_t entries) const {
        const auto log = opened();
        for (std::uint64_t version = 1; version <= entries; ++version) {
            Batch batch;
            batch.entries.push_back(entry_of(version));
            ASSERT_TRUE(log->append(batch));
        }
    }

    /// What the log itself would never do.
    void tamper(const std::string& sql) const {
        SQLite::Database(path_, SQLite::OPEN_READWRITE).exec(sql);
    }

    std::optional<Fault> fault() const { return opened(DayLog::Access::read)->verify(); }

    TemporaryFolder folder_;
    const std::string path_ = folder_.at("day.daylog");
};

class SqliteForm final : public testing::LogForm {
public:
    std::string place() const override { return folder_.at("day.daylog"); }
    void tamper(const std::string& sql) override {
        SQLite::Database(place(), SQLite::OPEN_READWRITE).exec(sql);
    }
    std::string literal(std::string_view bytes) const override { return "x'" + hex(bytes) + "'"; }

private:
    TemporaryFolder folder_;
};

INSTANTIATE_TEST_SUITE_P(File, EveryLog,
                         ::testing::Values([]() -> std::unique_ptr<testing::LogForm> {
                             return std::make_unique<SqliteForm>();
                         }));

// [FIPS.180-4]: the example of the standard, and the empty message.
TEST(Sha256, OfAbcIsThePublishedOne) {
    EXPECT_EQ(hex(sha256("abc")),
              "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(hex(sha256("")), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_F(DayLogFile, CanBeReadAlongWhileItIsWritten) {
    make(2);
    const auto log = opened();
    SQLite::Database along(path_, SQLite::OPEN_READONLY);
    SQLite::Statement reading(along, "SELECT version FROM event ORDER BY version");
    ASSERT_TRUE(reading.executeStep());  // and goes on

    Batch batch;
    batch.entries = {entry_of(3)};
    ASSERT_TRUE(log->append(batch));
    EXPECT_TRUE(reading.executeStep());
    EXPECT_FALSE(reading.executeStep()) << "a reader sees the log as it was when it began";
    reading.reset();
    EXPECT_EQ(along.execAndGet("SELECT count(*) FROM event WHERE kind = 'claimed'").getInt(), 3);
}

TEST_F(DayLogFile, FindsOneBitThatChanged) {
    make(5);
    auto record = record_of(2);
    record[1] ^= 1;
    SQLite::Database db(path_, SQLite::OPEN_READWRITE);
    SQLite::Statement update(db, "UPDATE event SET record = ? WHERE version = 2");
    update.bind(1, record.data(), static_cast<int>(record.size()));
    update.exec();
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 2U);
}

TEST_F(DayLogFile, OfALaterFormatIsRefusedAndLeftAlone) {
    make(1);
    tamper("PRAGMA user_version = 999");
    EXPECT_NE(why_not_opened().find("999"), std::string::npos) << why_not_opened();
    EXPECT_NE(why_not_opened(DayLog::Access::read), "");
}

TEST_F(DayLogFile, ThatIsNoDatabaseIsRefusedAndLeftAlone) {
    const std::string text = "This is a shopping list, and a long one:\n" + std::string(5000, '-');
    write_file(path_, text);
    EXPECT_NE(why_not_opened(), "");
    EXPECT_NE(why_not_opened(DayLog::Access::read), "");
    EXPECT_EQ(read_file(path_), text);
}

TEST_F(DayLogFile, ThatIsAnotherDatabaseIsRefusedAndLeftAlone) {
    SQLite::Database(path_, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE)
        .exec("CREATE TABLE shopping (what TEXT); INSERT INTO shopping VALUES ('bread')");
    const auto before = read_file(path_);
    EXPECT_NE(why_not_opened(DayLog::Access::read), "");
    EXPECT_NE(why_not_opened(), "");
    EXPECT_EQ(hex(sha256(read_file(path_))), hex(sha256(before)))
        << "somebody else's file was written to";
}

TEST_F(DayLogFile, InAFolderThatIsNotThereIsRefused) {
    EXPECT_FALSE(DayLog::open(folder_.at("nowhere/day.daylog"), DayLog::Access::write));
}

}  // namespace
}  // namespace fieldpeg::log
