#include "server/service/keeper.h"

#include "server/book/sweep.h"
#include "server/day/assessment.h"
#include "server/log/day_log.h"

#include "tests/support/kept_day.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::service {
namespace {

using testing::bytes_of;
using testing::changed;
using testing::channel;
using testing::claim;
using testing::club_day;
using testing::KeptDay;
using testing::on;
using testing::on_already;
using testing::release;
using testing::TemporaryFolder;
using testing::write_file;

const v1::Claim* claim_of(const v1::DayState& state, const std::string& pilot) {
    for (const auto& p : state.sheet().pilots())
        if (p.name() == pilot) return p.has_claim() ? &p.claim() : nullptr;
    return nullptr;
}

int entries_of(KeptDay& day, const std::string& kind) {
    return day.keeper().answer(testing::log_of(kind), day.now_ms()).log().entries_size();
}

v1::Command seen(const std::string& at, const std::string& note) {
    v1::Command command;
    *command.mutable_see()->mutable_channel() = channel(at);
    command.mutable_see()->set_note(note);
    return command;
}

/// A bit of everything.
void play(KeptDay& day) {
    day.enter(day.ticket(v1::Role::marshal), "Max", 'm');
    day.enter(day.ticket(v1::Role::pilot), "Cy", 'c');
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    day.take(claim("Ann", "R3"), day.actor('a'), "one");
    day.take(claim("Bob", "R3"), {}, "two");
    day.take(claim("Bob", "R7"), {}, "three");
    day.take(on("Ann"), day.actor('a'));
    day.take(on_already("mast", "R2", 27.78));
    day.take(seen("E5", "Ann saw it behind Bob's car"));
    day.take(testing::withdraw_key("Cy"));
    day.take(release("Bob", "gave it to Ann"));
}

TEST(Keeper, MakesALogFromADayFile) {
    KeptDay day;
    EXPECT_TRUE(std::filesystem::exists(day.files().log));
    EXPECT_EQ(day.keeper().state().version(), 1U);
    EXPECT_EQ(day.keeper().state().sheet().pilots_size(), 3);
    EXPECT_EQ(entries_of(day, "set_up"), 1);
    EXPECT_TRUE(day.differences().empty());
}

TEST(Keeper, FindsTheIdenticalStateInTheLog) {
    KeptDay day;
    play(day);
    const auto state = bytes_of(day.keeper().state());
    const auto head = day.keeper().head_hash();
    for (int i = 0; i < 2; ++i) {
        day.reopen();
        EXPECT_EQ(bytes_of(day.keeper().state()), state);
        EXPECT_EQ(day.keeper().head_hash(), head);
        EXPECT_TRUE(day.differences().empty());
    }
}

TEST(Keeper, NeedsNoDayFileOnceThereIsALog) {
    KeptDay day;
    play(day);
    const auto state = bytes_of(day.keeper().state());
    std::filesystem::remove(day.files().sheet);
    day.reopen();
    EXPECT_EQ(bytes_of(day.keeper().state()), state);
}

TEST(Keeper, TellsOfADayFileThatChangedAndHoldsToTheLog) {
    KeptDay day;
    play(day);
    const auto state = bytes_of(day.keeper().state());
    const auto other = changed(changed(club_day(), "name = \"Bob\"\nplace = \"line-2\"",
                                       "name = \"Bob\"\nplace = \"line-3\""),
                               "name = \"valley\"", "name = \"hill\"");
    write_file(day.files().sheet, other);
    day.reopen();
    EXPECT_EQ(bytes_of(day.keeper().state()), state);
    ASSERT_EQ(day.differences().size(), 3U);
    EXPECT_EQ(day.differences()[0], "the day file says otherwise: area hill: new");
    EXPECT_EQ(day.differences()[1], "the day file says otherwise: area valley: gone");
    EXPECT_EQ(day.differences()[2],
              "the day file says otherwise: pilot Bob: place line-2 -> line-3");
}

TEST(Keeper, TellsOfADayFileThatCannotBeReadAnyMore) {
    KeptDay day;
    play(day);
    const auto state = bytes_of(day.keeper().state());
    write_file(day.files().sheet, "[[pilot]\n");
    day.reopen();
    EXPECT_EQ(bytes_of(day.keeper().state()), state);
    EXPECT_EQ(day.differences().size(), 1U);
}

TEST(Keeper, RefusesADayFileThatIsWrongAndMakesNoLog) {
    const TemporaryFolder folder;
    const auto files = files_of(folder.at("saturday.toml"));
    write_file(files.sheet, "[[pilot]\n");
    std::vector<std::string> differences;
    EXPECT_FALSE(Keeper::open(files, log::DayLog::Access::write, 1, differences));
    EXPECT_FALSE(std::filesystem::exists(files.log));
}

// A power cut between the making of the log and its first entry left this behind in earlier
// programs.
TEST(Keeper, RefusesAWrongDayFileBesideALogWithNothingInIt) {
    const TemporaryFolder folder;
    const auto files = files_of(folder.at("saturday.toml"));
    {
        auto log = log::DayLog::open(files.log, log::DayLog::Access::write).value();
        log::Batch batch;
        batch.names[1] = "nobody yet";
        ASSERT_TRUE(log->append(batch));
    }
    std::vector<std::string> differences;
    EXPECT_FALSE(Keeper::open(files, log::DayLog::Access::write, 1, differences))
        << "there is no day file";
    write_file(files.sheet, "[[pilot]\n");
    EXPECT_FALSE(Keeper::open(files, log::DayLog::Access::write, 1, differences))
        << "the day file is wrong";
    write_file(files.sheet, club_day());
    EXPECT_TRUE(Keeper::open(files, log::DayLog::Access::write, 1, differences));
}

TEST(Keeper, HoldsADayAlone) {
    KeptDay day;
    std::vector<std::string> differences;
    EXPECT_FALSE(Keeper::open(day.files(), log::DayLog::Access::write, day.now_ms(), differences));
    day.close();
    EXPECT_TRUE(Keeper::open(day.files(), log::DayLog::Access::write, day.now_ms(), differences));
}

TEST(Keeper, RefusesALogThatWasTamperedWith) {
    KeptDay day;
    play(day);
    day.close();
    {
        auto log = log::DayLog::open(day.files().log, log::DayLog::Access::write);
        ASSERT_TRUE(log);
        log::Batch forged;
        log::Entry e;
        e.version = (*log)->last_version().value() + 2;
        e.record = "forged";
        forged.entries.push_back(e);
        ASSERT_TRUE((*log)->append(forged));
    }
    std::vector<std::string> differences;
    const auto again =
        Keeper::open(day.files(), log::DayLog::Access::write, day.now_ms(), differences);
    ASSERT_FALSE(again);
    EXPECT_NE(again.error().why.find("missing"), std::string::npos) << again.error().why;
}

TEST(Keeper, AnswersARepeatedCommandAsItDidFirst) {
    KeptDay day;
    const auto first = day.take(claim("Ann", "R3"), {}, "one");
    ASSERT_TRUE(first.claim().claimed());
    day.take(release("Ann"), {}, "two");
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(bytes_of(day.take(claim("Ann", "R3"), {}, "one")), bytes_of(first));
        // Whatever is asked under that name now.
        EXPECT_EQ(bytes_of(day.take(claim("Bob", "R5"), {}, "one")), bytes_of(first));
        EXPECT_EQ(claim_of(day.keeper().state(), "Ann"), nullptr);
        EXPECT_EQ(claim_of(day.keeper().state(), "Bob"), nullptr);
        EXPECT_EQ(entries_of(day, "claimed"), 1);
        day.reopen();
    }
}

