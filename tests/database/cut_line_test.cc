#include "server/log/postgres_log.h"

#include "tests/log/entries.h"
#include "tests/support/cluster.h"
#include "tests/support/cut_line.h"

#include <gtest/gtest.h>

#include <string>

/// An append over a line that is cut after each byte: what is told is what is so.
namespace fieldpeg::log {
namespace {

using testing::batch_of;
using testing::Cluster;
using testing::CutLine;
using testing::entries_of;

using Outcome = Appended::Outcome;

Batch whole_batch_of(std::uint64_t version) {
    auto batch = batch_of(version);
    batch.entries.push_back(testing::entry_of(version + 1));
    batch.answers.push_back({3, "once " + std::to_string(version), "yes"});
    batch.names[3] = "Ann";
    return batch;
}

class CutAppend : public ::testing::Test {
protected:
    /// What is in the log, read past the line: each entry and answer once.
    std::uint64_t recorded() const {
        const auto log = DayLog::open(address_ + "#saturday", DayLog::Access::read).value();
        EXPECT_FALSE(log->verify());
        const auto entries = entries_of(*log).size();
        EXPECT_EQ(log->answers().value().size() * 2, entries);
        EXPECT_EQ(log->last_version().value(), entries);
        return entries;
    }

    const std::string address_ = Cluster::shared().new_database();
    CutLine line_{Cluster::shared().folder()};
    const std::string place_ = address_ + "&port=" + std::to_string(line_.port) + "#saturday";
};

// The line comes back: then it is found out, wherever it was cut, and written once.
TEST_F(CutAppend, IsFoundOutWhereTheLineComesBack) {
    auto log = DayLog::open(place_, DayLog::Access::write).value();
    std::uint64_t version = 1;
    int cuts = 0;
    for (const auto way : {CutLine::Way::to_database, CutLine::Way::from_database})
        for (std::size_t i = 0; i < 16; ++i) {
            const auto bytes = i * (way == CutLine::Way::to_database ? 61 : 13);
            auto batch = whole_batch_of(version);
            line_.cut_after(way, bytes);
            const auto appended = log->append(batch);
            cuts += line_.was_cut() ? 1 : 0;
            ASSERT_EQ(appended.outcome, Outcome::written) << appended.why.why << " " << bytes;
            version += 2;
            ASSERT_EQ(recorded(), version - 1);
        }
    EXPECT_GT(cuts, 20);
}

// The line stays cut: then it is not known, or known not to be written; and never told otherwise.
TEST_F(CutAppend, IsNeverToldOtherwiseThanItIsWhereTheLineStaysCut) {
    int unknown = 0, written = 0;
    std::uint64_t version = 1;
    for (const auto way : {CutLine::Way::to_database, CutLine::Way::from_database})
        for (const std::size_t bytes : {std::size_t{5}, std::size_t{300}}) {
            auto log = DayLog::open(place_, DayLog::Access::write).value();
            auto batch = whole_batch_of(version);
            line_.cut_after(way, bytes);
            line_.stays_cut(true);
            const auto appended = log->append(batch);
            line_.stays_cut(false);
            log.reset();
            const auto there = recorded();
            EXPECT_TRUE(appended.outcome != Outcome::written || there == version + 1);
            EXPECT_TRUE(appended.outcome != Outcome::not_written || there == version - 1);
            EXPECT_NE(appended.outcome, Outcome::not_ours);
            unknown += appended.outcome == Outcome::unknown ? 1 : 0;
            written += there == version + 1 ? 1 : 0;
            version = there + 1;
        }
    EXPECT_GT(unknown, 1);
    EXPECT_GT(written, 0) << "of what is not known, nothing was written: the cuts come too early";
}

}  // namespace
}  // namespace fieldpeg::log
