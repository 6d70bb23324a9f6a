#include "tests/support/server.h"
#include "client/link/remote.h"
#include "tests/support/pegs.h"
#include "tests/support/raw_client.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <csignal>
#include <future>
#include <optional>
#include <string>
#include <thread>
#include <vector>

/// A server from its start to its stop, over real connections.
namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;
using link::Remote;
using testing::claim;
using testing::club_day;
using testing::on;
using testing::RawClient;
using testing::RawSettings;
using testing::release;
using testing::Server;
using testing::ServerSettings;
using testing::TemporaryFolder;
using testing::write_file;

const std::string ann_key(32, 'a');
const std::string bob_key(32, 'b');

class LanServer : public ::testing::Test {
protected:
    LanServer() { write_file(day_, club_day()); }

    TemporaryFolder folder_;
    const std::string day_ = folder_.at("saturday.toml");
};

/// Of somebody on the board.
const v1::BoardRow* row_of(const v1::BoardReply& board, const std::string& transmitter) {
    for (const auto& row : board.rows())
        if (row.transmitter() == transmitter) return &row;
    return nullptr;
}

TEST_F(LanServer, LetsAPilotJoinClaimAndSwitchOn) {
    Server server(day_);
    const auto membership = server.joined_as_pilot("Ann");
    EXPECT_EQ(membership.name(), "Ann");
    EXPECT_EQ(membership.role(), v1::Role::pilot);
    EXPECT_EQ(membership.fingerprint(), server.fingerprint());
    EXPECT_EQ(membership.head_hash().size(), 32U);

    Remote ann(membership);
    const auto claimed = ann.send(claim("", "R3"));
    ASSERT_TRUE(claimed.claim().claimed()) << claimed.DebugString();
    EXPECT_EQ(claimed.claim().transmitter(), "Ann");
    const auto switched = ann.send(on(""));
    EXPECT_EQ(switched.switched().answer(), v1::SwitchReply::switch_on) << switched.DebugString();

    const auto board = ann.ask(testing::board()).board();
    const auto* row = row_of(board, "Ann");
    ASSERT_TRUE(row);
    EXPECT_EQ(row->stage(), v1::Claim::on_air);
    EXPECT_EQ(row->channel().name(), "R3");
    EXPECT_EQ(board.version(), switched.version());
    server.stop();
}

TEST_F(LanServer, KnowsAKeyAgainAfterItWasStarted) {
    std::optional<v1::Membership> membership;
    {
        Server server(day_);
        membership = server.joined_as_pilot("Ann");
        server.stop();
    }
    Server server(day_);
    membership->set_port(server.port());
    EXPECT_TRUE(Remote(*membership).send(claim("", "R3")).claim().claimed());
    server.stop();
}

TEST_F(LanServer, KeepsWhatIsOnTheAirWhenItsPilotIsGoneAndWhenItStartsAgain) {
    std::optional<v1::Membership> ann;
    std::optional<v1::Membership> marshal;
    {
        Server server(day_);
        ann = server.joined_as_pilot("Ann");
        marshal = server.joined(v1::Role::marshal, "Max");
        {
            Remote link(*ann);
            ASSERT_TRUE(link.send(claim("", "R3")).claim().claimed());
            ASSERT_EQ(link.send(on("")).switched().answer(), v1::SwitchReply::switch_on);
            const auto board = link.ask(testing::board()).board();
            EXPECT_FALSE(row_of(board, "Ann")->has_heard_from_ms()) << "is heard from now";
        }
        Remote link(*marshal);
        auto board = link.ask(testing::board()).board();
        while (
            !row_of(board, "Ann")->has_heard_from_ms())  // until the server sees that she is gone
            board = link.ask(testing::board()).board();
        EXPECT_EQ(row_of(board, "Ann")->stage(), v1::Claim::on_air);
        EXPECT_GT(row_of(board, "Ann")->heard_from_ms(), 0);
        server.stop();
    }
    Server server(day_);
    marshal->set_port(server.port());
    const auto board = Remote(*marshal).ask(testing::board()).board();
    EXPECT_EQ(row_of(board, "Ann")->stage(), v1::Claim::on_air);
    EXPECT_EQ(row_of(board, "Ann")->channel().name(), "R3");
    EXPECT_TRUE(row_of(board, "Ann")->has_heard_from_ms()) << "nothing was heard since the start";
    server.stop();
}

TEST_F(LanServer, IsFoundAgainByAClientThatWasConnectedWhenItStopped) {
    auto server = std::make_unique<Server>(day_);
    Remote ann(server->joined_as_pilot("Ann"));
    ASSERT_TRUE(ann.send(claim("", "R3")).claim().claimed());
    ServerSettings same;
    same.port = server->port();
    server->stop();
    server.reset();
    server = std::make_unique<Server>(day_, same);
    EXPECT_EQ(ann.send(on("")).switched().answer(), v1::SwitchReply::switch_on);
    server->stop();
}

