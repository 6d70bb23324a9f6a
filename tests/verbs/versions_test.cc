#include "client/link/memberships.h"
#include "server/wire/ticket.h"
#include "tests/support/false_server.h"
#include "tests/verbs/ran.h"

#include <gtest/gtest.h>

#include <string>

/// A client at a server of another version: it says which is to be updated, and never that
/// something was done.
namespace fieldpeg::verbs {
namespace {

using testing::FalseServer;
using testing::ran;

class AtAnotherVersion : public ::testing::Test {
protected:
    void SetUp() override { ::setenv("XDG_CONFIG_HOME", folder_.at("config").c_str(), 1); }

    static v1::Welcome welcome(const std::string& program, std::uint32_t protocol) {
        auto welcome = FalseServer::usual_welcome();
        welcome.set_program(program);
        welcome.set_protocol(protocol);
        return welcome;
    }
    testing::Outcome claimed(const FalseServer::Says& says, const v1::Welcome& welcome) {
        FalseServer server(says, welcome);
        EXPECT_TRUE(link::keep_membership(server.membership()));
        auto outcome = ran({"claim", "R3"});
        heard_ = server.heard().size();
        return outcome;
    }

    testing::TemporaryFolder folder_;
    std::size_t heard_ = 0;
};

bool has(const std::string& text, const char* part) {
    return text.find(part) != std::string::npos;
}

TEST_F(AtAnotherVersion, WhoseProtocolIsAnotherNothingIsAskedAndTheClientIsToBeUpdated) {
    const auto outcome = claimed([](const v1::Request&) { return std::nullopt; },
                                 welcome("fieldpegd 9.1.0", wire::protocol_version + 1));
    EXPECT_EQ(outcome.status, 4);
    EXPECT_EQ(heard_, 0U);
    EXPECT_TRUE(has(outcome.err, "fieldpegd 9.1.0")) << outcome.err;
    EXPECT_TRUE(has(outcome.err, "use the client that came with the server")) << outcome.err;
    EXPECT_TRUE(has(outcome.err, "Do not switch on")) << outcome.err;
}

// A server that says nothing of what was asked, or in a kind of answer that is not known yet.
TEST_F(AtAnotherVersion, WhoseAnswerSaysNothingBothAreNamed) {
    const auto outcome = claimed(
        [](const v1::Request& request) {
            v1::ServerFrame m;
            m.mutable_response()->set_id(request.id());
            m.mutable_response()->mutable_reply()->set_version(2);
            return FalseServer::bytes_of(m);
        },
        welcome("fieldpegd 9.1.0", wire::protocol_version));
    EXPECT_EQ(outcome.status, 4);
    EXPECT_TRUE(has(outcome.err, "it is fieldpegd 9.1.0, this is fieldpeg ")) << outcome.err;
}

TEST_F(AtAnotherVersion, WhichSaysMoreThanIsKnownIsUnderstood) {
    const auto outcome = claimed(
        [](const v1::Request& request) {
            v1::ServerFrame m;
            m.mutable_response()->set_id(request.id());
            auto& reply = *m.mutable_response()->mutable_reply();
            reply.set_version(2);
            reply.mutable_claim()->set_transmitter("Ann");
            reply.mutable_claim()->set_claimed(true);
            reply.mutable_claim()->mutable_channel()->set_name("R3");
            reply.mutable_claim()->mutable_channel()->set_mhz(5732);
            reply.mutable_claim()
                ->GetReflection()
                ->MutableUnknownFields(reply.mutable_claim())
                ->AddVarint(4000, 1);
            return FalseServer::bytes_of(m);
        },
        welcome("fieldpegd 9.1.0", wire::protocol_version));
    EXPECT_EQ(outcome.status, 0) << outcome.err;
    EXPECT_TRUE(has(outcome.out, "R3")) << outcome.out;
}

}  // namespace
}  // namespace fieldpeg::verbs
