#include "client/link/remote.h"
#include "server/wire/frame.h"
#include "server/wire/session.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"
#include "tests/support/raw_client.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>
#include <boost/asio/buffer.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/write.hpp>

#include <memory>
#include <optional>
#include <string>
#include <utility>

/// What nobody's client should send, but anybody may: it is refused with a reason, and the server
/// goes on answering the others.
namespace fieldpeg::wire {
namespace {

using namespace std::chrono_literals;
using asio::ip::tcp;
using link::Remote;
using testing::claim;
using testing::RawClient;
using testing::RawSettings;
using testing::Server;
using testing::ServerSettings;
using testing::TemporaryFolder;

const std::string other_key(32, 'k');

class Refusals : public ::testing::Test {
protected:
    Refusals() { start({}); }

    void start(const ServerSettings& settings) {
        server_.reset();
        testing::write_file(day_, testing::club_day());
        server_ = std::make_unique<Server>(day_, settings);
        marshal_ = key_ ? marshal_ : server_->joined(v1::Role::marshal, "Max");
        marshal_.set_port(server_->port());
        key_ = server_->joined_as_pilot("Ann").key();
    }

    /// One who has said who it is.
    std::unique_ptr<RawClient> ann() const {
        auto client = std::make_unique<RawClient>(server_->port());
        EXPECT_TRUE(client->hello(*key_));
        return client;
    }

    /// The server takes a moment to see that others have gone.
    std::unique_ptr<RawClient> as_soon_as_there_is_room() const {
        while (true) {
            auto client = std::make_unique<RawClient>(server_->port());
            if (client->is_secure() && client->hello(*key_)) return client;
        }
    }

    /// What a client is told that sends this first.
    std::optional<v1::Refusal> told_to(std::string_view bytes) const {
        RawClient client(server_->port());
        client.send(bytes);
        return client.goodbye();
    }

    /// What Ann is told when she sends this.
    std::optional<v1::Refusal> told_to_ann(std::string_view bytes) const {
        const auto client = ann();
        client->send(bytes);
        return client->goodbye();
    }

    void TearDown() override {
        EXPECT_TRUE(Remote(marshal_).ask(testing::board()).has_board())
            << "the server answers nobody any more";
        EXPECT_NO_THROW(server_->stop());
    }