TEST_F(LanServer, IsRefusedByAClientWhereAnotherServerIsAtItsAddress) {
    const auto other_day = folder_.at("sunday.toml");
    write_file(other_day, club_day());
    Server server(day_);
    Server other(other_day);
    auto membership = server.joined_as_pilot("Ann");
    membership.set_port(other.port());
    const auto reply = Remote(membership).send(claim("", "R3"));
    ASSERT_TRUE(reply.has_refusal());
    EXPECT_NE(reply.refusal().why().find("fingerprint"), std::string::npos) << reply.DebugString();

    auto ticket = server.ticket(v1::Role::pilot);
    ticket.port = other.port();
    const auto joined = link::join(ticket, "Cy");
    ASSERT_FALSE(joined);
    EXPECT_NE(joined.error().why.find("fingerprint"), std::string::npos) << joined.error().why;
    server.stop();
    other.stop();
}

// The relay comes on 37 MHz from her channel, ten metres from her goggles, at 600 mW.
TEST_F(LanServer, WarnsAWatchingPilotOfARelayThatSwampsHer) {
    Server server(day_);
    Remote ann(server.joined_as_pilot("Ann"));
    Remote marshal(server.joined(v1::Role::marshal, "Max"));
    ASSERT_TRUE(ann.send(claim("", "R1")).claim().claimed());
    ASSERT_EQ(ann.send(on("")).switched().answer(), v1::SwitchReply::switch_on);

    std::promise<void> watches;
    std::vector<v1::Change> seen;
    link::Link::Watcher watcher;
    watcher.change = [&](const v1::Change& change) {
        if (seen.empty()) watches.set_value();
        seen.push_back(change);
        return change.warnings().empty();
    };
    watcher.lost = [](const v1::Refusal&) {};
    std::thread watching([&] { ann.watch(watcher); });
    watches.get_future().wait();
    const auto reply = marshal.send(testing::on_already("mast", "R2", 27.78));
    EXPECT_EQ(reply.switched().answer(), v1::SwitchReply::noted) << reply.DebugString();
    watching.join();

    ASSERT_GE(seen.size(), 2U);
    const auto& change = seen.back();
    ASSERT_EQ(change.warnings_size(), 1);
    const auto& warning = change.warnings(0);
    EXPECT_EQ(warning.kind(), v1::Warning::relay_on);
    EXPECT_EQ(warning.channel().name(), "R2");
    EXPECT_LT(warning.margin_after_db(), warning.margin_before_db());
    ASSERT_EQ(change.call_out_size(), 2);  // to her, and to whose it is
    EXPECT_TRUE(change.call_out(1).ends_with("off")) << change.call_out(1);
    EXPECT_EQ(change.call_out(0).find("Ann: "), 0U) << change.call_out(0);
    EXPECT_NE(change.call_out(0).find("mast"), std::string::npos) << change.call_out(0);
    EXPECT_EQ(change.version(), reply.version());
    EXPECT_EQ(reply.warnings_size(), 1) << "the marshal is told at once";
    server.stop();
}

TEST_F(LanServer, TellsAWatcherOfEachChangeInItsOrder) {
    Server server(day_);
    Remote ann(server.joined_as_pilot("Ann"));
    RawClient watcher(server.port());
    ASSERT_TRUE(watcher.hello(server.joined_as_pilot("Bob").key()));
    watcher.watch();
    std::vector<std::uint64_t> changes;
    for (int i = 0; i < 5; ++i) {
        changes.push_back(ann.send(claim("", "R3")).version());
        changes.push_back(ann.send(release("")).version());
    }
    std::uint64_t last = 0;
    while (last < changes.back()) {
        const auto frame = watcher.read();
        ASSERT_TRUE(frame);
        if (!frame->has_change()) continue;
        EXPECT_GE(frame->change().version(), last);
        last = frame->change().version();
        EXPECT_EQ(frame->change().board().version(), last);
    }
    server.stop();
}

TEST_F(LanServer, OwesASlowWatcherASnapshotAndKeepsNobodyWaiting) {
    ServerSettings settings;
    settings.session.changes_queued = 2;
    settings.session.write = 10min;
    settings.send_buffer = 4096;
    Server server(day_, settings);
    Remote ann(server.joined_as_pilot("Ann"));
    RawSettings slow;
    slow.receive_buffer = 4096;
    RawClient watcher(server.port(), slow);
    ASSERT_TRUE(watcher.hello(server.joined_as_pilot("Bob").key()));
    watcher.watch();
    constexpr int rounds = 40;
    std::uint64_t last_change = 0;
    for (int i = 0; i < rounds; ++i) {  // and the watcher reads nothing
        ASSERT_TRUE(ann.send(claim("", "R3")).claim().claimed());
        last_change = ann.send(release("")).version();
    }

    int changes = 0;
    int snapshots = 0;
    std::uint64_t last = 0;
    while (last < last_change) {
        const auto frame = watcher.read();
        ASSERT_TRUE(frame);
        if (!frame->has_change()) continue;
        const auto& change = frame->change();
        const bool is_snapshot = change.happened().empty();
        EXPECT_GE(change.version(),
                  last);  // the same: a snapshot was taken while the change was on its way
        EXPECT_TRUE(is_snapshot || change.version() <= last + 1)
            << "a hole that no snapshot covers";
        last = change.version();
        ++changes;
        snapshots += is_snapshot ? 1 : 0;
    }
    EXPECT_GE(snapshots, 2) << "the first, and one for what was not read";
    EXPECT_LT(changes, 2 * rounds);
    const auto now = ann.ask(testing::board()).board();
    EXPECT_EQ(now.version(), last);
    server.stop();
}

