#include "server/day/state.h"
#include "tests/support/pegs.h"
#include "tests/support/raw_client.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <string>
#include <vector>

/// Somebody on the field's network who means no good: who pays for it.
namespace fieldpeg::wire {
namespace {

using testing::claim;
using testing::RawClient;
using testing::RawSettings;
using testing::Server;
using testing::ServerSettings;
using testing::TemporaryFolder;

const std::string other_key(32, 'k');
/// So much and then next to nothing.
constexpr Rate five{5, 0.001, 1000};

class UnderFire : public ::testing::Test {
protected:
    void start(const ServerSettings& settings = {}) {
        testing::write_file(day_, testing::club_day());
        server_ = std::make_unique<Server>(day_, settings);
    }
    RawSettings from(const std::string& address) const {
        RawSettings settings;
        settings.from = address;
        return settings;
    }
    std::unique_ptr<RawClient> come(const std::string& address) const {
        return std::make_unique<RawClient>(server_->port(), from(address));
    }
    void guess_often(const std::string& address) {
        auto wrong = server_->ticket(v1::Role::pilot);
        wrong.secret = std::string(16, 'x');
        for (int i = 0; i < Gate::failures_max; ++i)
            EXPECT_FALSE(come(address)->join(wrong, "Cy", other_key));
    }
    std::optional<v1::Answer> board(RawClient& client) {
        v1::ClientFrame m;
        m.mutable_request()->mutable_query()->mutable_board();
        client.send(m);
        const auto frame = client.read();
        if (!frame) return std::nullopt;
        return frame->response().answer();
    }

    TemporaryFolder folder_;
    const std::string day_ = folder_.at("day.toml");
    std::unique_ptr<Server> server_;
};

// A router, and somebody behind it who guesses.
TEST_F(UnderFire, WhoHasAGoodKeyOrTicketIsLetInWhateverElseCameFromTheirAddress) {
    start();
    const auto ann = server_->joined_as_pilot("Ann");
    guess_often("127.0.0.2");
    EXPECT_TRUE(come("127.0.0.2")->hello(ann.key()));
    EXPECT_TRUE(come("127.0.0.2")->join(server_->ticket(v1::Role::marshal), "Mia", other_key));
}

TEST_F(UnderFire, AConnectionOfAThousandSilentOnesKeepsNobodyOut) {
    ServerSettings settings;
    settings.places = {.all = 12, .of_address = 8, .of_person = 4};
    start(settings);
    const auto ann = server_->joined_as_pilot("Ann");
    std::vector<std::unique_ptr<RawClient>> silent;
    for (int i = 0; i < 60; ++i) silent.push_back(come("127.0.0." + std::to_string(2 + i % 3)));
    const auto honest = come("127.0.0.9");
    ASSERT_TRUE(honest->hello(ann.key()));
    for (int i = 0; i < 60; ++i) silent.push_back(come("127.0.0." + std::to_string(2 + i % 3)));
    EXPECT_TRUE(honest->send(claim("", "R3"))->claim().claimed()) << "who is known stays";
    EXPECT_TRUE(come("127.0.0.2")->hello(ann.key())) << "from the same address as they";
}

TEST_F(UnderFire, OfOnePersonsConnectionsTheFirstEndsAndNobodyElses) {
    ServerSettings settings;
    settings.places.of_person = 2;
    start(settings);
    const auto ann = server_->joined_as_pilot("Ann");
    const auto bob = server_->joined_as_pilot("Bob");
    const auto his = come("127.0.0.1");
    ASSERT_TRUE(his->hello(bob.key()));
    std::vector<std::unique_ptr<RawClient>> hers;
    for (int i = 0; i < 3; ++i) {
        hers.push_back(come("127.0.0.1"));
        ASSERT_TRUE(hers.back()->hello(ann.key()));
    }
    EXPECT_FALSE(hers[0]->send(claim("", "R3")));
    EXPECT_TRUE(hers[1]->send(claim("", "R3")));
    EXPECT_TRUE(hers[2]->send(claim("", "R3")));
    EXPECT_TRUE(board(*his));
}

TEST_F(UnderFire, WhoAsksTooMuchWaitsAndNobodyElse) {
    ServerSettings settings;
    settings.rates.person = five;
    start(settings);
    const auto ann = server_->joined_as_pilot("Ann");
    const auto bob = server_->joined_as_pilot("Bob");
    const auto one = come("127.0.0.1"), other = come("127.0.0.1"), his = come("127.0.0.1");
    ASSERT_TRUE(one->hello(ann.key()));
    ASSERT_TRUE(other->hello(ann.key()));
    ASSERT_TRUE(his->hello(bob.key()));
    for (int i = 0; i < 5; ++i) EXPECT_TRUE(board(*one));
    one->ask(claim("", "R3"), "a");
    other->ask(claim("", "R3"), "b");
    one->wait_until_arrived();
    other->wait_until_arrived();
    for (int i = 0; i < 5; ++i) EXPECT_TRUE(board(*his));
    server_->settle();
    const auto state = server_->asked([](service::Desk& desk) { return desk.keeper().state(); });
    EXPECT_FALSE(day::pilot(state.sheet(), "Ann")->has_claim()) << "on none of her devices";
}

TEST_F(UnderFire, OfOneAddressNoMoreThanAClubJoins) {
    ServerSettings settings;
    settings.rates.joining = {5, 0.001, 0};
    start(settings);
    const auto ticket = server_->ticket(v1::Role::pilot);
    for (int i = 0; i < 5; ++i)
        EXPECT_TRUE(come("127.0.0.2")
                        ->join(ticket, "Visitor " + std::to_string(i),
                               std::string(32, static_cast<char>('a' + i))));
    const auto one_more = come("127.0.0.2");
    EXPECT_FALSE(one_more->join(ticket, "Visitor 5", other_key));
    const auto why = one_more->goodbye();
    ASSERT_TRUE(why);
    EXPECT_EQ(why->why(), "too many join from this address");
    EXPECT_TRUE(come("127.0.0.3")->join(ticket, "Visitor 5", other_key));
}

}  // namespace
}  // namespace fieldpeg::wire
