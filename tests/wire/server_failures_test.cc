#include "client/link/remote.h"
#include "tests/support/pegs.h"
#include "tests/support/raw_client.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <functional>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>

/// Mistakes of ours, on purpose: an exception in the middle of answering somebody ends at most that
/// connection, and says so; the day goes on for everybody else.
namespace fieldpeg::wire {
namespace {

using link::Remote;
using testing::claim;
using testing::RawClient;
using testing::Server;
using testing::ServerSettings;
using testing::TemporaryFolder;

using Says = std::function<bool(const v1::ServerFrame&)>;

class Failures : public ::testing::Test {
protected:
    Failures() { testing::write_file(day_, testing::club_day()); }

    /// A server that fails to write what is like that.
    void start(const Says& like) {
        ServerSettings settings;
        settings.write = [like](const v1::ServerFrame& m) {
            if (like(m)) throw std::runtime_error("a mistake on purpose");
            return frame(m);
        };
        server_ = std::make_unique<Server>(day_, settings);
        ann_ = server_->joined_as_pilot("Ann");
        bob_ = server_->joined_as_pilot("Bob");
    }

    std::unique_ptr<RawClient> client_of_ann() const {
        auto client = std::make_unique<RawClient>(server_->port());
        EXPECT_TRUE(client->hello(ann_->key()));
        return client;
    }

    void expect_let_go(RawClient& client) const {
        const auto told = client.goodbye();
        ASSERT_TRUE(told) << "the connection ended without a word";
        EXPECT_EQ(told->kind(), v1::Refusal::unavailable) << told->DebugString();
        EXPECT_FALSE(told->next().empty());
    }

    void expect_the_day_goes_on() {
        EXPECT_TRUE(Remote(*bob_).send(claim("", "R7")).claim().claimed());
        EXPECT_NO_THROW(server_->stop());
    }

    TemporaryFolder folder_;
    const std::string day_ = folder_.at("saturday.toml");
    std::unique_ptr<Server> server_;
    std::optional<v1::Membership> ann_, bob_;
};

v1::ClientFrame asking(const v1::Query& query) {
    v1::ClientFrame m;
    m.mutable_request()->set_id(1);
    *m.mutable_request()->mutable_query() = query;
    return m;
}

TEST_F(Failures, InAnsweringEndTheConnectionThatAsked) {
    start([](const auto& m) { return m.response().has_answer(); });
    const auto client = client_of_ann();
    client->send(asking(testing::board()));
    expect_let_go(*client);
    expect_the_day_goes_on();
}

TEST_F(Failures, InWritingASnapshotEndTheWatchersConnection) {
    start([](const auto& m) { return m.has_change(); });
    const auto client = client_of_ann();
    client->watch();
    expect_let_go(*client);
    expect_the_day_goes_on();
}

TEST_F(Failures, InTellingOfAChangeEndTheWatchersConnectionAndNotTheOneThatCausedIt) {
    start([](const auto& m) { return !m.change().happened().empty(); });
    const auto client = client_of_ann();
    client->watch();
    while (!client->read()->has_change()) {  // the snapshot
    }
    EXPECT_TRUE(Remote(*bob_).send(claim("", "R3")).claim().claimed());
    const auto next = client->read();
    ASSERT_TRUE(next) << "a watcher is owed a snapshot where a change cannot be told";
    EXPECT_EQ(next->change().board().version(), next->change().version());
    EXPECT_TRUE(next->change().happened().empty());
    expect_the_day_goes_on();
}

TEST_F(Failures, InAnsweringWhatTakesLongEndTheConnectionThatAsked) {
    start([](const auto& m) { return m.response().answer().has_plan(); });
    const auto client = client_of_ann();
    v1::Query query;
    query.mutable_plan()->mutable_planned()->set_seconds(1);
    client->send(asking(query));
    expect_let_go(*client);
    expect_the_day_goes_on();
}

TEST_F(Failures, OfAQuestionAreItsAnswer) {
    start([](const auto&) { return false; });
    server_->asked([this](service::Desk&) {
        server_->keeper().add_checks = [](v1::ReadyReply&) {
            throw std::runtime_error("a mistake on purpose");
        };
        return true;
    });
    v1::Query query;
    query.mutable_ready();
    const auto answer = Remote(*ann_).ask(query);
    EXPECT_EQ(answer.refusal().kind(), v1::Refusal::unavailable) << answer.DebugString();
    expect_the_day_goes_on();
}

TEST_F(Failures, OfACommandAreItsReplyAndNobodyElses) {
    start([](const auto&) { return false; });
    server_->asked([this](service::Desk&) {
        server_->keeper().write_ticket = [](const std::string&, v1::TicketReply&) {
            throw std::runtime_error("a mistake on purpose");
        };
        return true;
    });
    v1::Command ticket;
    ticket.mutable_renew_ticket()->set_role(v1::Role::pilot);
    Remote marshal(server_->joined(v1::Role::marshal, "Max"));
    const auto reply = marshal.send(ticket);
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::unavailable) << reply.DebugString();
    EXPECT_FALSE(reply.refusal().why().empty());
    expect_the_day_goes_on();
}

}  // namespace
}  // namespace fieldpeg::wire