TEST(Keeper, AnswersARepeatedCommandOfTheSameBatchAsItDidFirst) {
    KeptDay day;
    Ask ask;
    ask.command = claim("Ann", "R3");
    ask.idempotency_key = "one";
    const std::vector<Ask> asks = {ask, ask, ask};
    auto prepared = day.keeper().prepare(asks, day.now_ms());
    const auto committed = day.keeper().commit(prepared);
    ASSERT_TRUE(committed) << committed.error().why;
    const auto replies = day.keeper().finish(std::move(prepared), committed);
    ASSERT_EQ(replies.size(), 3U);
    for (const auto& reply : replies) EXPECT_EQ(bytes_of(reply), bytes_of(replies[0]));
    EXPECT_TRUE(replies[0].claim().claimed());
    EXPECT_EQ(entries_of(day, "claimed"), 1);
}

TEST(Keeper, KeepsTheRequestsOfTwoPeopleApart) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    day.enter(day.ticket(v1::Role::pilot, "Bob"), "Bob", 'b');
    EXPECT_EQ(day.take(claim("", "R3"), day.actor('a'), "one").claim().transmitter(), "Ann");
    EXPECT_EQ(day.take(claim("", "R7"), day.actor('b'), "one").claim().transmitter(), "Bob");
}

TEST(Keeper, DecidesAgainWhatWasRefused) {
    KeptDay day;
    ASSERT_TRUE(day.take(claim("Ann", "R3")).claim().claimed());
    EXPECT_FALSE(day.take(claim("Bob", "R3"), {}, "one").claim().claimed());
    ASSERT_TRUE(day.take(release("Ann")).has_done());
    EXPECT_TRUE(day.take(claim("Bob", "R3"), {}, "one").claim().claimed());
}

