#include "client/link/remote.h"
#include "tests/support/pegs.h"
#include "tests/support/raw_client.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <barrier>
#include <cstdlib>
#include <string>
#include <thread>
#include <vector>

/// One channel, and two who want it; one claim, and a connection that breaks.
namespace fieldpeg::wire {
namespace {

using link::Remote;
using testing::bytes_of;
using testing::claim;
using testing::RawClient;
using testing::release;
using testing::Server;
using testing::TemporaryFolder;

class Claims : public ::testing::Test {
protected:
    std::string written_day() const {
        testing::write_file(folder_.at("saturday.toml"), testing::club_day());
        return folder_.at("saturday.toml");
    }

    TemporaryFolder folder_;
    Server server_{written_day()};
};

int races() {
    const char* asked = std::getenv("FIELDPEG_RACES");
    return asked ? std::atoi(asked) : 200;
}

/// Claims the same channel as somebody else, each time at the same instant; the winner gives it
/// back. Whether each race was won.
std::vector<bool> raced(const v1::Membership& who, int times, std::barrier<>& together) {
    Remote link(who);
    std::vector<bool> won;
    for (int i = 0; i < times; ++i) {
        together.arrive_and_wait();
        const auto reply = link.send(claim("", "R3"));
        won.push_back(reply.claim().claimed());
        together.arrive_and_wait();
        if (won.back()) link.send(release(""));
    }
    return won;
}

TEST_F(Claims, AtTheSameInstantAreWonByExactlyOne) {
    const int times = races();
    const auto ann = server_.joined_as_pilot("Ann");
    const auto bob = server_.joined_as_pilot("Bob");
    std::barrier together(2);
    std::vector<bool> won_by_ann;
    std::thread other([&] { won_by_ann = raced(ann, times, together); });
    const auto won_by_bob = raced(bob, times, together);
    other.join();
    ASSERT_EQ(won_by_ann.size(), static_cast<std::size_t>(times));
    for (std::size_t i = 0; i < won_by_ann.size(); ++i)
        ASSERT_NE(won_by_ann[i], won_by_bob[i]) << "race " << i;
    Remote link(ann);
    EXPECT_EQ(link.ask(testing::log_of("claimed")).log().entries_size(), times);
    EXPECT_EQ(link.ask(testing::log_of("released")).log().entries_size(), times);
    EXPECT_TRUE(link.ask(testing::log_of("")).log().verified());
    server_.stop();
}

TEST_F(Claims, WhoseConnectionBreaksAreMadeOnceAndAnsweredAlike) {
    const auto key = server_.joined_as_pilot("Ann").key();
    constexpr int breaks = 10;
    for (int i = 0; i < breaks; ++i) {
        const auto once = "claim " + std::to_string(i);
        {
            RawClient lost(server_.port());
            ASSERT_TRUE(lost.hello(key));
            lost.ask(claim("", "R3"), once);
            if (i % 2 == 0) lost.wait_until_arrived();  // has come, and perhaps been decided
            lost.close();
        }
        RawClient again(server_.port());
        ASSERT_TRUE(again.hello(key));
        const auto reply = again.send(claim("", "R3"), once);
        ASSERT_TRUE(reply);
        EXPECT_TRUE(reply->claim().claimed()) << reply->DebugString();
        const auto third = again.send(claim("", "R3"), once);
        ASSERT_TRUE(third);
        EXPECT_EQ(bytes_of(*reply), bytes_of(*third));
        ASSERT_TRUE(again.send(release(""), "release " + std::to_string(i)));
        EXPECT_EQ(bytes_of(*again.send(claim("", "R3"), once)), bytes_of(*reply))
            << "even when it was given back since";
    }
    v1::Membership ann = server_.joined_as_pilot("Ann");
    EXPECT_EQ(Remote(ann).ask(testing::log_of("claimed")).log().entries_size(), breaks);
    server_.stop();
}

TEST_F(Claims, AskedTwiceAtOnceUnderOneNameOnTwoConnectionsAreOne) {
    const auto key = server_.joined_as_pilot("Ann").key();
    RawClient one(server_.port());
    RawClient two(server_.port());
    ASSERT_TRUE(one.hello(key) && two.hello(key));
    one.ask(claim("", "R3"), "once");
    two.ask(claim("", "R3"), "once");
    const auto first = one.read();
    const auto second = two.read();
    ASSERT_TRUE(first && second);
    EXPECT_TRUE(first->response().reply().claim().claimed());
    EXPECT_EQ(bytes_of(*first), bytes_of(*second));
    server_.stop();
}

TEST_F(Claims, AreAnsweredWithTheNumberOfTheirRequestInTheOrderOfAsking) {
    const auto key = server_.joined_as_pilot("Ann").key();
    RawClient client(server_.port());
    ASSERT_TRUE(client.hello(key));
    for (std::uint64_t id = 1; id <= 6; ++id)
        client.ask(id % 2 == 1 ? claim("", "R3") : release(""), "", id * 1000);
    std::uint64_t version = 0;
    for (std::uint64_t id = 1; id <= 6; ++id) {
        const auto frame = client.read();
        ASSERT_TRUE(frame);
        EXPECT_EQ(frame->response().id(), id * 1000);
        EXPECT_GT(frame->response().reply().version(), version);
        version = frame->response().reply().version();
    }
    server_.stop();
}

}  // namespace
}  // namespace fieldpeg::wire
