#include "server/service/keeper.h"
#include "tests/support/kept_day.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <functional>
#include <limits>
#include <memory>
#include <string>
#include <utility>

/// A log whose file is damaged, moved or deleted while the day runs: what needs it is refused with
/// the file's name, and everything else goes on.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::KeptDay;
using testing::release;

constexpr std::size_t page_bytes = 4096;

/// Everything behind the first page, in the file and in what is not yet taken over into it.
void overwrite(const std::string& path) {
    for (const auto* part : {"", "-wal"}) {
        std::fstream file(path + part, std::ios::in | std::ios::out | std::ios::binary);
        ASSERT_TRUE(file) << path << part;
        const auto size = std::filesystem::file_size(path + part);
        if (size <= page_bytes) continue;
        file.seekp(page_bytes);
        const std::string noise(size - page_bytes, '\xa5');
        file.write(noise.data(), static_cast<std::streamsize>(noise.size()));
    }
}

/// Questions that need the log.
std::vector<std::pair<const char*, v1::Query>> of_the_past() {
    std::vector<std::pair<const char*, v1::Query>> all;
    const auto add = [&](const char* what, const std::function<void(v1::Query&)>& ask) {
        ask(all.emplace_back(what, v1::Query()).second);
        all.back().second.mutable_moment()->set_version(4);
    };
    add("check", [](auto& q) { q.mutable_check(); });
    add("explain", [](auto& q) { q.mutable_explain()->set_pilot("Ann"); });
    add("relay check", [](auto& q) {
        q.mutable_relay_check()->set_relay("mast");
        *q.mutable_relay_check()->mutable_channel() = testing::channel("R2");
        q.mutable_relay_check()->set_power_dbm(20);
    });
    add("board", [](auto& q) { q.mutable_board(); });
    add("day", [](auto& q) { q.mutable_day(); });
    add("near", [](auto& q) { q.mutable_near()->set_mhz(5732); });
    return all;
}

class DamagedLog : public ::testing::Test {
protected:
    DamagedLog() {
        for (int i = 0; i < 20; ++i) {
            day_.take(claim("Ann", "R3"));
            day_.take(release("Ann", "somebody else flies first"));
        }
    }

    v1::Answer ask(const v1::Query& query) { return day_.keeper().answer(query, day_.now_ms()); }

    void expect_refused(const v1::Refusal& refusal, const char* what) const {
        EXPECT_EQ(refusal.kind(), v1::Refusal::unavailable) << what << refusal.DebugString();
        EXPECT_EQ(refusal.where(), day_.files().log) << what;
        EXPECT_FALSE(refusal.why().empty()) << what;
        EXPECT_FALSE(refusal.next().empty()) << what;
    }

    void expect_the_past_is_refused() {
        for (const auto& [what, query] : of_the_past()) expect_refused(ask(query).refusal(), what);
        const auto log = ask(testing::log_of("")).log();
        EXPECT_FALSE(log.verified());
        EXPECT_NE(log.fault().find(day_.files().log), std::string::npos) << log.fault();
        v1::Query ready;
        ready.mutable_ready();
        const auto checks = ask(ready).ready();
        ASSERT_GT(checks.checks_size(), 0);
        EXPECT_EQ(checks.checks(0).what(), "log");
        EXPECT_FALSE(checks.checks(0).good());
    }

    void expect_the_present_is_answered() {
        EXPECT_GT(ask(testing::board()).board().rows_size(), 0);
        v1::Query check;
        check.mutable_check();
        EXPECT_TRUE(ask(check).has_check());
    }

    KeptDay day_;
};

TEST_F(DamagedLog, WhosePagesWereOverwrittenIsNamedAndTheDayGoesOn) {
    for (const auto& [what, query] : of_the_past())
        EXPECT_FALSE(ask(query).has_refusal()) << what << " is refused of a log that is whole";
    day_.take(claim("Bob", "R7"));
    overwrite(day_.files().log);
    expect_the_past_is_refused();
    expect_the_present_is_answered();
    const auto reply = day_.take(claim("Ann", "R3"));
    if (reply.has_refusal()) expect_refused(reply.refusal(), "claim");
}

