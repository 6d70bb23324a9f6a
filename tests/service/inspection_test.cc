#include "server/service/inspection.h"

#include "tests/support/kept_day.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <string>

/// A log held against itself, and what stands in a damaged one saved into a new one, from which the
/// day goes on.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::KeptDay;
using testing::read_file;
using testing::release;
using testing::write_file;

class Inspected : public ::testing::Test {
protected:
    Inspected() {
        marshal_ticket_ = day_.ticket(v1::Role::marshal);
        day_.enter(marshal_ticket_, "Edda", 'e');
        for (int i = 0; i < 10; ++i) {
            day_.take(claim("Ann", "R3"), day_.actor('e'), "yes " + std::to_string(i));
            day_.take(release("Ann", "somebody else flies first"), day_.actor('e'));
        }
        last_ = day_.keeper().state().version();
    }

    void change(const std::string& sql) {
        SQLite::Database(day_.files().log, SQLite::OPEN_READWRITE).exec(sql);
    }

    v1::LogReply looked_at() {
        const auto reply = verified(day_.files().log);
        EXPECT_TRUE(reply) << reply.error().why;
        return reply ? *reply : v1::LogReply();
    }

    Salvage saved() {
        const auto saved = salvage(day_.files().log, files_.log);
        EXPECT_TRUE(saved) << saved.error().where << ": " << saved.error().why;
        return saved ? *saved : Salvage();
    }

    /// The day as it goes on from what was saved.
    std::unique_ptr<Keeper> gone_on() {
        std::vector<std::string> differences;
        auto keeper = Keeper::open(files_, log::DayLog::Access::write, day_.now_ms(), differences);
        EXPECT_TRUE(keeper) << keeper.error().why;
        return keeper ? *std::move(keeper) : nullptr;
    }

    KeptDay day_;
    testing::TemporaryFolder folder_;
    const DayFiles files_ = files_of(folder_.at("again.toml"));
    std::string marshal_ticket_;
    std::uint64_t last_ = 0;
};

TEST_F(Inspected, HoldsBesideARunningDayAndWhenItIsOver) {
    for (int i = 0; i < 2; ++i) {
        const auto reply = looked_at();
        EXPECT_TRUE(reply.verified()) << reply.fault();
        EXPECT_EQ(reply.last_version(), last_);
        if (i == 0) {
            EXPECT_EQ(reply.head_hash(), log::hex(day_.keeper().head_hash()));
            day_.close();
        }
    }
}

// The chain covers the records; what stands beside them is for those who ask with SQL, and has to
// be what they say.
TEST_F(Inspected, NamesTheFirstEntryBesideWhoseRecordSomethingElseStands) {
    const auto claimed = day_.keeper().answer(testing::log_of("claimed"), 0).log().entries(2);
    const auto at = std::to_string(claimed.version());
    for (const auto& [column, value] :
         {std::pair("kind", "'released'"), std::pair("frequency_mhz", "5806.0"),
          std::pair("frequency_mhz", "NULL"), std::pair("power_dbm", "30.0"),
          std::pair("actor", "0"), std::pair("subject", "99"), std::pair("at_ms", "at_ms + 1")}) {
        SQLite::Database db(day_.files().log, SQLite::OPEN_READWRITE);
        db.exec("CREATE TEMP TABLE kept AS SELECT * FROM event");
        db.exec(std::string("UPDATE event SET ") + column + " = " + value +
                " WHERE version = " + at + " OR version = " + std::to_string(last_ - 1));
        const auto fault = looked_at().fault();
        EXPECT_FALSE(looked_at().verified()) << column;
        EXPECT_NE(fault.find("entry " + at + ": " + column), std::string::npos) << fault;
        EXPECT_NE(fault.find("likewise of 1 more"), std::string::npos) << fault;

        // 'fieldpeg log' says so too, and tells what the record says.
        const auto told = day_.keeper().answer(testing::log_of(""), 0).log();
        EXPECT_FALSE(told.verified()) << column;
        EXPECT_NE(told.fault().find(column), std::string::npos) << told.fault();
        EXPECT_EQ(told.entries_size(), static_cast<int>(last_));
        const auto& entry = told.entries(static_cast<int>(claimed.version()) - 1);
        EXPECT_EQ(testing::bytes_of(entry), testing::bytes_of(claimed)) << column;
        v1::Query ready;
        ready.mutable_ready();
        EXPECT_FALSE(day_.keeper().answer(ready, day_.now_ms()).ready().checks(0).good()) << column;
        db.exec("DELETE FROM event");
        db.exec("INSERT INTO event SELECT * FROM kept");
        EXPECT_TRUE(looked_at().verified()) << looked_at().fault();
    }
}