    TemporaryFolder folder_;
    const std::string day_ = folder_.at("saturday.toml");
    std::unique_ptr<Server> server_;
    v1::Membership marshal_;
    std::optional<std::string> key_;
};

std::string head_of(std::uint32_t size) {
    std::string head;
    for (int shift = 24; shift >= 0; shift -= 8) head += static_cast<char>((size >> shift) & 0xff);
    return head;
}

TEST_F(Refusals, OfAFrameThatIsTooLong) {
    for (const auto size : {std::uint32_t(client_frame_max + 1), 0x7fffffffU, 0xffffffffU}) {
        const auto told = told_to_ann(head_of(size));
        ASSERT_TRUE(told) << size;
        EXPECT_EQ(told->kind(), v1::Refusal::malformed);
        EXPECT_NE(told->why().find(std::to_string(size)), std::string::npos) << told->why();
    }
}

TEST_F(Refusals, OfAFrameThatIsTooLongForAStranger) {
    const auto told = told_to(head_of(hello_frame_max + 1));
    ASSERT_TRUE(told);
    EXPECT_NE(told->why().find("1025"), std::string::npos) << told->why();
}

TEST_F(Refusals, OfAFrameOfNoLength) {
    for (const auto& told : {told_to(head_of(0)), told_to_ann(head_of(0))}) {
        ASSERT_TRUE(told);
        EXPECT_EQ(told->kind(), v1::Refusal::malformed);
    }
}

TEST_F(Refusals, OfAFrameThatIsNoMessage) {
    for (const auto& told : {told_to(head_of(8) + std::string(8, '\xff')),
                             told_to_ann(head_of(8) + std::string(8, '\xff'))}) {
        ASSERT_TRUE(told);
        EXPECT_EQ(told->kind(), v1::Refusal::malformed);
        EXPECT_FALSE(told->why().empty());
    }
}

TEST_F(Refusals, OfAFrameThatIsCutShort) {
    const auto whole = *frame(testing::hello_with(*key_));
    for (std::size_t size = 0; size < whole.size(); ++size) {
        RawClient client(server_->port());
        client.send(whole.substr(0, size));
        client.close();
    }
    const auto client = ann();
    client->send(head_of(1000) + "and then nothing");
    client->close();
}

TEST_F(Refusals, OfWhoSaysNothingForTooLong) {
    ServerSettings settings;
    settings.session.handshake = 300ms;
    settings.session.idle = 300ms;
    start(settings);
    for (const auto& told : {told_to(""), told_to(head_of(8) + "four"), told_to_ann(""),
                             told_to_ann(head_of(8) + "four")}) {
        ASSERT_TRUE(told);
        EXPECT_EQ(told->kind(), v1::Refusal::unavailable);
        EXPECT_NE(told->why().find("too long"), std::string::npos) << told->why();
    }
}

TEST_F(Refusals, OfAnotherVersionOfTheProtocol) {
    for (const auto version : {0U, protocol_version + 1, 0xffffffffU}) {
        auto hello = testing::hello_with(*key_);
        hello.mutable_hello()->set_protocol(version);
        const auto told = told_to(*frame(hello));
        ASSERT_TRUE(told);
        EXPECT_EQ(told->where(), "protocol");
        EXPECT_NE(told->why().find(std::to_string(version)), std::string::npos) << told->why();
        EXPECT_FALSE(told->next().empty());
    }
}

// A later client's command may say in a new word what makes it another: "only try", say. What has
// no word here is not done, nor is a question answered that may be another.
TEST_F(Refusals, OfWhatALaterClientSaysInWordsThatAreNotKnownHere) {
    const auto client = ann();
    auto command = claim("", "R3");
    const auto new_word = [](auto& message) {
        message.GetReflection()->MutableUnknownFields(&message)->AddVarint(4000, 1);
    };
    auto deep = command;
    new_word(*deep.mutable_claim()->mutable_channel());
    new_word(*command.mutable_claim());
    for (const auto& one : {command, deep}) {
        const auto reply = client->send(one);
        ASSERT_TRUE(reply);
        EXPECT_EQ(reply->refusal().kind(), v1::Refusal::malformed);
        EXPECT_NE(reply->refusal().next().find("fieldpegd "), std::string::npos);
    }
    v1::ClientFrame question;
    new_word(*question.mutable_request()->mutable_query()->mutable_board());
    client->send(question);
    const auto answer = client->read();
    ASSERT_TRUE(answer);
    EXPECT_TRUE(answer->response().answer().has_refusal());
    EXPECT_TRUE(client->send(claim("", "R3"))->claim().claimed()) << "nothing was done before";
}

TEST_F(Refusals, AWelcomeSaysWhatTheServerIs) {
    RawClient client(server_->port());
    EXPECT_TRUE(client.hello(*key_)->program().starts_with("fieldpegd "));
}

TEST_F(Refusals, OfAFirstFrameThatSaysNothingOfWhoItIs) {
    v1::ClientFrame request;
    *request.mutable_request()->mutable_command() = claim("Ann", "R3");
    v1::ClientFrame ping;
    ping.set_ping(true);
    for (const auto& first : {request, ping}) {
        const auto told = told_to(*frame(first));
        ASSERT_TRUE(told);
        EXPECT_EQ(told->kind(), v1::Refusal::malformed);
    }
}

TEST_F(Refusals, OfASecondHello) {
    EXPECT_TRUE(told_to_ann(*frame(testing::hello_with(*key_))));
}

TEST_F(Refusals, OfAnUnknownRequestLeaveTheConnectionAsItWas) {
    const auto client = ann();
    v1::ClientFrame unknown;
    unknown.mutable_request()->set_id(7);
    client->send(unknown);
    const auto answer = client->read();
    ASSERT_TRUE(answer);
    EXPECT_EQ(answer->response().id(), 7U);
    EXPECT_EQ(answer->response().answer().refusal().kind(), v1::Refusal::malformed);
    const auto reply = client->send(v1::Command());
    ASSERT_TRUE(reply);
    EXPECT_EQ(reply->refusal().kind(), v1::Refusal::malformed);
    v1::ClientFrame nothing_asked;
    nothing_asked.mutable_request()->mutable_query();
    client->send(nothing_asked);
    const auto no_answer = client->read();
    ASSERT_TRUE(no_answer);
    EXPECT_TRUE(no_answer->response().answer().has_refusal());
    EXPECT_TRUE(client->send(claim("", "R3"))->claim().claimed());
}

TEST_F(Refusals, OfAKeyThatNobodyHas) {
    for (const auto& key : {std::string(), std::string(32, 'x'), key_->substr(1), *key_ + "x"}) {
        RawClient client(server_->port());
        EXPECT_FALSE(client.hello(key));
        const auto told = client.goodbye();
        ASSERT_TRUE(told);
        EXPECT_EQ(told->kind(), v1::Refusal::not_permitted);
    }
}

TEST_F(Refusals, OfAWrongTicket) {
    auto ticket = server_->ticket(v1::Role::pilot);
    ticket.secret = std::string(16, 'x');
    const auto joined = link::join(ticket, "Cy");
    ASSERT_FALSE(joined);
    EXPECT_EQ(joined.error().kind, Refusal::Kind::not_permitted);
    EXPECT_NE(joined.error().why.find("ticket"), std::string::npos) << joined.error().why;
}

TEST_F(Refusals, OfANameThatIsNone) {
    const auto ticket = server_->ticket(v1::Role::pilot);
    for (const auto& name : {std::string("C\ny"), std::string("\x1b[2J"), std::string(900, 'a')}) {
        RawClient client(server_->port());
        EXPECT_FALSE(client.join(ticket, name, other_key));
        const auto told = client.goodbye();
        ASSERT_TRUE(told);
        EXPECT_EQ(told->where(), "name");
    }
    RawClient client(server_->port());
    EXPECT_FALSE(client.join(ticket, std::string(10'000, 'a'), other_key));
    EXPECT_TRUE(client.goodbye());
}

TEST_F(Refusals, OfOlderTls) {
    RawSettings old;
    old.only_tls_1_2 = true;
    RawClient client(server_->port(), old);
    EXPECT_FALSE(client.is_secure());
    EXPECT_FALSE(client.goodbye());
}

TEST_F(Refusals, OfPlainTextAndOfNothingAtAll) {
    for (const auto* text : {"GET / HTTP/1.1\r\n\r\n",
                             "\x16\x03\x01\xff\xff garbage that begins as a handshake does", ""}) {
        asio::io_context io;
        tcp::socket socket(io);
        socket.connect({asio::ip::address_v4::loopback(), server_->port()});
        asio::write(socket, asio::buffer(std::string_view(text)));
        socket.shutdown(tcp::socket::shutdown_send);
        std::string answer;
        boost::system::error_code ended;
        asio::read(socket, asio::dynamic_buffer(answer), ended);
        EXPECT_TRUE(ended) << "the connection ends";
        EXPECT_EQ(answer.find("fieldpeg"), std::string::npos);
    }
}

TEST_F(Refusals, OfMoreConnectionsThanThereIsRoomFor) {
    ServerSettings settings;
    settings.connections = 2;
    start(settings);
    {
        const auto one = as_soon_as_there_is_room();
        const auto two = as_soon_as_there_is_room();
        EXPECT_FALSE(RawClient(server_->port()).is_secure());
        EXPECT_TRUE(one->send(claim("", "R3"))->claim().claimed());
    }
    as_soon_as_there_is_room();
}

TEST_F(Refusals, OfAPilotWhoActsForAnother) {
    const auto client = ann();
    const auto reply = client->send(claim("Bob", "R3"));
    ASSERT_TRUE(reply);
    EXPECT_EQ(reply->refusal().kind(), v1::Refusal::not_permitted);
}

TEST_F(Refusals, OfAWithdrawnKeyOnAConnectionThatWasOpen) {
    const auto client = ann();
    ASSERT_TRUE(Remote(marshal_).send(testing::withdraw_key("Ann")).has_done());
    EXPECT_FALSE(client->send(claim("", "R3")));
    const auto told = client->goodbye();
    ASSERT_TRUE(told);
    EXPECT_EQ(told->kind(), v1::Refusal::not_permitted);
    RawClient again(server_->port());
    EXPECT_FALSE(again.hello(*key_));
}

TEST_F(Refusals, OfAWithdrawnKeyOnAnOpenConnectionHoldWhenItsPilotJoinsAnew) {
    const auto client = ann();
    ASSERT_TRUE(Remote(marshal_).send(testing::withdraw_key("Ann")).has_done());
    const auto anew = server_->joined_as_pilot("Ann");
    EXPECT_FALSE(client->send(claim("", "R3")))
        << "the withdrawn key acts for the pilot who joined anew";
    EXPECT_TRUE(Remote(anew).send(claim("", "R3")).claim().claimed());
}

// Somebody joins as Bob, who is listed, and must wait; then the real Bob joins with his own ticket.
TEST_F(Refusals, OfAStrangerWhoWaitsHoldWhenTheRealPilotJoins) {
    RawClient stranger(server_->port());
    const auto welcome = stranger.join(server_->ticket(v1::Role::pilot), "Bob", other_key);
    ASSERT_TRUE(welcome);
    EXPECT_TRUE(welcome->person().awaits_nod());
    const auto waiting = stranger.send(claim("", "R7"));
    ASSERT_TRUE(waiting);
    EXPECT_EQ(waiting->refusal().kind(), v1::Refusal::not_permitted);
    // Some are under way when he joins, some come later.
    for (int i = 0; i < 100; ++i) stranger.ask(claim("", "R7"), "");
    const auto bob = server_->joined_as_pilot("Bob");
    for (int i = 0; i < 10; ++i) stranger.ask(claim("", "R7"), "");
    while (const auto frame = stranger.read())
        ASSERT_FALSE(frame->response().reply().claim().claimed()) << "the stranger acts as Bob";
    EXPECT_TRUE(Remote(bob).send(claim("", "R3")).claim().claimed());
}

// Without a ticket nobody guesses one: it counts for itself.
TEST_F(Refusals, OfTooManyWithoutATicketAndNotOfWhoHasOneThen) {
    const RawSettings from{.from = "127.0.0.50"};
    const auto knocks = [&](const std::string& name) {
        wire::Ticket none;
        RawClient client(server_->port(), from);
        const auto welcome = client.join(none, name, std::string(32, name.back()));
        return welcome ? std::nullopt : client.goodbye();
    };
    for (int i = 0; i < static_cast<int>(Rates().knocks.at_once); ++i) {
        const auto why = knocks("Max");
        ASSERT_TRUE(why);
        EXPECT_EQ(why->kind(), v1::Refusal::conflict) << "he is the marshal";
    }
    const auto why = knocks("Zoe");
    ASSERT_TRUE(why);
    EXPECT_EQ(why->kind(), v1::Refusal::unavailable);
    EXPECT_EQ(why->why(), "too many join from this address");
    RawClient with_ticket(server_->port(), from);
    EXPECT_TRUE(with_ticket.join(server_->ticket(v1::Role::pilot), "Gil", other_key));
}

TEST_F(Refusals, OfGarbageOfAnyKind) {
    testing::for_all(30, [this](std::mt19937_64& rng) {
        auto bytes = *frame(testing::hello_with(*key_));
        v1::ClientFrame request;
        *request.mutable_request()->mutable_command() = claim("", "R3");
        request.mutable_request()->set_idempotency_key("once");
        bytes += *frame(request);
        for (int i = testing::whole(rng, 1, 4); i > 0; --i)
            bytes[static_cast<std::size_t>(
                testing::whole(rng, 4, static_cast<int>(bytes.size()) - 1))] =
                static_cast<char>(testing::whole(rng, 0, 255));
        RawSettings own;  // an address of its own, so that the gate is closed to nobody else
        own.from = "127.0.1." + std::to_string(testing::whole(rng, 1, 250));
        RawClient client(server_->port(), own);
        client.send(bytes);
        client.close();
    });
}

}  // namespace
}  // namespace fieldpeg::wire