TEST_F(LanServer, LetsAWatcherGoThatTakesNothingForTooLong) {
    ServerSettings settings;
    settings.session.write = 50ms;
    settings.send_buffer = 4096;
    Server server(day_, settings);
    Remote ann(server.joined_as_pilot("Ann"));
    const auto bob = server.joined_as_pilot("Bob");
    RawSettings slow;
    slow.receive_buffer = 4096;
    RawClient watcher(server.port(), slow);
    ASSERT_TRUE(watcher.hello(bob.key()));
    watcher.watch();
    ASSERT_TRUE(Remote(bob).send(claim("", "R7")).claim().claimed());
    ASSERT_EQ(Remote(bob).send(on("")).switched().answer(), v1::SwitchReply::switch_on);
    bool heard = true;
    for (int i = 0; heard && i < 1000; ++i) {  // until the board says that nothing is heard of Bob
        ann.send(claim("", "R3"));
        ann.send(release(""));
        const auto board = ann.ask(testing::board()).board();
        heard = !row_of(board, "Bob")->has_heard_from_ms();
    }
    EXPECT_FALSE(heard);
    server.stop();
}

/// As a server says it that stops: whoever wants may try again.
void expect_goodbye(RawClient& client) {
    const auto told = client.goodbye();
    ASSERT_TRUE(told);
    EXPECT_EQ(told->kind(), v1::Refusal::unavailable);
    EXPECT_FALSE(told->why().empty());
}

TEST_F(LanServer, SaysGoodbyeToEverybodyWhenItStops) {
    Server server(day_);
    RawClient idle(server.port());
    ASSERT_TRUE(idle.hello(server.joined_as_pilot("Ann").key()));
    RawClient watching(server.port());
    ASSERT_TRUE(watching.hello(server.joined_as_pilot("Bob").key()));
    watching.watch();
    RawClient silent(server.port());  // has not said who it is
    ASSERT_TRUE(silent.is_secure());
    silent.wait_until_arrived();
    server.settle();
    server.stop();
    for (auto* client : {&idle, &watching, &silent}) expect_goodbye(*client);
}

TEST_F(LanServer, StopsWhileSomebodyWaitsToJoin) {
    ServerSettings settings;
    settings.desk_runs = false;
    Server server(day_, settings);
    RawClient joining(server.port());
    joining.send(testing::wish_to_join(server.ticket(v1::Role::pilot), "Cy", std::string(32, 'c')));
    joining.wait_until_arrived();
    server.settle();
    EXPECT_NO_THROW(server.stop());
    expect_goodbye(joining);
}

TEST_F(LanServer, StopsWhileSomebodyWaitsForAnAnswer) {
    std::optional<v1::Membership> ann;
    {
        Server server(day_);
        ann = server.joined_as_pilot("Ann");
        server.stop();
    }
    ServerSettings settings;
    settings.desk_runs = false;
    Server server(day_, settings);
    RawClient claiming(server.port());
    ASSERT_TRUE(claiming.hello(ann->key()));
    claiming.ask(claim("", "R3"), "one");
    claiming.wait_until_arrived();
    server.settle();
    EXPECT_NO_THROW(server.stop());
    expect_goodbye(claiming);
}

/// Connects, watches, claims and gives back, until nobody listens any more.
void keep_busy(std::uint16_t port, const std::string& key) {
    try {
        while (true) {
            RawClient client(port);
            if (!client.hello(key)) continue;
            client.watch();
            while (client.send(claim("", "R3")) && client.send(release(""))) {
            }
        }
    } catch (const boost::system::system_error&) {
    }
}

// Whatever they are in the middle of: a handshake, joining, a claim, a change on its way.
TEST_F(LanServer, StopsInTheMiddleOfEverything) {
    for (int round = 0; round < 10; ++round) {
        Server server(day_);
        const auto key = server.joined_as_pilot("Ann").key();
        const auto port = server.port();
        std::vector<std::thread> clients;
        for (int i = 0; i < 3; ++i) clients.emplace_back([key, port] { keep_busy(port, key); });
        Remote bob(server.joined_as_pilot("Bob"));
        for (int i = 0; i < round; ++i) bob.ask(testing::board());
        EXPECT_NO_THROW(server.stop()) << round;
        for (auto& client : clients) client.join();
    }
}

TEST_F(LanServer, StopsAtSigterm) {
    Server server(day_);
    RawClient client(server.port());
    ASSERT_TRUE(client.hello(server.joined_as_pilot("Ann").key()));
    std::raise(SIGTERM);
    server.wait();
    expect_goodbye(client);
}

}  // namespace
}  // namespace fieldpeg::wire
