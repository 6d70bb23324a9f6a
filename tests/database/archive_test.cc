#include "server/log/archive.h"

#include "server/log/hash.h"
#include "server/service/archiving.h"
#include "tests/log/entries.h"
#include "tests/support/cluster.h"
#include "tests/support/cut_line.h"
#include "tests/support/kept_day.h"
#include "tests/support/random.h"
#include "tests/support/temporary.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <vector>

/// Days in an archive are the days that were pushed, whatever happened on the way.
namespace fieldpeg::log {
namespace {

using testing::Cluster;
using testing::CutLine;
using testing::entries_of;
using testing::entry_of;
using testing::for_all;
using testing::TemporaryFolder;

constexpr Archive::Span always{0, INT64_MAX};

class ArchiveOfDays : public ::testing::Test {
protected:
    std::unique_ptr<Archive> archive() const {
        return Archive::open(address_, DayLog::Access::write).value();
    }
    /// A day of so many entries; `turn`: the entry from which on it goes another way.
    std::string day(std::uint64_t entries, std::uint64_t turn = 0) {
        const auto path = folder_.at("day" + std::to_string(++files_) + ".daylog");
        auto log = DayLog::open(path, DayLog::Access::write).value();
        Batch batch;
        batch.names = {{3, "Ann"}, {4, "Bob"}};
        for (std::uint64_t v = 1; v <= entries; ++v) {
            auto e = entry_of(v);
            if (turn != 0 && v >= turn) e.record += "another";
            batch.entries.push_back(e);
        }
        EXPECT_TRUE(log->append(batch));
        return path;
    }
    static Result<Archive::Pushed> push(Archive& to, const std::string& file) {
        return to.push(*DayLog::open(file, DayLog::Access::read).value(), about());
    }
    static AboutDay about() {
        return {"Saturday",
                "Meadow",
                {{3, "R3", 14, 1'800'000'000'000, 5.5}},
                {{3, "on_air", 5732, 14, 1'800'000'000'000, 1'800'000'330'000}}};
    }
    /// What comes out of it again is what went in.
    void expect_same(const std::string& file, const std::string& day = "") {
        auto at = archive();
        const auto called = day.empty() ? hex(at->days(always).value().at(0).id) : day;
        const auto out = folder_.at("out" + std::to_string(++files_) + ".daylog");
        const auto pulled = at->pull(called, out);
        ASSERT_TRUE(pulled) << pulled.error().why;
        const auto in = DayLog::open(file, DayLog::Access::read).value();
        const auto again = DayLog::open(out, DayLog::Access::read).value();
        EXPECT_FALSE(again->verify());
        EXPECT_EQ(hex(again->head_hash().value()), hex(in->head_hash().value()));
        const auto a = entries_of(*in), b = entries_of(*again);
        ASSERT_EQ(a.size(), b.size());
        for (std::size_t i = 0; i < a.size(); ++i) {
            EXPECT_EQ(a[i].record, b[i].record);
            EXPECT_EQ(a[i].at_ms, b[i].at_ms);
            EXPECT_EQ(a[i].kind, b[i].kind);
            EXPECT_EQ(a[i].frequency_mhz, b[i].frequency_mhz);
        }
    }

