#include "client/link/remote.h"

#include "tests/support/false_server.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <chrono>
#include <functional>
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