TEST_F(DamagedLog, OfWhichARecordIsAnotherIsNotBelieved) {
    SQLite::Database other(day_.files().log, SQLite::OPEN_READWRITE);
    for (const auto* record : {"CAST(record || 'x' AS BLOB)", "x'ffffffff'", "x''"}) {
        SQLite::Transaction change(other);
        other.exec(std::string("UPDATE event SET record = ") + record + " WHERE version = 3");
        change.commit();
        expect_the_past_is_refused();
        expect_the_present_is_answered();
    }
}

TEST_F(DamagedLog, OfWhichAnEntryIsGoneIsNotBelieved) {
    SQLite::Database other(day_.files().log, SQLite::OPEN_READWRITE);
    other.exec("DELETE FROM event WHERE version = 2");
    expect_the_past_is_refused();
    expect_the_present_is_answered();
}

TEST_F(DamagedLog, OfWhichTheEndIsGoneIsNotBelieved) {
    SQLite::Database other(day_.files().log, SQLite::OPEN_READWRITE);
    other.exec("DELETE FROM event WHERE version > 3");
    expect_the_past_is_refused();
    expect_the_present_is_answered();
}

TEST_F(DamagedLog, OfWhichATableIsGoneIsNotBelieved) {
    SQLite::Database other(day_.files().log, SQLite::OPEN_READWRITE);
    other.exec("DROP TABLE event");
    expect_the_past_is_refused();
    expect_the_present_is_answered();
    expect_refused(day_.take(claim("Ann", "R3")).refusal(), "claim");
}

// In words of the field, with the file's name: never in those of the library that found it.
TEST_F(DamagedLog, OfWhichAnyPageIsOverwrittenIsToldInOurWords) {
    const auto expect_ours = [&](const v1::Refusal& refusal) {
        EXPECT_EQ(refusal.why().find("database"), std::string::npos) << refusal.why();
        if (!refusal.why().empty()) expect_refused(refusal, "any");
    };
    const auto path = day_.files().log;
    day_.close();
    const auto whole = testing::read_file(path);
    for (std::size_t page = 0; page * page_bytes < whole.size(); ++page) {
        testing::write_file(path, whole);
        day_.reopen();
        {
            std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
            file.seekp(static_cast<std::streamoff>(page * page_bytes + (page == 0 ? 100 : 0)));
            const std::string noise(page_bytes / 2, '\xa5');
            file.write(noise.data(), static_cast<std::streamsize>(noise.size()));
        }
        for (const auto& [what, query] : of_the_past()) expect_ours(ask(query).refusal());
        expect_ours(day_.take(claim("Ann", "R3"), {}, "once").refusal());
        const auto log = ask(testing::log_of("")).log();
        EXPECT_EQ(log.fault().find("database"), std::string::npos) << log.fault();
        EXPECT_NE(log.verified(), !log.fault().empty());
        day_.close();
        for (const auto* beside : {"-wal", "-shm"}) std::filesystem::remove(path + beside);
    }
    testing::write_file(path, whole);
    day_.reopen();
}

// What is written into a file that nobody can find any more is not on disk when it is needed.
TEST_F(DamagedLog, ThatWasMovedTakesNothingUntilItIsBack) {
    const auto elsewhere = day_.files().log + ".elsewhere";
    std::filesystem::rename(day_.files().log, elsewhere);
    const auto version = day_.keeper().state().version();
    expect_refused(day_.take(claim("Ann", "R3")).refusal(), "claim");
    EXPECT_EQ(day_.keeper().state().version(), version);
    expect_the_present_is_answered();
    v1::Query ready;
    ready.mutable_ready();
    EXPECT_FALSE(ask(ready).ready().checks(0).good());

    std::filesystem::rename(elsewhere, day_.files().log);
    EXPECT_TRUE(day_.take(claim("Ann", "R3")).claim().claimed());
    EXPECT_TRUE(ask(ready).ready().checks(0).good());
    day_.reopen();
    EXPECT_EQ(day_.keeper().state().version(), version + 1);
}

TEST_F(DamagedLog, ThatWasDeletedTakesNothing) {
    std::filesystem::remove(day_.files().log);
    expect_refused(day_.take(claim("Ann", "R3")).refusal(), "claim");
    std::ofstream(day_.files().log) << "another file of that name";
    expect_refused(day_.take(claim("Ann", "R3")).refusal(), "claim");
    expect_the_present_is_answered();
}

