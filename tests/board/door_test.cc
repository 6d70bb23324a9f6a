#include "server/board/door.h"

#include "server/wire/spelling.h"
#include "server/wire/ticket.h"

#include <gtest/gtest.h>

#include <string>

namespace fieldpeg::board {
namespace {

const Site site{{"pegs.example.org"}, "A <day> & \"night\"", std::string(32, '\x5a'), ""};
const std::string key(32, '\x07');

Request with(http::field field, const std::string& value) {
    Request r(http::verb::get, "/", 11);
    r.set(http::field::host, "192.168.4.1:7324");
    r.set(field, value);
    return r;
}

TEST(OwnName, IsAnAddressAPlainNameOrOneOfTheLocalNetwork) {
    for (const auto* name :
         {"192.168.4.1", "192.168.4.1:7324", "[fe80::1]:7324", "[::1]", "localhost:7324", "LAPTOP",
          "laptop.local:7324", "pegs.example.org", "PEGS.example.org:7324"})
        EXPECT_TRUE(is_own_name(name, site)) << name;
}

// A page elsewhere can give its own name any address, and then reads what is served there: the
// attack is called DNS rebinding. The name still is its own.
TEST(OwnName, IsNoNameThatAnybodyElseCanOwn) {
    for (const auto* name : {"", "evil.example.org", "192.168.4.1.example.org",
                             "pegs.example.org.evil", "a b", "laptop/x", "<script>", ":7324",
                             "laptop:7324x", "[::1]x", "somebody@laptop", "laptop:70000"})
        EXPECT_FALSE(is_own_name(name, site)) << name;
}

TEST(OwnPage, HasTheSameSchemeHostAndPort) {
    EXPECT_TRUE(is_own_page(with(http::field::origin, "https://192.168.4.1:7324"), true, true));
    for (const auto* other : {"http://192.168.4.1:7324", "https://192.168.4.1", "null", "",
                              "https://192.168.4.1:7324.example.org", "https://evil.example.org",
                              "https://192.168.4.1:7324/", "https://192.168.4.1:7324?x",
                              "https://192.168.4.1:7324#x", "https://x@192.168.4.1:7324"})
        EXPECT_FALSE(is_own_page(with(http::field::origin, other), true, true)) << other;
    auto usual_port = with(http::field::origin, "https://LAPTOP");  // as browsers leave it out
    usual_port.set(http::field::host, "laptop");
    EXPECT_TRUE(is_own_page(usual_port, true, true));
    EXPECT_FALSE(is_own_page(usual_port, false, true));
    usual_port.set(http::field::host, "laptop:80");
    EXPECT_FALSE(is_own_page(usual_port, true, true));
    Request none(http::verb::get, "/", 11);
    EXPECT_FALSE(is_own_page(none, true, true));
    EXPECT_TRUE(is_own_page(none, false, false));
}

// [RFC6265bis, 4.1.3.2]: a name with this prefix is only taken by a browser if the cookie is
// Secure, has the path / and no Domain.
TEST(Cookie, KeepsToItsPrefixAndIsOutOfReachOfScriptsAndOtherPages) {
    const auto text = cookie(key);
    EXPECT_TRUE(text.starts_with("__Host-"));
    for (const auto* part : {"; Path=/", "; Secure", "; HttpOnly", "; SameSite=Strict"})
        EXPECT_NE(text.find(part), std::string::npos) << part;
    EXPECT_EQ(text.find("Domain"), std::string::npos);
    EXPECT_NE(cookie("").find("Max-Age=0"), std::string::npos);
}

TEST(Cookie, IsReadBackAmongOthers) {
    const auto value = cookie(key).substr(0, cookie(key).find(';'));
    EXPECT_EQ(key_in(with(http::field::cookie, value)), key);
    EXPECT_EQ(key_in(with(http::field::cookie, "a=b; " + value + "; c=d")), key);
    for (const auto& other :
         {std::string("a=b"), "x" + value, value + "a", std::string("__Host-fieldpeg="),
          std::string("__Host-fieldpeg"), std::string("; ; =;"), std::string(8000, ';')})
        EXPECT_EQ(key_in(with(http::field::cookie, other)), std::nullopt) << other;
}

TEST(Path, IsWhatStandsBeforeTheQuestionMark) {
    const auto path = [](const char* target) {
        return path_of(Request(http::verb::get, target, 11));
    };
    EXPECT_EQ(path("/"), "/");
    EXPECT_EQ(path("/join?from=/live"), "/join");
    EXPECT_EQ(path("/%6Aoin"), "/%6Aoin");
    for (const auto* target : {"", "*", "join", "http://laptop/join", "/a b"})
        EXPECT_EQ(path(target), "") << target;
}

TEST(Protection, LetsNothingInFromElsewhereAndNoScriptThatIsWrittenIntoThePage) {
    Response response;
    protect(response, with(http::field::accept, "*/*"), site, true);
    const std::string policy = response["Content-Security-Policy"];
    EXPECT_NE(policy.find("default-src 'none'"), std::string::npos);
    EXPECT_NE(policy.find("frame-ancestors 'none'"), std::string::npos);
    EXPECT_NE(policy.find("wss://192.168.4.1:7324"), std::string::npos);
    EXPECT_EQ(policy.find("unsafe"), std::string::npos);
    for (const auto* host :
         {"x; script-src *", "x:7324; script-src *", "x:7324 *", "[::1]*", "*@x"}) {
        Request forged(http::verb::get, "/", 11);
        forged.set(http::field::host, host);
        protect(response, forged, site, true);
        EXPECT_EQ(std::string(response["Content-Security-Policy"]).find('*'), std::string::npos)
            << host;
    }
}

// A request may call this server anything. Only what it is called is let in.
TEST(Protection, NamesNoSocketButItsOwn) {
    Response response;
    const auto policy_for = [&](const std::string& host) {
        protect(response, with(http::field::host, host), site, true);
        return std::string(response["Content-Security-Policy"]);
    };
    for (const auto* own :
         {"192.168.4.1:7324", "[fe80::1]:7324", "laptop.local:7324", "pegs.example.org:7324"})
        EXPECT_NE(policy_for(own).find(std::string("connect-src 'self' wss://") + own),
                  std::string::npos)
            << own;
    for (const auto* other : {"evil.example.org:7324", "pegs.example.org.evil.example", "x.y"})
        EXPECT_NE(policy_for(other).find("connect-src 'self';"), std::string::npos) << other;
}

// The spelling alphabet as every radio operator learns it [ICAO-ANNEX-10, Volume II, 5.2.1.3].
TEST(Spelling, IsThatOfRadioPeople) {
    const auto words = wire::spelled("foobar and more");  // "mzxw6ytboi..." [RFC4648, section 10]
    EXPECT_EQ(words, "mike zulu x-ray whiskey six yankee tango bravo oscar india");
    EXPECT_EQ(wire::hex_pairs("\x01\xab"), "01:AB");
}

TEST(PhoneAddress, HandsTheSecretOverBehindTheHash) {
    const wire::Ticket ticket{"fe80::1", 7324, "", std::string(16, '\0')};
    const auto url = wire::phone_url(ticket, "Zoë / 1");
    EXPECT_EQ(url, "https://[fe80::1]:7324/join#aaaaaaaaaaaaaaaaaaaaaaaaaa/Zo%C3%AB%20%2F%201");
    EXPECT_FALSE(wire::qr_rows(url).empty());
    EXPECT_TRUE(wire::qr_rows(std::string(5000, 'x')).empty());
}

}  // namespace
}  // namespace fieldpeg::board
