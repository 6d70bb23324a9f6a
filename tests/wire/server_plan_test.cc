#include "client/link/remote.h"
#include "tests/support/pegs.h"
#include "tests/support/raw_client.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <string>
#include <thread>
#include <vector>

/// Questions that take long, over a real connection.
namespace fieldpeg::wire {
namespace {

using link::Remote;
using testing::claim;
using testing::crowded_day;
using testing::Server;
using testing::TemporaryFolder;
using testing::write_file;

class LanPlanner : public ::testing::Test {
protected:
    LanPlanner() { write_file(day_, crowded_day()); }

    static v1::Query long_plan() {
        v1::Query query;
        query.mutable_plan()->mutable_planned()->set_seconds(120);
        return query;
    }

    TemporaryFolder folder_;
    const std::string day_ = folder_.at("saturday.toml");
};

TEST_F(LanPlanner, TellsHowFarItIsAndEndsWhenItIsEnough) {
    Server server(day_);
    Remote marshal(server.joined(v1::Role::marshal, "Max"));
    std::vector<v1::Progress> told;
    const auto answer = marshal.ask_long(long_plan(), [&](const v1::Progress& so_far) {
        told.push_back(so_far);
        return told.size() < 2;
    });
    ASSERT_TRUE(answer.has_plan()) << answer.DebugString();
    EXPECT_EQ(answer.plan().choices_size(), 10);
    EXPECT_GE(answer.plan().bound_db(), answer.plan().worst_margin_db());
    ASSERT_GE(told.size(), 2U);
    EXPECT_EQ(told.front().doing(), "planning");
    EXPECT_GT(told.front().seconds_left(), 0);
    server.stop();
}

TEST_F(LanPlanner, LetsEverybodyElseGoOn) {
    Server server(day_);
    Remote marshal(server.joined(v1::Role::marshal, "Max"));
    Remote pilot(server.joined_as_pilot("Pilot 3"));
    bool claimed = false;
    const auto answer = marshal.ask_long(long_plan(), [&](const v1::Progress&) {
        claimed = pilot.send(claim("", "R3")).claim().claimed();
        return false;
    });
    EXPECT_TRUE(claimed);
    EXPECT_TRUE(answer.has_plan());
    EXPECT_LT(answer.version(), pilot.ask(testing::board()).board().version());
    server.stop();
}

TEST_F(LanPlanner, DropsWhatNobodyWaitsFor) {
    Server server(day_);
    const auto membership = server.joined(v1::Role::marshal, "Max");
    {
        testing::RawClient gone(server.port());
        ASSERT_TRUE(gone.hello(membership.key()));
        v1::ClientFrame frame;
        frame.mutable_request()->set_id(5);
        *frame.mutable_request()->mutable_query() = long_plan();
        gone.send(frame);
        ASSERT_TRUE(gone.read());  // word of its progress: it has begun
        gone.close();
    }
    // The one thread that plans is free again for the next.
    Remote marshal(membership);
    v1::Query brief;
    brief.mutable_plan()->mutable_planned()->set_seconds(0.5);
    brief.mutable_plan()->mutable_planned()->add_who("Pilot 1");
    EXPECT_TRUE(marshal.ask_long(brief, [](const auto&) { return true; }).has_plan());
    server.stop();
}

TEST_F(LanPlanner, StopsInTheMiddleOfIt) {
    Server server(day_);
    const auto membership = server.joined(v1::Role::marshal, "Max");
    std::thread asker([&] {
        Remote marshal(membership);
        marshal.ask_long(long_plan(), [&](const v1::Progress&) { return true; });
    });
    server.settle();
    server.stop();
    asker.join();
}

}  // namespace
}  // namespace fieldpeg::wire
