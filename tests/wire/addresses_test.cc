#include "server/wire/addresses.h"

#include "server/wire/listener.h"

#include <gtest/gtest.h>
#include <boost/asio/io_context.hpp>

#include <string>

namespace fieldpeg::wire {
namespace {

std::string read(const char* written) {
    const auto at = read_endpoint("--listen", written, 7323);
    if (!at) return "refused";
    return at->address().to_string() + " " + std::to_string(at->port());
}

TEST(Endpoint, IsAnAddressWithAPortOrTheUsualOne) {
    EXPECT_EQ(read("0.0.0.0:7400"), "0.0.0.0 7400");
    EXPECT_EQ(read("192.0.2.7"), "192.0.2.7 7323");
    EXPECT_EQ(read("[2001:db8::7]:7400"), "2001:db8::7 7400");
    EXPECT_EQ(read("[2001:db8::7]"), "2001:db8::7 7323");
    EXPECT_EQ(read("2001:db8::7"), "2001:db8::7 7323");
    EXPECT_EQ(read("[::]:0"), ":: 0");
    EXPECT_EQ(read("127.0.0.1:65535"), "127.0.0.1 65535");
}

TEST(Endpoint, IsNeitherANameNorAnythingElse) {
    for (const auto* written :
         {"", ":", ":7323", "laptop:7323", "192.0.2.7:", "192.0.2.7:65536", "192.0.2.7:99999",
          "192.0.2.7:-1", "192.0.2.7:7x", "192.0.2.7:7323/", "me@192.0.2.7:7323",
          "[192.0.2.7]:7323", "192.0.2.7 :7323", "192.0.2.300:7323", "[2001:db8::7",
          "2001:db8::7]:1"})
        EXPECT_EQ(read(written), "refused") << written;
}

// Which colon is the port's must be plain to who reads it.
TEST(Listening, SaysWhereItCouldNotWithTheAddressInBrackets) {
    boost::asio::io_context io;
    const auto nowhere = asio::ip::make_address("2001:db8::7");  // [RFC3849]: nobody has it
    const auto listens = listening(io, "--listen", {nowhere, 7323});
    ASSERT_FALSE(listens);
    EXPECT_TRUE(listens.error().why.starts_with("[2001:db8::7]:7323 cannot be listened on"))
        << listens.error().why;
}

}  // namespace
}  // namespace fieldpeg::wire
