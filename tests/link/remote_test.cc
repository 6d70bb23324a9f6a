#include "client/link/remote.h"

#include "client/link/connection.h"
#include "client/link/understood.h"
#include "tests/support/false_server.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <chrono>
#include <functional>
#include <future>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

/// Our client at a server that does what none should.
namespace fieldpeg::link {
namespace {

using namespace std::chrono_literals;

/// Hears one request a connection. Where nothing is to be said, the connection is closed.
class Faker {
public:
    using Says = std::function<std::optional<v1::ServerFrame>(const v1::Request&)>;

    explicit Faker(Says says)
        : server_([says = std::move(says)](const v1::Request& request) {
              const auto frame = says(request);
              return frame ? std::optional(testing::FalseServer::bytes_of(*frame)) : std::nullopt;
          }) {}

    v1::Membership membership() const { return server_.membership(); }
    std::vector<v1::Request> heard() { return server_.heard(); }

private:
    testing::FalseServer server_;
};

Patience short_patience() {
    Patience patience;
    patience.all = 3s;
    return patience;
}

std::optional<v1::ServerFrame> nothing(const v1::Request&) {
    return std::nullopt;
}

std::optional<v1::ServerFrame> done(const v1::Request& request) {
    v1::ServerFrame m;
    m.mutable_response()->set_id(request.id());
    m.mutable_response()->mutable_reply()->mutable_done()->set_text("so be it");
    m.mutable_response()->mutable_reply()->set_version(2);
    return m;
}

std::optional<v1::ServerFrame> goodbye(v1::Refusal::Kind kind) {
    v1::ServerFrame m;
    m.mutable_goodbye()->set_kind(kind);
    m.mutable_goodbye()->set_why("gone");
    return m;
}

void expect_no_answer(const v1::Refusal& refusal) {
    EXPECT_EQ(refusal.kind(), v1::Refusal::no_answer) << refusal.DebugString();
    EXPECT_NE(refusal.next().find("do not switch on"), std::string::npos);
}

TEST(RemoteAtAServerThatDies, SendsACommandOnceMoreAndNotAgain) {
    Faker server(nothing);
    Remote remote(server.membership(), short_patience());
    const auto reply = remote.send(testing::claim("", "R3"));
    expect_no_answer(reply.refusal());
    EXPECT_NE(reply.refusal().why().find("twice"), std::string::npos) << reply.DebugString();
    const auto heard = server.heard();
    ASSERT_EQ(heard.size(), 2U);
    EXPECT_FALSE(heard[0].idempotency_key().empty());
    EXPECT_EQ(heard[0].idempotency_key(), heard[1].idempotency_key()) << "it would be done twice";
}

TEST(RemoteAtAServerThatDies, AsksAQuestionOnceMoreAndNotAgain) {
    Faker server(nothing);
    Remote remote(server.membership(), short_patience());
    expect_no_answer(remote.ask(testing::board()).refusal());
    EXPECT_EQ(server.heard().size(), 2U);
}

TEST(RemoteAtAServerThatDies, AsksWhatTakesLongNotAgain) {
    Faker server(nothing);
    Remote remote(server.membership(), short_patience());
    v1::Query query;
    query.mutable_plan();
    expect_no_answer(remote.ask_long(query, [](const v1::Progress&) { return true; }).refusal());
    EXPECT_EQ(server.heard().size(), 1U);
}

TEST(RemoteAtAServerThatDies, IsAnsweredWhereItDiesOnce) {
    int times = 0;
    Faker server(
        [&](const v1::Request& request) { return ++times == 1 ? std::nullopt : done(request); });
    Remote remote(server.membership(), short_patience());
    EXPECT_EQ(remote.send(testing::release("Ann")).done().text(), "so be it");
    EXPECT_EQ(server.heard().size(), 2U);
}

TEST(RemoteAtAServerThatDies, BeginsAnewWithTheNextCommand) {
    Faker server(nothing);
    Remote remote(server.membership(), short_patience());
    for (int i = 0; i < 2; ++i) expect_no_answer(remote.send(testing::claim("", "R3")).refusal());
    const auto heard = server.heard();
    ASSERT_EQ(heard.size(), 4U);
    EXPECT_NE(heard[0].idempotency_key(), heard[2].idempotency_key());
}

// It fails at this one thing and says so, as often as it is asked.
TEST(RemoteAtAServerThatLetsItGo, AsksOnceMoreAndSaysWhatItWasTold) {
    Faker server([](const v1::Request&) { return goodbye(v1::Refusal::unavailable); });
    Remote remote(server.membership(), short_patience());
    const auto reply = remote.send(testing::claim("", "R3"));
    EXPECT_EQ(reply.refusal().why(), "gone") << reply.DebugString();
    EXPECT_EQ(server.heard().size(), 2U);
}

TEST(RemoteAtAServerThatLetsItGo, DoesNotAskAgainWhereItIsNotWanted) {
    Faker server([](const v1::Request&) { return goodbye(v1::Refusal::not_permitted); });
    Remote remote(server.membership(), short_patience());
    const auto reply = remote.send(testing::claim("", "R3"));
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::not_permitted) << reply.DebugString();
    EXPECT_EQ(server.heard().size(), 1U);
}

// As one that was stopped: its machine's kernel takes the call, and nobody speaks.
TEST(RemoteAtASleepingServer, SaysThatNothingComesBack) {
    asio::io_context io;
    asio::ip::tcp::acceptor asleep(io,
                                   asio::ip::tcp::endpoint(asio::ip::address_v4::loopback(), 0));
    v1::Membership m;
    m.set_host("127.0.0.1");
    m.set_port(asleep.local_endpoint().port());
    m.set_fingerprint(std::string(32, 'f'));
    Patience patience;
    patience.connect = 50ms;
    patience.all = 60ms;
    Remote remote(m, patience);
    const auto refusal = remote.send(testing::claim("", "R3")).refusal();
    expect_no_answer(refusal);
    EXPECT_EQ(refusal.why(), nothing_comes_back);
}

// It said who it was, and then was stopped.
TEST(RemoteAtASleepingServer, SaysSoOfOneThatFellAsleepMeanwhile) {
    std::promise<void> over;
    Faker server([&](const v1::Request&) -> std::optional<v1::ServerFrame> {
        over.get_future().wait();
        return std::nullopt;
    });
    Patience patience;
    patience.answer = 500ms;
    patience.connect = 50ms;
    patience.all = 60ms;
    Remote remote(server.membership(), patience);
    const auto refusal = remote.send(testing::claim("", "R3")).refusal();
    over.set_value();
    expect_no_answer(refusal);
    EXPECT_EQ(refusal.why(), nothing_comes_back);
}

// No server of ours says such a thing, and nobody reckons with it.
TEST(RemoteAtAFalseServer, TakesNoAnswerWithWhatIsNoNumber) {
    for (const double mhz : {std::numeric_limits<double>::quiet_NaN(),
                             std::numeric_limits<double>::infinity(), 1e300}) {
        Faker server([&](const v1::Request& request) {
            v1::ServerFrame m;
            m.mutable_response()->set_id(request.id());
            auto& board = *m.mutable_response()->mutable_answer()->mutable_board();
            board.add_rows()->mutable_channel()->set_mhz(mhz);
            return m;
        });
        Remote remote(server.membership(), short_patience());
        const auto answer = remote.ask(testing::board());
        EXPECT_EQ(answer.refusal().kind(), v1::Refusal::no_answer);
        EXPECT_EQ(answer.refusal().why(), not_understood);
        EXPECT_EQ(server.heard().size(), 1U);
    }
}

TEST(RemoteAtNoServer, GivesUpInTime) {
    v1::Membership nobody;
    {
        Faker server(nothing);
        nobody = server.membership();
    }
    Patience patience;
    patience.all = 1s;
    const auto begun = std::chrono::steady_clock::now();
    Remote remote(nobody, patience);
    expect_no_answer(remote.send(testing::claim("", "R3")).refusal());
    EXPECT_LT(std::chrono::steady_clock::now() - begun, 10s);
}

}  // namespace
}  // namespace fieldpeg::link