TEST(Keeper, RefusesARequestWhoseNameIsTooLong) {
    KeptDay day;
    EXPECT_TRUE(day.take(claim("Ann", "R3"), {}, std::string(65, 'x')).has_refusal());
    EXPECT_TRUE(day.take(claim("Ann", "R3"), {}, std::string(64, 'x')).claim().claimed());
}

TEST(Keeper, ToldThatTheLogWasNotWrittenTakesItsWordBack) {
    KeptDay day;
    const auto before = bytes_of(day.keeper().state());
    Ask ask;
    ask.command = claim("Ann", "R3");
    ask.idempotency_key = "one";
    auto prepared = day.keeper().prepare({&ask, 1}, day.now_ms());
    const log::Appended full(
        Refusal{Refusal::Kind::unavailable, "the log", "the disk is full", ""});
    const auto replies = day.keeper().finish(std::move(prepared), full);
    ASSERT_EQ(replies.size(), 1U);
    EXPECT_EQ(replies[0].refusal().kind(), v1::Refusal::unavailable);
    EXPECT_EQ(bytes_of(day.keeper().state()), before);
    EXPECT_TRUE(day.take(claim("Ann", "R3"), {}, "one").claim().claimed())
        << "as if it had not been asked";
}

// Whoever lost the day, or does not know whether they have written, says nothing at all.
TEST(Keeper, ThatDoesNotKnowWhatBecameOfABatchTellsNobodyAnything) {
    using Outcome = log::Appended::Outcome;
    for (const auto outcome : {Outcome::unknown, Outcome::not_ours}) {
        KeptDay day;
        const auto before = bytes_of(day.keeper().state());
        Ask ask;
        ask.command = claim("Ann", "R3");
        auto prepared = day.keeper().prepare({&ask, 1}, day.now_ms());
        const log::Appended lost{outcome, {Refusal::Kind::unavailable, "the log", "is gone", ""}};
        EXPECT_TRUE(day.keeper().finish(std::move(prepared), lost).empty());
        EXPECT_EQ(bytes_of(day.keeper().state()), before);
    }
}

// A no that rests on what was to be recorded before it is no answer either: it never was.
TEST(Keeper, ToldThatTheLogWasNotWrittenTakesBackWhatFollowedFromIt) {
    KeptDay day;
    std::vector<Ask> asks(3);
    asks[0].command = testing::withdraw_key("nobody");
    asks[1].command = on_already("mast", "R3", 13.98);
    asks[2].command = claim("mast", "R5");
    auto prepared = day.keeper().prepare(asks, day.now_ms());
    ASSERT_EQ(prepared.replies[2].refusal().kind(), v1::Refusal::conflict) << "it is on R3 by then";
    const log::Appended full(
        Refusal{Refusal::Kind::unavailable, "the log", "the disk is full", ""});
    const auto replies = day.keeper().finish(std::move(prepared), full);
    EXPECT_EQ(replies[0].refusal().kind(), v1::Refusal::not_found) << "whatever is recorded";
    EXPECT_EQ(replies[2].refusal().kind(), v1::Refusal::unavailable);
    for (const auto& reply : replies) EXPECT_EQ(reply.version(), day.keeper().state().version());
}

TEST(Keeper, ShowsThePastAsItWasShownThen) {
    KeptDay day;
    std::map<std::uint64_t, std::string> boards;
    const auto note = [&] {
        const auto answer = day.keeper().answer(testing::board(), day.now_ms());
        ASSERT_EQ(answer.version(), day.keeper().state().version());
        boards[answer.version()] = bytes_of(answer);
    };
    note();
    for (const auto& command : {claim("Ann", "R3"), claim("Bob", "R7"), on("Ann"), on("Bob"),
                                on_already("mast", "R2", 27.78), seen("E5", "Ann's?"),
                                testing::off("Bob"), release("Bob"), claim("Bob", "R8")}) {
        day.take(command);
        note();
    }
    EXPECT_GE(boards.size(), 9U);
    for (int i = 0; i < 2; ++i) {
        for (const auto& [version, shown] : boards) {
            auto query = testing::board();
            query.mutable_moment()->set_version(version);
            EXPECT_EQ(bytes_of(day.keeper().answer(query, day.now_ms())), shown) << version;
        }
        day.reopen();
    }
}

