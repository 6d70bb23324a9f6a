#include "server/wire/frame_channel.h"

#include "tests/support/random.h"

#include "fieldpeg/v1/wire.pb.h"

#include <google/protobuf/io/coded_stream.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstring>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::wire {
namespace {

using testing::for_all;
using testing::whole;

v1::ClientFrame named(const std::string& program) {
    v1::ClientFrame m;
    m.mutable_hello()->set_program(program);
    return m;
}

/// Puts bytes into a channel, at most so many at once.
void put(FrameChannel& channel, std::string_view bytes, std::size_t most = SIZE_MAX) {
    while (!bytes.empty()) {
        const auto room = channel.room();
        const auto size = std::min({room.size(), bytes.size(), most});
        std::memcpy(room.data(), bytes.data(), size);
        channel.arrived(size);
        bytes.remove_prefix(size);
    }
}

/// The messages that are whole, by their names.
std::vector<std::string> taken(FrameChannel& channel) {
    std::vector<std::string> all;
    v1::ClientFrame m;
    auto next = channel.next(m);
    while (next && *next) {
        all.push_back(m.hello().program());
        next = channel.next(m);
    }
    EXPECT_TRUE(next) << next.error().why;
    return all;
}

std::string head_of(std::size_t size) {
    std::string head;
    for (int shift = 24; shift >= 0; shift -= 8) head += static_cast<char>((size >> shift) & 0xff);
    return head;
}

TEST(FrameChannel, GivesAMessageAsSoonAsItIsWholeAndNotBefore) {
    const auto bytes = *frame(named("a client"));
    FrameChannel channel(client_frame_max);
    for (const char byte : bytes.substr(0, bytes.size() - 1)) {
        put(channel, std::string_view(&byte, 1));
        EXPECT_TRUE(taken(channel).empty());
    }
    put(channel, bytes.substr(bytes.size() - 1));
    EXPECT_EQ(taken(channel), std::vector<std::string>{"a client"});
    EXPECT_TRUE(taken(channel).empty());
}

// However the bytes of many messages come, in pieces or together.
TEST(FrameChannel, GivesWhatWasSentHoweverItIsSplit) {
    for_all(200, [](std::mt19937_64& rng) {
        std::vector<std::string> names;
        std::string bytes;
        for (int i = whole(rng, 1, 12); i > 0; --i) {
            const auto size =
                testing::chance(rng, 20) ? whole(rng, 4'000, 200'000) : whole(rng, 1, 60);
            names.emplace_back(static_cast<std::size_t>(size), static_cast<char>('a' + i));
            bytes += *frame(named(names.back()));
        }
        FrameChannel channel(client_frame_max);
        std::vector<std::string> came;
        std::string_view left = bytes;
        while (!left.empty()) {
            const auto piece = std::min<std::size_t>(
                left.size(),
                static_cast<std::size_t>(testing::chance(rng, 50) ? whole(rng, 1, 9)
                                                                  : whole(rng, 1, 9'000)));
            put(channel, left.substr(0, piece));
            left.remove_prefix(piece);
            if (left.empty() || testing::chance(rng, 70))
                for (auto& name : taken(channel)) came.push_back(std::move(name));
        }
        EXPECT_EQ(came, names);
    });
}

TEST(FrameChannel, RefusesWhatMakesNoSenseAndAllThatFollows) {
    const auto good = *frame(named("good"));
    for (const auto& bad :
         {head_of(0), head_of(1025), std::string(4, '\xff'), head_of(8) + std::string(8, '\xff')}) {
        FrameChannel channel(1024);
        put(channel, good + bad + good, 3);
        v1::ClientFrame m;
        auto first = channel.next(m);
        ASSERT_TRUE(first && *first);
        EXPECT_EQ(m.hello().program(), "good");
        for (int i = 0; i < 2; ++i) {
            const auto refused = channel.next(m);
            ASSERT_FALSE(refused);
            EXPECT_EQ(refused.error().where, "frame");
            EXPECT_FALSE(refused.error().why.empty());
        }
    }
}

TEST(FrameChannel, RefusesALengthBeforeAnythingOfThatLengthHasCome) {
    FrameChannel channel(1024);
    put(channel, head_of(1025));
    v1::ClientFrame m;
    const auto refused = channel.next(m);
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().why.find("1025"), std::string::npos);
    EXPECT_NE(refused.error().next.find("1024"), std::string::npos);
}

/// Groups within groups [Protobuf, encoding: field 1, start and end of a group], that nobody knows.
std::string nested(std::size_t depth) {
    const auto body = std::string(depth, '\x0b') + std::string(depth, '\x0c');
    return head_of(body.size()) + body;
}

TEST(FrameChannel, PassesOverWhatIsUnknownAndRefusesItNestedDeeply) {
    const auto deepest = static_cast<std::size_t>(
        google::protobuf::io::CodedInputStream::GetDefaultRecursionLimit());
    for (const auto& [depth, good] : {std::pair(std::size_t{1}, true),
                                      {deepest, true},
                                      {deepest + 1, false},
                                      {client_frame_max / 2, false}}) {
        FrameChannel channel(client_frame_max);
        put(channel, nested(depth));
        v1::ClientFrame m;
        const auto next = channel.next(m);
        EXPECT_EQ(next && *next, good) << depth;
    }
}

v1::ClientFrame with_shares(int count) {
    v1::ClientFrame m;
    for (int i = 0; i < count; ++i)
        m.mutable_request()->mutable_command()->mutable_assign()->add_all();
    return m;
}

// Two bytes make a message of thirty times as many: what is held of a frame is bounded as well.
TEST(FrameChannel, RefusesWhatTakesManyTimesItsLength) {
    const auto is_taken = [](const v1::ClientFrame& m) {
        FrameChannel channel(client_frame_max);
        put(channel, *frame(m));
        v1::ClientFrame back;
        const auto next = channel.next(back);
        if (!next) {
            EXPECT_EQ(next.error().where, "frame");
            EXPECT_FALSE(next.error().next.empty());
        }
        return next && *next;
    };
    EXPECT_TRUE(is_taken(with_shares(700)));  // as many as may be given out at once
    EXPECT_FALSE(is_taken(with_shares(100'000)));
    v1::ClientFrame long_text, sweep;
    long_text.mutable_request()->mutable_command()->mutable_put()->set_toml(
        std::string(client_frame_max - 100, '#'));
    EXPECT_TRUE(is_taken(long_text));
    auto& levels = *sweep.mutable_request()->mutable_command()->mutable_sweep()->mutable_sweep();
    for (int i = 0; i < 60'000; ++i) levels.add_level_dbm(-90);
    EXPECT_TRUE(is_taken(sweep));
    // Half of what there is room for; a list doubles its own as it grows.
    const auto of_each = with_shares(1024).SpaceUsedLong() / 1024;
    const auto half = static_cast<int>(client_frame_max * room_times / of_each / 2);
    EXPECT_TRUE(is_taken(with_shares(half)));
    EXPECT_FALSE(is_taken(with_shares(3 * half)));
}

TEST(FrameChannel, TakesLongerOnesOnceItIsAllowed) {
    const auto longer = *frame(named(std::string(2'000, 'n')));
    FrameChannel channel(1024);
    put(channel, *frame(named("hello")) + longer);
    v1::ClientFrame m;
    ASSERT_TRUE(channel.next(m).value());
    channel.allow(client_frame_max);
    ASSERT_TRUE(channel.next(m).value());
    EXPECT_EQ(m.hello().program().size(), 2'000U);
}

TEST(FrameChannel, GivesNobodyMemoryForALengthAlone) {
    FrameChannel channel(server_frame_max);
    put(channel, head_of(server_frame_max));
    std::size_t come = length_bytes;
    for (int i = 0; i < 40; ++i) {
        const auto room = channel.room().size();
        EXPECT_LE(room, std::max<std::size_t>(4096, 2 * come)) << come;
        put(channel, std::string(room, 'x'));
        come += room;
        if (come > 1'000'000) break;
    }
    EXPECT_GT(come, 1'000'000U) << "a long one would take for ever";
}

TEST(FrameChannel, KeepsNoMemoryOfALongMessage) {
    FrameChannel channel(server_frame_max);
    put(channel, *frame(named(std::string(1'000'000, 'n'))));
    EXPECT_EQ(taken(channel).size(), 1U);
    EXPECT_LE(channel.room().size(), 4096U);
}

TEST(FrameChannel, GivesTheBytesOfItsFramesInOrderHoweverTheyAreTaken) {
    for_all(100, [](std::mt19937_64& rng) {
        FrameChannel channel(1024);
        std::string expected, sent;
        for (int step = 0; step < 60; ++step) {
            if (testing::chance(rng, 40)) {
                const auto bytes =
                    frame(named(std::string(static_cast<std::size_t>(whole(rng, 1, 300)), 'x')));
                expected += *bytes;
                channel.send(bytes);
            }
            const auto next = channel.unsent();
            const auto size =
                static_cast<std::size_t>(whole(rng, 0, static_cast<int>(next.size())));
            sent += next.substr(0, size);
            channel.sent(size);
        }
        while (!channel.unsent().empty()) {
            sent += channel.unsent();
            channel.sent(channel.unsent().size());
        }
        EXPECT_EQ(sent, expected);
    });
}

// Both ends at once, over a wire that loses nothing and has no respect for frames.
TEST(FrameChannel, UnderstandsItself) {
    for_all(50, [](std::mt19937_64& rng) {
        FrameChannel here(client_frame_max), there(client_frame_max);
        std::vector<std::string> said, heard;
        for (int i = 0; i < 40; ++i) {
            said.push_back(std::to_string(i) +
                           std::string(static_cast<std::size_t>(whole(rng, 0, 2'000)), '.'));
            here.send(frame(named(said.back())));
            while (!here.unsent().empty() && testing::chance(rng, 80)) {
                const auto bytes =
                    here.unsent().substr(0, static_cast<std::size_t>(whole(rng, 1, 700)));
                put(there, bytes);
                here.sent(bytes.size());
            }
            for (auto& one : taken(there)) heard.push_back(std::move(one));
        }
        while (!here.unsent().empty()) {
            put(there, here.unsent());
            here.sent(here.unsent().size());
        }
        for (auto& one : taken(there)) heard.push_back(std::move(one));
        EXPECT_EQ(heard, said);
    });
}

}  // namespace
}  // namespace fieldpeg::wire
