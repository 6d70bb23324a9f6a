#include "client/link/remote.h"
#include "server/wire/outbox.h"
#include "tests/support/pegs.h"
#include "tests/support/raw_client.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <memory>
#include <string>

/// Whoever asks and does not read costs a bounded amount, and keeps nobody else waiting.
namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;
using link::Remote;
using testing::claim;
using testing::RawClient;
using testing::RawSettings;
using testing::Server;
using testing::ServerSettings;
using testing::TemporaryFolder;

TEST(Owed, ToOneWhoAsksAndReadsNothingIsBounded) {
    TemporaryFolder folder;
    const auto day = folder.at("saturday.toml");
    testing::write_file(day, testing::club_day());
    std::atomic<int> gear_answers = 0;
    ServerSettings settings;
    settings.session.write = 10min;
    settings.send_buffer = 4096;
    settings.write = [&](const v1::ServerFrame& m) {
        if (m.response().answer().has_gear()) ++gear_answers;
        return frame(m);
    };
    Server server(day, settings);
    RawSettings deaf_one;
    deaf_one.receive_buffer = 4096;
    RawClient deaf(server.port(), deaf_one);
    ASSERT_TRUE(deaf.hello(server.joined(v1::Role::onlooker, "Olly").key()));
    v1::ClientFrame question;
    question.mutable_request()->mutable_query()->mutable_gear();
    constexpr int asked = 2'000;
    std::string many;
    for (int i = 0; i < asked; ++i) many += *frame(question);
    deaf.send(many);
    deaf.wait_until_arrived();
    Remote ann(server.joined_as_pilot("Ann"));
    for (int i = 0; i < 10; ++i) {
        EXPECT_TRUE(ann.send(claim("", i % 2 == 0 ? "R3" : "R7")).claim().claimed());
        server.settle();
    }
    // And one that has gone into the buffers of the two ends.
    EXPECT_LE(gear_answers, static_cast<int>(answers_owed_max) + 1);
    EXPECT_GE(gear_answers, 1);
    // Now it reads, and everything is there.
    for (int i = 0; i < asked; ++i) {
        const auto answer = deaf.read();
        ASSERT_TRUE(answer && answer->response().answer().has_gear()) << i;
    }
    EXPECT_EQ(gear_answers, asked);
    server.stop();
}

// The longest that our client takes: it would give the connection up, and ask again.
TEST(Owed, IsNoAnswerThatNobodyTakes) {
    TemporaryFolder folder;
    const auto day = folder.at("saturday.toml");
    testing::write_file(day, testing::club_day());
    ServerSettings settings;
    settings.write = [&](const v1::ServerFrame& m) {
        if (!m.response().answer().has_gear()) return frame(m);
        return std::make_shared<const std::string>(length_bytes + server_frame_max + 1, 'x');
    };
    Server server(day, settings);
    Remote olly(server.joined(v1::Role::onlooker, "Olly"));
    v1::Query gear;
    gear.mutable_gear();
    const auto answer = olly.ask(gear);
    EXPECT_EQ(answer.refusal().kind(), v1::Refusal::out_of_range) << answer.DebugString();
    EXPECT_NE(answer.refusal().next().find(std::to_string(server_frame_max)), std::string::npos);
    EXPECT_TRUE(olly.ask(testing::board()).has_board());
    server.stop();
}

}  // namespace
}  // namespace fieldpeg::wire
