#include "tests/log/every_form.h"

#include "server/log/hash.h"
#include "tests/log/entries.h"

#include <cstdint>
#include <map>
#include <string>

/// What is promised of a day's log, whatever keeps it.
namespace fieldpeg::testing {

std::unique_ptr<log::DayLog> EveryLog::opened(log::DayLog::Access access) const {
    auto log = log::DayLog::open(form_->place(), access);
    EXPECT_TRUE(log) << log.error().why;
    return log ? std::move(*log) : nullptr;
}

void EveryLog::make(std::uint64_t entries) const {
    const auto log = opened();
    for (std::uint64_t version = 1; version <= entries; ++version) {
        auto batch = batch_of(version);
        ASSERT_TRUE(log->append(batch));
    }
}

std::optional<log::Fault> EveryLog::fault() const {
    return opened(log::DayLog::Access::read)->verify();
}

TEST_P(EveryLog, IsEmptyWhenNew) {
    const auto log = opened();
    EXPECT_EQ(log->last_version().value(), 0U);
    EXPECT_EQ(log->head_hash().value(), std::string(32, '\0'));
    EXPECT_TRUE(entries_of(*log).empty());
    EXPECT_FALSE(log->verify());
}

TEST_P(EveryLog, GivesBackWhatWasAppendedInItsOrder) {
    {
        const auto log = opened();
        log::Batch batch;
        for (std::uint64_t version = 1; version <= 3; ++version)
            batch.entries.push_back(entry_of(version));
        batch.entries[1].frequency_mhz = 5732;
        batch.entries[1].power_dbm = 13.979;
        ASSERT_TRUE(log->append(batch));
    }
    const auto all = entries_of(*opened(log::DayLog::Access::read));
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

TEST_P(EveryLog, GivesAPartOfItAndEndsWhenTold) {
    make(5);
    const auto log = opened();
    const auto part = entries_of(*log, 1, 3);
    ASSERT_EQ(part.size(), 2U);
    EXPECT_EQ(part[0].version, 2U);
    EXPECT_EQ(part[1].version, 3U);
    int taken = 0;
    EXPECT_TRUE(log->each(0, UINT64_MAX, [&](const log::Entry&) { return ++taken < 2; }));
    EXPECT_EQ(taken, 2);
}

TEST_P(EveryLog, ChainsEachRecordToTheOneBefore) {
    make(4);
    const auto log = opened();
    std::string hash(32, '\0');
    for (const auto& e : entries_of(*log)) {
        hash = digest_of(hash + e.record);
        EXPECT_EQ(log::hex(e.hash), log::hex(hash)) << e.version;
    }
    EXPECT_EQ(log->head_hash().value(), hash);
    EXPECT_FALSE(log->verify());
}

TEST_P(EveryLog, TellsTheHashesToWhoAppends) {
    const auto log = opened();
    log::Batch batch;
    batch.entries = {entry_of(1), entry_of(2)};
    ASSERT_TRUE(log->append(batch));
    const auto first = digest_of(std::string(32, '\0') + record_of(1));
    EXPECT_EQ(batch.entries[0].hash, first);
    EXPECT_EQ(batch.entries[1].hash, digest_of(first + record_of(2)));
    EXPECT_EQ(log->head_hash().value(), batch.entries[1].hash);
}

TEST_P(EveryLog, KeepsNamesAnswersKeysAndTickets) {
    {
        const auto log = opened();
        log::Batch batch;
        batch.names = {{3, "Ann"}, {4, "Bob"}};
        batch.answers.push_back({3, "once", std::string("re\0ply", 6)});
        batch.keys = {{log::sha256("a"), 3}, {log::sha256("b"), 4}};
        batch.tickets = {{log::sha256("t"), 1, 0}, {log::sha256("u"), 2, 3}};
        ASSERT_TRUE(log->append(batch));
        log::Batch later;
        later.names = {{4, "Bo"}};
        later.keys_dropped = {3};
        later.keys = {{log::sha256("c"), 3}};
        later.tickets = {{log::sha256("v"), 1, 0}};
        ASSERT_TRUE(log->append(later));
    }
    const auto log = opened();
    EXPECT_EQ(log->names().value(), (std::map<std::uint32_t, std::string>{{3, "Ann"}, {4, "Bo"}}));
    ASSERT_EQ(log->answers().value().size(), 1U);
    EXPECT_EQ(log->answers().value()[0].reply, std::string("re\0ply", 6));
    std::map<std::string, std::uint32_t> keys;
    for (const auto& k : log->keys().value()) keys[k.hash] = k.person;
    EXPECT_EQ(keys,
              (std::map<std::string, std::uint32_t>{{log::sha256("b"), 4}, {log::sha256("c"), 3}}));
    std::map<std::string, std::uint32_t> tickets;
    for (const auto& t : log->tickets().value()) tickets[t.hash] = t.pilot;
    EXPECT_EQ(tickets,
              (std::map<std::string, std::uint32_t>{{log::sha256("v"), 0}, {log::sha256("u"), 3}}));
}

TEST_P(EveryLog, DropsAllSecretsBeforeItAddsAny) {
    {
        const auto log = opened();
        log::Batch batch;
        batch.keys = {{log::sha256("a"), 3}, {log::sha256("b"), 4}};
        batch.tickets = {{log::sha256("t"), 1, 0}, {log::sha256("u"), 2, 3}};
        ASSERT_TRUE(log->append(batch));
        log::Batch renewed;
        renewed.secrets_dropped = true;
        renewed.tickets = {{log::sha256("v"), 1, 0}};
        ASSERT_TRUE(log->append(renewed));
    }
    const auto log = opened();
    EXPECT_TRUE(log->keys().value().empty());
    ASSERT_EQ(log->tickets().value().size(), 1U);
    EXPECT_EQ(log->tickets().value()[0].hash, log::sha256("v"));
}

TEST_P(EveryLog, LeavesNothingOfABatchThatFailsHalfWay) {
    const auto log = opened();
    log::Batch good;
    good.entries = {entry_of(1)};
    good.answers.push_back({3, "once", "first"});
    ASSERT_TRUE(log->append(good));
    const auto head = log->head_hash().value();

    log::Batch bad;
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

    log::Batch next;
    next.entries = {entry_of(2)};
    EXPECT_TRUE(log->append(next));
    EXPECT_FALSE(log->verify());
}

TEST_P(EveryLog, IsReadByAnotherWhileItIsHeldForWriting) {
    make(2);
    const auto writing = opened();
    EXPECT_EQ(opened(log::DayLog::Access::read)->last_version().value(), 2U);
}

TEST_P(EveryLog, FindsAChangedRecord) {
    make(5);
    form_->tamper("UPDATE event SET record = " + form_->literal("another") + " WHERE version = 3");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 3U);
}

TEST_P(EveryLog, FindsAChangedRecordWhoseOwnHashWasMadeToFit) {
    make(5);
    const auto before = entries_of(*opened());
    const auto hash = digest_of(before[1].hash + "another");
    form_->tamper("UPDATE event SET record = " + form_->literal("another") +
                  ", hash = " + form_->literal(hash) + " WHERE version = 3");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 4U);
}

