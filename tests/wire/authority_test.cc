#include "server/wire/authority.h"

#include <gtest/gtest.h>

#include <string>

namespace fieldpeg::wire {
namespace {

// [RFC3986, 3.2.2]: an IPv6 address stands in brackets, so that its colons are not the port's.
TEST(Authority, IsWrittenWithAnIpv6AddressInBrackets) {
    EXPECT_EQ(authority("192.0.2.7", 7323), "192.0.2.7:7323");
    EXPECT_EQ(authority("pegs.local", 80), "pegs.local:80");
    EXPECT_EQ(authority("2001:db8::7", 65535), "[2001:db8::7]:65535");
    EXPECT_EQ(authority("fe80::1%wlan0", 7323), "[fe80::1%wlan0]:7323");
}

TEST(Authority, IsReadBackAsItWasWritten) {
    for (const auto* host : {"192.0.2.7", "pegs.local", "my_laptop", "2001:db8::7", "::1",
                             "fe80::1%wlan0", "b\u00fccher.local", "a b", "a:b", "x%y", "me@home",
                             "192.0.2.7.example.org", "192.0.2.300", "1"}) {
        const auto text = authority(host, 7323);
        const auto back = read_authority(text);
        ASSERT_TRUE(back) << text;
        EXPECT_EQ(back->host, host);
        EXPECT_EQ(back->port, 7323) << text;
    }
}

TEST(Authority, TellsAnAddressFromAName) {
    for (const auto* address : {"192.0.2.7", "[2001:db8::7]:1", "[fe80::1%wlan0]"})
        EXPECT_TRUE(read_authority(address).value().is_address) << address;
    for (const auto* name : {"laptop", "192.0.2.7.example.org:1", "192.0.2.300", "1"})
        EXPECT_FALSE(read_authority(name).value().is_address) << name;
}

// As tickets had them that were written before names were put into other letters.
TEST(Authority, MayHaveANameOfOtherLettersAsItIs) {
    const auto at = read_authority("b\u00fccher.local:7323");
    ASSERT_TRUE(at);
    EXPECT_EQ(at->host, "b\u00fccher.local");
}

TEST(Authority, MayLeaveThePortOutButNotHalfOfIt) {
    EXPECT_EQ(read_authority("laptop").value().port, std::nullopt);
    EXPECT_EQ(read_authority("laptop:0").value().port, 0);
    for (const auto* text : {"laptop:", "laptop:65536", "laptop:99999", "laptop:-1", "laptop:+1",
                             "laptop:7x", "laptop:1:2"})
        EXPECT_FALSE(read_authority(text)) << text;
}

TEST(Authority, IsNothingElse) {
    for (const auto* text : {"",
                             ":",
                             ":7323",
                             "somebody@laptop",
                             "a b",
                             "laptop/x",
                             "laptop?x",
                             "<script>",
                             "[::1",
                             "::1",
                             "[::1]x",
                             "[laptop]",
                             "[192.0.2.7]",
                             "[fe80::1%]",
                             "[fe80::1%; script-src *]",
                             "[fe80::1%a%b]",
                             "%",
                             "%zz",
                             "[fe80::1%wlan0",
                             "[fe80::1%wlan0]:7\u00fc",
                             "\xff\xfe:70000"})
        EXPECT_FALSE(read_authority(text)) << text;
}

}  // namespace
}  // namespace fieldpeg::wire
