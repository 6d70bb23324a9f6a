#include "server/log/day_log.h"

#include "server/log/hash.h"
#include "tests/support/temporary.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>
#include <openssl/sha.h>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace fieldpeg::log {
namespace {

using testing::read_file;
using testing::TemporaryFolder;
using testing::write_file;

/// SHA-256 by another function than the one that the log uses.
std::string digest_of(const std::string& bytes) {
    std::string digest(SHA256_DIGEST_LENGTH, '\0');
    SHA256(reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size(),
           reinterpret_cast<unsigned char*>(digest.data()));
    return digest;
}

/// Not text, as a record is: with a zero byte and a quote in it.
std::string record_of(std::uint64_t version) {
    return std::string("'\0\xff", 3) + "event " + std::to_string(version);
}

Entry entry_of(std::uint64_t version) {
    Entry e;
    e.version = version;
    e.at_ms = 1'800'000'000'000 + static_cast<std::int64_t>(version);
    e.actor = 3;
    e.subject = 4;
    e.kind = "claimed";
    e.record = record_of(version);
    return e;
}

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

std::vector<Entry> entries_of(const DayLog& log, std::uint64_t after = 0,
                              std::uint64_t up_to = UINT64_MAX) {
    std::vector<Entry> all;
    const auto read = log.each(after, up_to, [&](const Entry& e) {
        all.push_back(e);
        return true;
    });
    EXPECT_TRUE(read);
    return all;
}

// [FIPS.180-4]: the example of the standard, and the empty message.
TEST(Sha256, OfAbcIsThePublishedOne) {
    EXPECT_EQ(hex(sha256("abc")),
              "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(hex(sha256("")), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_F(DayLogFile, IsEmptyWhenNew) {
    const auto log = opened();
    EXPECT_EQ(log->last_version().value(), 0U);
    EXPECT_EQ(log->head_hash().value(), std::string(32, '\0'));
    EXPECT_TRUE(entries_of(*log).empty());
    EXPECT_FALSE(log->verify());
}

TEST_F(DayLogFile, GivesBackWhatWasAppendedInItsOrder) {
    {
        const auto log = opened();
        Batch batch;
        for (std::uint64_t version = 1; version <= 3; ++version)
            batch.entries.push_back(entry_of(version));
        batch.entries[1].frequency_mhz = 5732;
        batch.entries[1].power_dbm = 13.979;
        ASSERT_TRUE(log->append(batch));
    }
    const auto all = entries_of(*opened(DayLog::Access::read));
    ASSERT_EQ(all.size(), 3U);
    for (std::uint64_t i = 0; i < 3; ++i) {
        EXPECT_EQ(all[i].version, i + 1);
        EXPECT_EQ(all[i].record, record_of(i + 1));
        EXPECT_EQ(all[i].at_ms, entry_of(i + 1).at_ms);
        EXPECT_EQ(all[i].actor, 3U);
        EXPECT_EQ(all[i].subject, 4U);
        EXPECT_EQ(all[i].kind, "claimed");
    }
    EXPECT_FALSE(all[0].frequency_mhz);
    EXPECT_FALSE(all[2].frequency_mhz) << "left over from the entry before";
    EXPECT_EQ(all[1].frequency_mhz, 5732);
    EXPECT_EQ(all[1].power_dbm, 13.979);
}

TEST_F(DayLogFile, GivesAPartOfItAndEndsWhenTold) {
    make(5);
    const auto log = opened();
    const auto part = entries_of(*log, 1, 3);
    ASSERT_EQ(part.size(), 2U);
    EXPECT_EQ(part[0].version, 2U);
    EXPECT_EQ(part[1].version, 3U);
    int taken = 0;
    EXPECT_TRUE(log->each(0, UINT64_MAX, [&](const Entry&) { return ++taken < 2; }));
    EXPECT_EQ(taken, 2);
}

TEST_F(DayLogFile, ChainsEachRecordToTheOneBefore) {
    make(4);
    const auto log = opened();
    std::string hash(32, '\0');
    for (const auto& e : entries_of(*log)) {
        hash = digest_of(hash + e.record);
        EXPECT_EQ(hex(e.hash), hex(hash)) << e.version;
    }
    EXPECT_EQ(log->head_hash().value(), hash);
    EXPECT_FALSE(log->verify());
}

TEST_F(DayLogFile, TellsTheHashesToWhoAppends) {
    const auto log = opened();
    Batch batch;
    batch.entries = {entry_of(1), entry_of(2)};
    ASSERT_TRUE(log->append(batch));
    const auto first = digest_of(std::string(32, '\0') + record_of(1));
    EXPECT_EQ(batch.entries[0].hash, first);
    EXPECT_EQ(batch.entries[1].hash, digest_of(first + record_of(2)));
    EXPECT_EQ(log->head_hash().value(), batch.entries[1].hash);
}

TEST_F(DayLogFile, KeepsNamesAnswersKeysAndTickets) {
    {
        const auto log = opened();
        Batch batch;
        batch.names = {{3, "Ann"}, {4, "Bob"}};
        batch.answers.push_back({3, "once", std::string("re\0ply", 6)});
        batch.keys = {{sha256("a"), 3}, {sha256("b"), 4}};
        batch.tickets = {{sha256("t"), 1, 0}, {sha256("u"), 2, 3}};
        ASSERT_TRUE(log->append(batch));
        Batch later;
        later.names = {{4, "Bo"}};
        later.keys_dropped = {3};
        later.keys = {{sha256("c"), 3}};
        later.tickets = {{sha256("v"), 1, 0}};
        ASSERT_TRUE(log->append(later));
    }
    const auto log = opened();
    EXPECT_EQ(log->names().value(), (std::map<std::uint32_t, std::string>{{3, "Ann"}, {4, "Bo"}}));
    ASSERT_EQ(log->answers().value().size(), 1U);
    EXPECT_EQ(log->answers().value()[0].reply, std::string("re\0ply", 6));
    std::map<std::string, std::uint32_t> keys;
    for (const auto& k : log->keys().value()) keys[k.hash] = k.person;
    EXPECT_EQ(keys, (std::map<std::string, std::uint32_t>{{sha256("b"), 4}, {sha256("c"), 3}}));
    std::map<std::string, std::uint32_t> tickets;
    for (const auto& t : log->tickets().value()) tickets[t.hash] = t.pilot;
    EXPECT_EQ(tickets, (std::map<std::string, std::uint32_t>{{sha256("v"), 0}, {sha256("u"), 3}}));
}

TEST_F(DayLogFile, DropsAllSecretsBeforeItAddsAny) {
    {
        const auto log = opened();
        Batch batch;
        batch.keys = {{sha256("a"), 3}, {sha256("b"), 4}};
        batch.tickets = {{sha256("t"), 1, 0}, {sha256("u"), 2, 3}};
        ASSERT_TRUE(log->append(batch));
        Batch renewed;
        renewed.secrets_dropped = true;
        renewed.tickets = {{sha256("v"), 1, 0}};
        ASSERT_TRUE(log->append(renewed));
    }
    const auto log = opened();
    EXPECT_TRUE(log->keys().value().empty());
    ASSERT_EQ(log->tickets().value().size(), 1U);
    EXPECT_EQ(log->tickets().value()[0].hash, sha256("v"));
}

TEST_F(DayLogFile, LeavesNothingOfABatchThatFailsHalfWay) {
    const auto log = opened();
    Batch good;
    good.entries = {entry_of(1)};
    good.answers.push_back({3, "once", "first"});
    ASSERT_TRUE(log->append(good));
    const auto head = log->head_hash().value();

    Batch bad;
    bad.entries = {entry_of(2), entry_of(3)};
    bad.answers = {{4, "other", "second"}, {3, "once", "the same request again"}};
    bad.names = {{9, "Cy"}};
    bad.keys_dropped = {3};
    EXPECT_FALSE(log->append(bad));
    EXPECT_EQ(log->last_version().value(), 1U);
    EXPECT_EQ(log->head_hash().value(), head);
    ASSERT_EQ(log->answers().value().size(), 1U);
    EXPECT_EQ(log->answers().value()[0].reply, "first");
    EXPECT_TRUE(log->names().value().empty());

    Batch next;
    next.entries = {entry_of(2)};
    EXPECT_TRUE(log->append(next));
    EXPECT_FALSE(log->verify());
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

TEST_F(DayLogFile, IsReadByAnotherWhileItIsHeldForWriting) {
    make(2);
    const auto writing = opened();
    EXPECT_EQ(opened(DayLog::Access::read)->last_version().value(), 2U);
}

TEST_F(DayLogFile, FindsAChangedRecord) {
    make(5);
    tamper("UPDATE event SET record = CAST('another' AS BLOB) WHERE version = 3");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 3U);
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

TEST_F(DayLogFile, FindsAChangedRecordWhoseOwnHashWasMadeToFit) {
    make(5);
    const auto before = entries_of(*opened());
    const auto hash = digest_of(before[1].hash + "another");
    SQLite::Database db(path_, SQLite::OPEN_READWRITE);
    SQLite::Statement update(
        db, "UPDATE event SET record = CAST('another' AS BLOB), hash = ? WHERE version = 3");
    update.bind(1, hash.data(), static_cast<int>(hash.size()));
    update.exec();
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 4U);
}

TEST_F(DayLogFile, FindsARemovedEntry) {
    make(5);
    tamper("DELETE FROM event WHERE version = 3");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 3U);
}

TEST_F(DayLogFile, FindsARemovedEntryThatTheLaterOnesWereMovedOver) {
    make(5);
    tamper("DELETE FROM event WHERE version = 3");
    tamper("UPDATE event SET version = 3 WHERE version = 4");
    tamper("UPDATE event SET version = 4 WHERE version = 5");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 3U);
}

TEST_F(DayLogFile, FindsASwappedPair) {
    make(5);
    tamper("UPDATE event SET version = 99 WHERE version = 2");
    tamper("UPDATE event SET version = 2 WHERE version = 3");
    tamper("UPDATE event SET version = 3 WHERE version = 99");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 2U);
}

TEST_F(DayLogFile, FindsThatTheFirstEntryIsGone) {
    make(3);
    tamper("DELETE FROM event WHERE version = 1");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 1U);
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

TEST_F(DayLogFile, ThatIsNotThereIsNotMadeByReading) {
    EXPECT_NE(why_not_opened(DayLog::Access::read), "");
    EXPECT_FALSE(std::filesystem::exists(path_));
}

TEST_F(DayLogFile, InAFolderThatIsNotThereIsRefused) {
    EXPECT_FALSE(DayLog::open(folder_.at("nowhere/day.daylog"), DayLog::Access::write));
}

}  // namespace
}  // namespace fieldpeg::log