    const std::string address_ = Cluster::shared().new_database();
    TemporaryFolder folder_;
    int files_ = 0;
};

TEST_F(ArchiveOfDays, GivesBackWhatWasPushed) {
    const auto file = day(7);
    const auto pushed = push(*archive(), file);
    ASSERT_TRUE(pushed) << pushed.error().why;
    EXPECT_EQ(pushed->day.entries, 7U);
    EXPECT_EQ(pushed->were_there, 0U);
    expect_same(file);
}

TEST_F(ArchiveOfDays, KeepsNamesAsTheyAre) {
    const std::map<std::uint32_t, std::string> names = {
        {3, "NULL"}, {4, R"(a "b", {c}\)"}, {5, "J\u00f6rg's"}, {6, " d "}, {7, "e\tf"}};
    const auto file = folder_.at("names.daylog");
    Batch batch = testing::batch_of(1);
    batch.names = names;
    ASSERT_TRUE(DayLog::open(file, DayLog::Access::write).value()->append(batch));
    ASSERT_TRUE(push(*archive(), file));
    expect_same(file);
    const auto out = folder_.at("out.daylog");
    ASSERT_TRUE(archive()->pull(hex(archive()->days(always).value().at(0).id), out));
    EXPECT_EQ(DayLog::open(out, DayLog::Access::read).value()->names().value(), names);
}

// In any order, again and again, over lines that are cut: the archive has the longest that came.
TEST_F(ArchiveOfDays, HasTheLongestOfADayHoweverItCame) {
    std::vector<std::string> copies;
    for (const std::uint64_t entries : {1U, 4U, 9U, 30U}) copies.push_back(day(entries));
    CutLine line(Cluster::shared().folder());
    const auto through = address_ + "&port=" + std::to_string(line.port);
    int cut = 0;
    for_all(6, [&](std::mt19937_64& rng) {
        Cluster::shared().run(address_, "DROP SCHEMA IF EXISTS fieldpeg CASCADE");
        std::size_t longest = 0;
        for (int i = 0; i < 6; ++i) {
            const auto at = std::uniform_int_distribution<std::size_t>(0, 3)(rng);
            auto to = Archive::open(through, DayLog::Access::write);
            ASSERT_TRUE(to) << to.error().why;
            if (i % 2 == 1)
                line.cut_after(i % 4 == 1 ? CutLine::Way::to_database : CutLine::Way::from_database,
                               std::uniform_int_distribution<std::size_t>(0, 2500)(rng));
            const auto pushed = push(**to, copies[at]);
            line.cut_after(CutLine::Way::to_database, 1'000'000);
            if (!pushed) {
                ++cut;
                ASSERT_TRUE(push(*archive(), copies[at])) << "it is pushed once more";
            }
            longest = std::max(longest, at);
        }
        expect_same(copies[longest]);
        EXPECT_EQ(archive()->days(always).value().size(), 1U);
    });
    EXPECT_GT(cut, 4);
}

TEST_F(ArchiveOfDays, IsNotPushedAnotherCourseOfADay) {
    ASSERT_TRUE(push(*archive(), day(9)));
    for (const auto& [entries, turn] :
         std::vector<std::pair<std::uint64_t, std::uint64_t>>{{9, 4}, {20, 4}, {6, 6}}) {
        const auto refused = push(*archive(), day(entries, turn));
        ASSERT_FALSE(refused);
        EXPECT_EQ(refused.error().kind, Refusal::Kind::conflict);
        EXPECT_NE(refused.error().why.find("up to entry " + std::to_string(turn - 1)),
                  std::string::npos)
            << refused.error().why;
    }
    EXPECT_EQ(archive()->days(always).value().at(0).entries, 9U);
}

TEST_F(ArchiveOfDays, SaysWhereItHasALongerOne) {
    ASSERT_TRUE(push(*archive(), day(9)));
    const auto shorter = push(*archive(), day(5)).value();
    EXPECT_TRUE(shorter.has_more);
    EXPECT_EQ(shorter.day.entries, 9U);
}

// The database reckons the chain of what it has, not of what it was sent.
TEST_F(ArchiveOfDays, TakesNothingThatItHasOtherwiseThanItWasSent) {
    ASSERT_TRUE(archive()->days(always));
    Cluster::shared().run(
        address_,
        "CREATE FUNCTION fieldpeg.another() RETURNS trigger LANGUAGE plpgsql AS $body$ BEGIN IF "
        "new.version = 4 THEN new.record := 'another'; END IF; RETURN new; END $body$; CREATE "
        "TRIGGER another BEFORE INSERT ON fieldpeg.event FOR EACH ROW EXECUTE FUNCTION "
        "fieldpeg.another()");
    const auto pushed = push(*archive(), day(9));
    ASSERT_FALSE(pushed);
    EXPECT_NE(pushed.error().why.find("entry 4"), std::string::npos) << pushed.error().why;
    EXPECT_TRUE(archive()->days(always).value().empty());
}

// Of what was changed there later a pull gives nothing.
TEST_F(ArchiveOfDays, GivesNothingOutThatWasChangedInIt) {
    ASSERT_TRUE(push(*archive(), day(9)));
    Cluster::shared().run(address_,
                          "UPDATE fieldpeg.event SET record = 'another' WHERE version = 4");
    const auto id = hex(archive()->days(always).value().at(0).id);
    const auto out = folder_.at("never.daylog");
    const auto pulled = archive()->pull(id, out);
    ASSERT_FALSE(pulled);
    EXPECT_NE(pulled.error().why.find("entry 4"), std::string::npos) << pulled.error().why;
    EXPECT_FALSE(std::filesystem::exists(out));
}

TEST_F(ArchiveOfDays, ForgetsANameForGood) {
    ASSERT_TRUE(push(*archive(), day(5)));
    EXPECT_EQ(archive()->forget("ANN", "").value().names, 1);
    EXPECT_TRUE(archive()->flights_of("Ann", always).value().empty());
    ASSERT_TRUE(push(*archive(), day(8)));  // goes on, and has the name
    const auto flown = archive()->flown_by("", always).value();
    ASSERT_EQ(flown.size(), 1U);
    EXPECT_EQ(flown[0].who, "person 3");
    expect_same(day(8));
    EXPECT_EQ(archive()->forget("nobody", "").value().names, 0);
}

TEST_F(ArchiveOfDays, LetsNamesGoAfterTheYearsThatWereSaid) {
    ASSERT_TRUE(push(*archive(), day(5)));  // begun in January of 2027
    constexpr std::int64_t year_ms = std::int64_t{365} * 24 * 3'600'000;
    constexpr std::int64_t begun_ms = 1'800'000'000'001;
    EXPECT_EQ(archive()->expire(2, begun_ms + 2 * year_ms - 86'400'000).value().names, 0);
    EXPECT_EQ(archive()->expire(2, begun_ms + 2 * year_ms + 2 * 86'400'000).value().names, 2);
    EXPECT_EQ(archive()->expire(std::nullopt, begun_ms + 9 * year_ms).value().names, 0);
    ASSERT_TRUE(push(*archive(), day(8)));
    EXPECT_EQ(archive()->flown_by("", always).value().at(0).who, "person 3");
}

TEST_F(ArchiveOfDays, TellsWhoWasNearAndHowLongTheyFlew) {
    ASSERT_TRUE(push(*archive(), day(5)));
    ASSERT_TRUE(push(*archive(), day(6, 1)));  // another day
    const auto near = archive()->who_was_near(5740, 10, always).value();
    ASSERT_EQ(near.size(), 1U);
    EXPECT_EQ(near[0].who, "Ann");
    EXPECT_EQ(near[0].times, 2);
    EXPECT_TRUE(archive()->who_was_near(5760, 10, always).value().empty());
    EXPECT_TRUE(archive()->who_was_near(5740, 10, {0, 1'799'999'999'999}).value().empty());
    EXPECT_EQ(archive()->last_near(5740, 10, always, 1).value().size(), 1U);
    const auto flown = archive()->flown_by("", always).value();
    ASSERT_EQ(flown.size(), 1U);
    EXPECT_EQ(flown[0].days, 2);
    EXPECT_DOUBLE_EQ(flown[0].minutes, 11);
    const auto channels = archive()->channels(always).value();
    ASSERT_EQ(channels.size(), 1U);
    EXPECT_EQ(channels[0].people, 1);
}

TEST_F(ArchiveOfDays, LeavesADayThatAServerHolds) {
    const auto file = day(5);
    auto held = DayLog::open(address_ + "#saturday", DayLog::Access::write).value();
    Batch batch;
    batch.entries = entries_of(*DayLog::open(file, DayLog::Access::read).value());
    batch.keys = {{sha256("a"), 3}};
    ASSERT_TRUE(held->append(batch));
    EXPECT_EQ(push(*archive(), file).error().kind, Refusal::Kind::conflict);
    expect_same(file, "saturday");
    const auto there = archive()->day("saturday").value();
    EXPECT_TRUE(there.is_held);
    EXPECT_EQ(archive()->close(there, about()).error().kind, Refusal::Kind::conflict);
    held.reset();
    const auto closed = archive()->close(there, about());
    ASSERT_TRUE(closed) << closed.error().why;
    EXPECT_FALSE(closed->is_held);
    EXPECT_EQ(Cluster::shared().run(address_, "SELECT count(*) FROM fieldpeg.key"), "0");
    EXPECT_TRUE(push(*archive(), file));
}

// A real day, by the service: who flew when, as the day itself says it; one that does not hold is
// refused with the entry.
TEST_F(ArchiveOfDays, KnowsOfADayWhoFlewAndWhere) {
    testing::KeptDay day;
    day.take(testing::claim("Ann", "R3"));
    day.take(testing::on("Ann"));
    day.set_now_ms(day.now_ms() + 7 * 60'000);
    day.take(testing::off("Ann"));
    v1::Query query;
    query.mutable_airtime()->set_pilot("Ann");
    const auto said = day.keeper().answer(query, day.now_ms()).airtime();
    const auto log = day.files().log;
    day.close();
    const auto at = archive();
    const auto pushed = service::push(log, *at);
    ASSERT_TRUE(pushed) << pushed.error().why;
    EXPECT_GT(pushed->day.flights, 0);
    const auto flown = at->flown_by("Ann", always).value();
    ASSERT_EQ(flown.size(), 1U);
    ASSERT_EQ(said.totals_size(), 1);
    EXPECT_NEAR(flown[0].minutes, said.totals(0).minutes(), 0.001);
    const auto near = at->last_near(5732, 5, always, 10).value();
    ASSERT_FALSE(near.empty());
    EXPECT_EQ(near[0].who, "Ann");
    EXPECT_NEAR(static_cast<double>(near[0].to_ms - near[0].from_ms) / 60'000, 7, 0.1);

    SQLite::Database(log, SQLite::OPEN_READWRITE)
        .exec("UPDATE event SET record = CAST('x' AS BLOB) WHERE version = 2");
    const auto refused = service::push(log, *at);
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().why.find("entry 2"), std::string::npos) << refused.error().why;
}

}  // namespace
}  // namespace fieldpeg::log