TEST_F(DamagedLog, IsRefusedAtTheStartWithItsName) {
    day_.close();
    {
        std::fstream file(day_.files().log, std::ios::in | std::ios::out | std::ios::binary);
        file.seekp(page_bytes);
        const std::string noise(3 * page_bytes, '\xa5');
        file.write(noise.data(), static_cast<std::streamsize>(noise.size()));
    }
    for (const auto access : {log::DayLog::Access::read, log::DayLog::Access::write}) {
        std::vector<std::string> differences;
        const auto opened = Keeper::open(day_.files(), access, day_.now_ms(), differences);
        ASSERT_FALSE(opened);
        EXPECT_EQ(opened.error().where, day_.files().log) << opened.error().why;
        EXPECT_FALSE(opened.error().next.empty()) << opened.error().why;
    }
}

// The chain holds, whoever made it: it says nothing of what a record means.
class ForgedLog : public ::testing::Test {
protected:
    /// The day, opened after an entry was put behind its last.
    Result<std::unique_ptr<Keeper>> opened_with(const std::string& record) {
        day_.close();
        {
            const auto log = log::DayLog::open(day_.files().log, log::DayLog::Access::write);
            log::Batch forged;
            log::Entry e;
            e.version = next();
            e.record = record;
            forged.entries.push_back(e);
            EXPECT_TRUE((*log)->append(forged));
        }
        std::vector<std::string> differences;
        return Keeper::open(day_.files(), log::DayLog::Access::read, day_.now_ms(), differences);
    }
    std::uint64_t next() const {
        const auto log = log::DayLog::open(day_.files().log, log::DayLog::Access::read);
        return (*log)->last_version().value() + 1;
    }
    v1::Event event() const {
        v1::Event e;
        e.set_version(next());
        e.set_at_ms(day_.now_ms());
        return e;
    }
    void expect_refused(const std::string& record, const std::string& why) {
        const auto opened = opened_with(record);
        ASSERT_FALSE(opened);
        EXPECT_EQ(opened.error().where, day_.files().log);
        EXPECT_NE(opened.error().why.find(why), std::string::npos) << opened.error().why;
        EXPECT_FALSE(opened.error().next.empty());
    }

    KeptDay day_;
};

TEST_F(ForgedLog, OfWhichARecordIsNoEventIsRefusedAtTheStart) {
    expect_refused("\xff\xff\xff", "no event");
}

TEST_F(ForgedLog, WithAClaimOfATransmitterThatIsNotThereIsRefusedAtTheStart) {
    auto claimed = event();
    claimed.mutable_claimed()->set_subject(99);
    claimed.mutable_claimed()->mutable_claim()->mutable_channel()->set_mhz(5800);
    expect_refused(claimed.SerializeAsString(), "does not fit");
}

TEST_F(ForgedLog, WithAStageOfATransmitterThatIsNotThereIsRefusedAtTheStart) {
    auto on = event();
    on.mutable_stage_set()->set_subject(99);
    on.mutable_stage_set()->set_stage(v1::Claim::on_air);
    expect_refused(on.SerializeAsString(), "does not fit");
}

TEST_F(ForgedLog, WithARecordOfAnotherNumberIsRefusedAtTheStart) {
    auto opened = event();
    opened.set_version(opened.version() + 5);
    opened.mutable_field_opened();
    expect_refused(opened.SerializeAsString(), "does not fit");
}

TEST_F(ForgedLog, WithWhatIsNoNumberIsRefusedAtTheStart) {
    auto claimed = event();
    claimed.mutable_claimed()->set_subject(day_.keeper().state().sheet().pilots(0).id());
    claimed.mutable_claimed()->mutable_claim()->mutable_channel()->set_mhz(
        std::numeric_limits<double>::infinity());
    expect_refused(claimed.SerializeAsString(), "no event");
}

TEST_F(ForgedLog, WithAnEntryThatFitsIsRead) {
    auto opened = event();
    opened.mutable_field_opened();
    EXPECT_TRUE(opened_with(opened.SerializeAsString()));
}

}  // namespace
}  // namespace fieldpeg::service