TEST_F(Inspected, KnowsByTheAnswersThatAnEndIsMissing) {
    change("DELETE FROM event WHERE version > " + std::to_string(last_ - 4));
    const auto reply = looked_at();
    EXPECT_FALSE(reply.verified());
    EXPECT_NE(reply.fault().find("entry " + std::to_string(last_ - 3) + ": it is missing"),
              std::string::npos)
        << reply.fault();
}

TEST_F(Inspected, WithoutAnyEntryDoesNotHold) {
    change("DELETE FROM event");
    change("DELETE FROM answer");
    EXPECT_FALSE(looked_at().verified());
    EXPECT_FALSE(salvage(day_.files().log, files_.log));
    EXPECT_FALSE(std::filesystem::exists(files_.log));
}

TEST_F(Inspected, IsSavedUpToItsFirstBadEntryAndTheDayGoesOn) {
    const auto bad = last_ - 5;
    change("UPDATE event SET record = CAST(record || 'x' AS BLOB) WHERE version = " +
           std::to_string(bad));
    EXPECT_EQ(looked_at().last_version(), bad - 1);
    EXPECT_NE(looked_at().fault().find("entry " + std::to_string(bad) + ":"), std::string::npos);
    day_.close();
    const auto before = read_file(day_.files().log);
    const auto result = saved();
    EXPECT_EQ(result.entries, bad - 1);
    EXPECT_NE(result.fault.find("entry " + std::to_string(bad)), std::string::npos) << result.fault;
    EXPECT_EQ(read_file(day_.files().log), before);
    const auto again = verified(files_.log);
    ASSERT_TRUE(again);
    EXPECT_TRUE(again->verified()) << again->fault();
    EXPECT_EQ(again->head_hash(), result.head_hash);

    auto keeper = gone_on();
    ASSERT_TRUE(keeper);
    EXPECT_EQ(keeper->state().version(), bad - 1);
    const auto* edda = keeper->person_of(KeptDay::key_of('e'));
    ASSERT_TRUE(edda) << "a key that belongs to what is saved is good";
    EXPECT_EQ(edda->name(), "Edda");
    EXPECT_TRUE(keeper->ticket_of(marshal_ticket_));
    Ask ask;
    ask.actor = {edda->id(), edda->role()};
    ask.command = claim("Bob", "R7");
    EXPECT_TRUE(keeper->take(ask, day_.now_ms()).claim().claimed());
}

// The answer was given: whoever asks the same again is not told yes by an entry that is lost.
TEST_F(Inspected, LeavesOutAnswersOfWhatIsLost) {
    const auto lost_from = last_ - 5;
    change("DELETE FROM event WHERE version >= " + std::to_string(lost_from));
    day_.close();
    EXPECT_FALSE(saved().lost.empty());
    auto keeper = gone_on();
    ASSERT_TRUE(keeper);
    const auto* edda = keeper->person_of(KeptDay::key_of('e'));
    ASSERT_TRUE(edda);
    const day::Actor actor{edda->id(), edda->role()};
    for (int i = 0; i < 10; ++i) {
        const auto before = keeper->state().version();
        Ask ask;
        ask.actor = actor;
        ask.command = claim("Ann", "R3");
        ask.idempotency_key = "yes " + std::to_string(i);
        const auto reply = keeper->take(ask, day_.now_ms());
        const bool is_new = keeper->state().version() > before;
        EXPECT_TRUE(is_new || reply.version() < lost_from) << i;
        ask.command = release("Ann", "next");
        ask.idempotency_key.clear();
        if (is_new) keeper->take(ask, day_.now_ms());
    }
}

// The number of somebody who is lost is the next one's: their key must not be.
TEST_F(Inspected, LeavesOutKeysOfThoseWhoAreLost) {
    const auto onlooker = day_.ticket(v1::Role::onlooker);
    const auto id = day_.enter(onlooker, "Stranger", 's').done().id();
    ASSERT_GT(id, 0U);
    change("DELETE FROM event WHERE version > " + std::to_string(last_));
    day_.close();
    saved();
    auto keeper = gone_on();
    ASSERT_TRUE(keeper);
    EXPECT_FALSE(keeper->person_of(KeptDay::key_of('s')));
    Entrance entrance;
    entrance.secret = marshal_ticket_;
    entrance.name = "Mina";
    entrance.key_hash = log::sha256(KeptDay::key_of('m'));
    EXPECT_EQ(keeper->enter(entrance, day_.now_ms()).done().id(), id);
    EXPECT_FALSE(keeper->person_of(KeptDay::key_of('s'))) << "a stranger became the marshal";
}