v1::Query explain_ann_at(std::uint64_t version) {
    v1::Query query;
    query.mutable_explain()->set_pilot("Ann");
    query.mutable_moment()->set_version(version);
    return query;
}

// A log of before holds what was decided by another model; its numbers are reckoned anew.
TEST(Keeper, SaysWhereThePastWasReckonedOtherwise) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    const auto ours = day.keeper().state().version();
    day.close();
    {
        auto log = log::DayLog::open(day.files().log, log::DayLog::Access::write).value();
        v1::Event event;
        event.set_version(ours + 1);
        event.set_at_ms(day.now_ms());
        event.set_model("a model of before");
        event.mutable_clock_jumped()->set_by_ms(1);
        log::Entry entry;
        entry.version = ours + 1;
        entry.at_ms = day.now_ms();
        entry.kind = "clock";
        entry.record = event.SerializeAsString();
        log::Batch batch;
        batch.entries.push_back(entry);
        ASSERT_TRUE(log->append(batch));
    }
    day.reopen();
    EXPECT_EQ(day.keeper().answer(explain_ann_at(ours), day.now_ms()).explain().recomputed(), "");
    const auto then = day.keeper().answer(explain_ann_at(ours + 1), day.now_ms()).explain();
    EXPECT_NE(then.recomputed().find("a model of before"), std::string::npos) << then.recomputed();
    EXPECT_NE(then.recomputed().find("may differ"), std::string::npos);
    v1::Query log;
    log.mutable_log();
    const auto models = day.keeper().answer(log, day.now_ms()).log().models();
    EXPECT_EQ(std::vector<std::string>(models.begin(), models.end()),
              (std::vector<std::string>{std::string(day::model_name), "a model of before"}));
}

TEST(Keeper, ShowsThePastAtATime) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    const auto then_ms = day.now_ms();
    const auto version = day.keeper().state().version();
    day.take(claim("Ann", "R7"));
    auto query = testing::board();
    query.mutable_moment()->set_at_ms(then_ms);
    EXPECT_EQ(day.keeper().answer(query, day.now_ms()).version(), version);
    query.mutable_moment()->set_at_ms(1);
    EXPECT_TRUE(day.keeper().answer(query, day.now_ms()).has_refusal()) << "before the day began";
}

TEST(Keeper, RecordsThatTheClockWasSetBack) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.set_now_ms(day.now_ms() - 3'600'000);
    day.take(claim("Ann", "R7"));
    EXPECT_EQ(entries_of(day, "clock"), 1);
    day.take(claim("Ann", "R3"));
    EXPECT_EQ(entries_of(day, "clock"), 1) << "once is enough";
}

TEST(Keeper, FiltersTheLog) {
    KeptDay day;
    play(day);
    auto query = testing::log_of("");
    query.mutable_log()->set_near_mhz(channel("R3").mhz());
    query.mutable_log()->set_within_mhz(1);
    const auto near = day.keeper().answer(query, day.now_ms()).log();
    EXPECT_GE(near.entries_size(), 2);
    for (const auto& e : near.entries()) EXPECT_EQ(e.frequency_mhz(), channel("R3").mhz());
    query = testing::log_of("claimed");
    query.mutable_log()->set_pilot("Bob");
    const auto of_bob = day.keeper().answer(query, day.now_ms()).log();
    ASSERT_EQ(of_bob.entries_size(), 1);
    EXPECT_EQ(of_bob.entries(0).frequency_mhz(), channel("R7").mhz());
    EXPECT_TRUE(of_bob.verified());
}

TEST(EnterSweep, TakesWhateverIsReadOfAFile) {
    KeptDay day;
    for (const auto& [start_mhz, step_mhz] :
         {std::pair{5600.0, 1.0}, {24000.0, 1.0}, {0.5, 0.01}, {5800.0, 5e-5}, {1000.0, 200.0}}) {
        std::string text = "frequency_mhz,level_dbm\n";
        for (int i = 0; i < 12; ++i) text += fmt::format("{:.6f},-90\n", start_mhz + i * step_mhz);
        book::Problems problems;
        const auto sweep = book::read_sweep(text, "noon.csv", problems);
        if (!sweep) continue;  // said by the reader, with the line
        v1::Command command;
        *command.mutable_sweep()->mutable_sweep() = *sweep;
        const auto reply = day.take(command);
        EXPECT_TRUE(reply.has_swept())
            << start_mhz << " " << step_mhz << " " << reply.ShortDebugString();
    }
}

}  // namespace
}  // namespace fieldpeg::service