TEST_P(EveryLog, FindsARemovedEntry) {
    make(5);
    form_->tamper("DELETE FROM event WHERE version = 3");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 3U);
}

TEST_P(EveryLog, FindsARemovedEntryThatTheLaterOnesWereMovedOver) {
    make(5);
    form_->tamper("DELETE FROM event WHERE version = 3");
    form_->tamper("UPDATE event SET version = 3 WHERE version = 4");
    form_->tamper("UPDATE event SET version = 4 WHERE version = 5");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 3U);
}

TEST_P(EveryLog, FindsASwappedPair) {
    make(5);
    form_->tamper("UPDATE event SET version = 99 WHERE version = 2");
    form_->tamper("UPDATE event SET version = 2 WHERE version = 3");
    form_->tamper("UPDATE event SET version = 3 WHERE version = 99");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 2U);
}

TEST_P(EveryLog, FindsThatTheFirstEntryIsGone) {
    make(3);
    form_->tamper("DELETE FROM event WHERE version = 1");
    ASSERT_TRUE(fault());
    EXPECT_EQ(fault()->version, 1U);
}

TEST_P(EveryLog, ThatIsNotThereIsNotMadeByReading) {
    EXPECT_FALSE(log::DayLog::open(form_->place(), log::DayLog::Access::read));
    EXPECT_FALSE(log::DayLog::exists(form_->place()));
}

}  // namespace fieldpeg::testing