TEST_F(Inspected, IsSavedWithWhatStandsBesideSetRight) {
    change("UPDATE event SET kind = 'joined' WHERE version = 5");
    EXPECT_EQ(saved().entries, last_);
    const auto again = verified(files_.log);
    EXPECT_TRUE(again->verified()) << again->fault();
}

TEST_F(Inspected, IsNeverSavedOverWhatIsThere) {
    for (const auto* part : {"", "-wal"}) {
        write_file(files_.log + part, "a shopping list");
        const auto refused = salvage(day_.files().log, files_.log);
        ASSERT_FALSE(refused);
        EXPECT_EQ(refused.error().where, files_.log + part);
        EXPECT_EQ(refused.error().kind, Refusal::Kind::conflict);
        EXPECT_EQ(read_file(files_.log + part), "a shopping list");
        std::filesystem::remove(files_.log + part);
    }
    EXPECT_FALSE(salvage(day_.files().log, day_.files().log)) << "over itself";
    EXPECT_TRUE(looked_at().verified());
    const auto nowhere = salvage(day_.files().log, folder_.at("nowhere/again.daylog"));
    ASSERT_FALSE(nowhere);
    EXPECT_FALSE(nowhere.error().next.empty());
    EXPECT_TRUE(std::filesystem::is_empty(folder_.at(""))) << "something was left behind";
}

// Where SQLite itself cannot go on, what it has read until then is what stands.
TEST_F(Inspected, OfWhichAPageIsNoiseIsSavedUpToIt) {
    day_.close();
    constexpr std::streamoff page_bytes = 4096;
    std::uint64_t least = UINT64_MAX, most = 0;
    const auto whole = read_file(day_.files().log);
    for (std::streamoff page = 1; page < static_cast<std::streamoff>(whole.size()) / page_bytes;
         ++page) {
        write_file(day_.files().log, whole);
        {
            std::fstream file(day_.files().log, std::ios::in | std::ios::out | std::ios::binary);
            file.seekp(page * page_bytes);
            const std::string noise(page_bytes, '\xa5');
            file.write(noise.data(), page_bytes);
        }
        const auto reply = verified(day_.files().log);
        ASSERT_TRUE(reply) << page << reply.error().why;
        EXPECT_FALSE(reply->verified()) << "page " << page;
        EXPECT_EQ(reply->fault().find("database disk image"), std::string::npos) << reply->fault();
        for (const auto* part : {"", "-wal", "-shm"}) std::filesystem::remove(files_.log + part);
        const auto result = salvage(day_.files().log, files_.log);
        EXPECT_EQ(result ? result->entries : 0, reply->last_version()) << "page " << page;
        least = std::min(least, reply->last_version());
        most = std::max(most, reply->last_version());
    }
    EXPECT_EQ(most, last_) << "a page of keys or names takes no entry away";
    EXPECT_LT(least, last_);
}

// The chain holds, whoever made it: it says nothing of what a record means.
TEST_F(Inspected, WithAForgedEntryIsNamedThereAndSavedUpToIt) {
    day_.close();
    v1::Event claimed;
    claimed.set_version(last_ + 1);
    claimed.mutable_claimed()->set_subject(99);
    claimed.mutable_claimed()->mutable_claim()->mutable_channel()->set_mhz(5800);
    log::Batch forged;
    auto& entry = forged.entries.emplace_back();
    entry.version = last_ + 1;
    entry.record = claimed.SerializeAsString();
    {
        const auto log = log::DayLog::open(day_.files().log, log::DayLog::Access::write);
        ASSERT_TRUE((*log)->append(forged));
    }
    const auto reply = looked_at();
    EXPECT_FALSE(reply.verified());
    const auto where = "entry " + std::to_string(last_ + 1) + ": does not fit";
    EXPECT_NE(reply.fault().find(where), std::string::npos) << reply.fault();
    EXPECT_NE(saved().fault.find(where), std::string::npos);
    const auto keeper = gone_on();
    ASSERT_TRUE(keeper);
    EXPECT_EQ(keeper->state().version(), last_);
}

}  // namespace
}  // namespace fieldpeg::service
