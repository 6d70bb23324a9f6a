#include "server/board/visit.h"

#include "server/wire/ticket.h"
#include "tests/support/board_server.h"
#include "tests/support/browser.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"
#include "tests/support/temporary.h"

#include <google/protobuf/util/json_util.h>
#include <gtest/gtest.h>

#include <chrono>
#include <memory>
#include <optional>
#include <random>
#include <string>
#include <vector>

/// Browsers, and what is no browser, at the page's server. Whatever they send, the others are
/// served.
namespace fieldpeg::board {
namespace {

using namespace std::chrono_literals;
using testing::BoardServer;
using testing::Browser;
using testing::ServerSettings;
using testing::TemporaryFolder;
using Scheme = Browser::Scheme;

class Page : public ::testing::Test {
protected:
    Page() { start({}, {}); }

    void start(const ServerSettings& settings, const VisitLimits& limits) {
        board_.reset();
        testing::write_file(day_, testing::club_day());
        board_ = std::make_unique<BoardServer>(day_, settings, limits);
    }

    Browser open(Scheme scheme = Scheme::http, const std::string& from = "127.0.0.1") const {
        return Browser(board_->port(), scheme, from);
    }

    std::string ticket(v1::Role::Kind role, const std::string& pilot = "") const {
        return wire::base32(board_->server().ticket(role, pilot).secret);
    }
    static std::string wish(const std::string& secret, const std::string& name) {
        return R"({"secret": ")" + secret + R"(", "name": ")" + name + "\"}";
    }
    /// The cookie of somebody who joins.
    std::string joined(v1::Role::Kind role, const std::string& name) const {
        const auto reply = open(Scheme::https).post("/enter", wish(ticket(role), name));
        EXPECT_TRUE(reply && reply->result_int() == 200) << (reply ? reply->body() : "no reply");
        const std::string set = (*reply)[http::field::set_cookie];
        return set.substr(0, set.find(';'));
    }

    /// That nobody else has noticed anything.
    void TearDown() override {
        auto browser = open();
        const auto page = browser.get("/");
        ASSERT_TRUE(page);
        EXPECT_EQ(page->result_int(), 200U);
        auto onlooker = open();
        ASSERT_TRUE(onlooker.listen(onlooker.origin()));
        const auto answer = onlooker.asked(testing::board());
        ASSERT_TRUE(answer && answer->has_board());
        EXPECT_EQ(answer->board().rows_size(), rows);
        board_->server().stop();
    }

    static constexpr int rows = 4;  ///< of club_day()

    TemporaryFolder folder_;
    std::string day_ = folder_.at("day.toml");
    std::unique_ptr<BoardServer> board_;
};

unsigned status(const std::optional<testing::PageResponse>& reply) {
    return reply ? reply->result_int() : 0;
}

TEST_F(Page, IsTheSameWithAndWithoutTlsOnOnePort) {
    const auto plain = open().get("/");
    const auto secure = open(Scheme::https).get("/");
    ASSERT_TRUE(plain && secure);
    EXPECT_EQ(plain->body(), secure->body());
    for (const auto* reply : {&*plain, &*secure}) {
        EXPECT_EQ((*reply)["X-Content-Type-Options"], "nosniff");
        EXPECT_EQ((*reply)["Referrer-Policy"], "no-referrer");
        EXPECT_TRUE(reply->find(http::field::set_cookie) == reply->end());
    }
}

// [RFC9110, 15.5]: which status says what.
TEST_F(Page, SaysWhatIsWrongWithARequest) {
    auto browser = open();
    EXPECT_EQ(status(browser.get("/nothing")), 404U);
    EXPECT_EQ(status(browser.post("/", "")), 405U);
    EXPECT_EQ(status(browser.get("/board?v=1")), 200U);
    EXPECT_EQ(status(browser.get("/board-aaaaaaaaaaaaaaaa.js")), 404U);
    auto foreign = browser.request(http::verb::get, "/");
    foreign.set(http::field::host, "evil.example.org");
    EXPECT_EQ(status(browser.ask(foreign)), 421U);
    EXPECT_EQ(status(open(Scheme::https).get("/enter")), 405U);
    EXPECT_EQ(status(open().post("/enter", "{}")), 403U) << "not without TLS";
}

// [RFC9110, 8.6 and 15.4.5]: a length is that of the body that a GET would bring, or is not said.
TEST_F(Page, IsKeptByWhoeverHasIt) {
    auto browser = open();
    const auto whole = browser.get("/");
    ASSERT_EQ(status(whole), 200U);
    const auto body = std::to_string(whole->body().size());
    EXPECT_EQ((*whole)[http::field::cache_control], "no-cache");
    auto again = browser.request(http::verb::get, "/");
    again.set(http::field::if_none_match, (*whole)[http::field::etag]);
    const auto kept = browser.ask(again);
    ASSERT_EQ(status(kept), 304U);
    EXPECT_TRUE(kept->find(http::field::content_length) == kept->end());
    EXPECT_EQ((*kept)["X-Content-Type-Options"], "nosniff");
    browser.send("HEAD / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\nGET /none HTTP/1.1\r\nHost: a\r\n\r\n");
    const auto heads = browser.read_raw("there is no such page\n");
    EXPECT_NE(heads.find("Content-Length: " + body + "\r\n"), std::string::npos) << heads;
    EXPECT_NE(heads.find("\r\n\r\nHTTP/1.1 404"), std::string::npos) << "a body behind HEAD";
    for (const auto* path : {"/none", "/enter"})
        EXPECT_EQ((*browser.get(path))[http::field::cache_control], "no-store") << path;
}

TEST_F(Page, EndsWithWhoeverSendsTooMuchOrNoHttp) {
    for (const auto& [sent, expected] :
         {std::pair(std::string("GET / HTTP/1.1\r\nHost: a\r\nX: ") + std::string(20'000, 'x') +
                        "\r\n\r\n",
                    431U),
          {"POST /enter HTTP/1.1\r\nHost: a\r\nContent-Length: 1000000\r\n\r\n", 413U},
          {"this is no request\r\n\r\n", 400U},
          {"GET / HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n", 400U},
          {std::string("GET /\0 HTTP/1.1\r\nHost: a\r\n\r\n", 28), 400U}}) {
        auto browser = open();
        browser.send(sent);
        EXPECT_EQ(status(browser.read()), expected) << sent.substr(0, 60);
        EXPECT_TRUE(browser.is_ended());
    }
}

TEST_F(Page, DoesNotWaitForWhoeverDawdles) {
    VisitLimits limits;
    limits.handshake = limits.idle = 200ms;
    start({}, limits);
    auto silent = open(), slow = open();
    slow.send("GET / HT");
    EXPECT_TRUE(slow.is_ended());
    EXPECT_TRUE(silent.is_ended());
}

TEST_F(Page, OfStrangersConnectionsFromOneAddressBeyondTheirShareTheFirstEnds) {
    testing::ServerSettings settings;
    settings.places.of_address = 5;
    start(settings, {});
    const auto cookie = joined(v1::Role::pilot, "Gil");
    auto known = open(Scheme::https, "127.0.0.9");
    ASSERT_TRUE(known.listen(known.origin(), cookie));
    std::vector<std::unique_ptr<Browser>> held;
    for (int i = 0; i < 6; ++i) {
        held.push_back(std::make_unique<Browser>(board_->port(), Scheme::http, "127.0.0.9"));
        ASSERT_TRUE(held.back()->listen(held.back()->origin()));
        ASSERT_TRUE(held.back()->hear());
    }
    EXPECT_FALSE(held[0]->asked(testing::board()));
    for (std::size_t i = 1; i < 6; ++i) EXPECT_TRUE(held[i]->asked(testing::board()));
    EXPECT_TRUE(known.asked(testing::board())) << "who has shown a key";
    EXPECT_EQ(status(open(Scheme::http, "127.0.0.10").get("/")), 200U);
}

TEST_F(Page, LetsSomebodyInWithATicketAndKnowsThemByTheirCookie) {
    const auto cookie = joined(v1::Role::pilot, "Gil");
    auto phone = open(Scheme::https);
    ASSERT_TRUE(phone.listen(phone.origin(), cookie));
    const auto welcome = phone.hear();
    ASSERT_TRUE(welcome && welcome->has_welcome());
    EXPECT_EQ(welcome->welcome().person().name(), "Gil");
    EXPECT_EQ(welcome->welcome().person().role(), v1::Role::pilot);
    v1::Query day;
    day.mutable_day();
    const auto answer = phone.asked(day);
    ASSERT_TRUE(answer);
    EXPECT_TRUE(answer->has_day());
}

v1::Command nods(const std::string& name, bool refuse = false) {
    auto command = testing::nod(name);
    command.mutable_nod()->set_refuse(refuse);
    return command;
}

/// The next welcome; changes passed over.
std::optional<v1::Welcome> welcomed(Browser& phone) {
    while (auto frame = phone.hear())
        if (frame->has_welcome()) return frame->welcome();
    return std::nullopt;
}

// The code on the club's monitor carries no secret.
TEST_F(Page, LetsSomebodyLookWhoHasNoTicketUntilTheMarshalNods) {
    auto marshal = open(Scheme::https), phone = open(Scheme::https);
    ASSERT_TRUE(marshal.listen(marshal.origin(), joined(v1::Role::marshal, "Max")));
    const auto reply = open(Scheme::https).post("/enter", wish("", "Zoe"));
    ASSERT_EQ(status(reply), 200U);
    const std::string set = (*reply)[http::field::set_cookie];
    ASSERT_TRUE(phone.listen(phone.origin(), set.substr(0, set.find(';'))));
    EXPECT_TRUE(welcomed(phone)->person().awaits_nod());
    v1::Query day, log;
    day.mutable_day();
    log.mutable_log();
    EXPECT_TRUE(phone.asked(testing::board())->has_board());
    EXPECT_TRUE(phone.asked(day)->has_day());
    EXPECT_EQ(phone.asked(log)->refusal().kind(), v1::Refusal::not_permitted);
    v1::Command put;
    put.mutable_put()->set_toml(
        testing::unclaimed(testing::PilotText{.name = "Zoe", .place = "pits"}));
    EXPECT_EQ(phone.told(put)->refusal().kind(), v1::Refusal::not_permitted);

    ASSERT_TRUE(marshal.told(nods("Zoe"))->has_done());
    EXPECT_TRUE(phone.asked(log)->has_log()) << "on the same line";
    v1::Command see;
    *see.mutable_see()->mutable_channel() = testing::channel("R3");
    v1::Command gone;
    gone.mutable_unsee()->set_sighting(phone.told(see)->done().id());
    EXPECT_TRUE(phone.told(gone)->has_done()) << "her own";
}

// Her phone has lost its cookies; the one in her pocket goes on.
TEST_F(Page, LetsSomebodyInAgainWhoIsHereOnceTheMarshalNods) {
    auto marshal = open(Scheme::https), old = open(Scheme::https), phone = open(Scheme::https);
    ASSERT_TRUE(marshal.listen(marshal.origin(), joined(v1::Role::marshal, "Max")));
    const auto own =
        open(Scheme::https).post("/enter", wish(ticket(v1::Role::pilot, "Ann"), "Ann"));
    ASSERT_EQ(status(own), 200U);
    const std::string old_set = (*own)[http::field::set_cookie];
    ASSERT_TRUE(old.listen(old.origin(), old_set.substr(0, old_set.find(';'))));
    const auto ann = welcomed(old)->person();
    ASSERT_TRUE(phone.listen(phone.origin(), joined(v1::Role::pilot, "Ann")));
    const auto waits = welcomed(phone)->person();
    EXPECT_TRUE(waits.awaits_nod());
    EXPECT_NE(waits.id(), ann.id());
    EXPECT_EQ(phone.told(testing::claim("", "R3"))->refusal().kind(), v1::Refusal::not_permitted);
    EXPECT_TRUE(old.told(testing::claim("", "R3"))->claim().claimed());

    v1::ClientFrame watch;
    watch.mutable_request()->set_watch(true);
    phone.say(watch);
    ASSERT_TRUE(marshal.told(nods("Ann"))->has_done());
    const auto is = welcomed(phone);
    ASSERT_TRUE(is) << "without being asked";
    EXPECT_FALSE(is->person().awaits_nod());
    EXPECT_EQ(is->person().id(), ann.id());
    EXPECT_TRUE(phone.told(testing::claim("", "R5"))->claim().claimed());
    EXPECT_TRUE(old.told(testing::claim("", "R7"))->claim().claimed());
}

TEST_F(Page, LetsAPhoneGoWhoseNodIsRefused) {
    auto marshal = open(Scheme::https), phone = open(Scheme::https);
    ASSERT_TRUE(marshal.listen(marshal.origin(), joined(v1::Role::marshal, "Max")));
    const auto cookie = joined(v1::Role::pilot, "Bob");
    ASSERT_TRUE(phone.listen(phone.origin(), cookie));
    EXPECT_TRUE(welcomed(phone)->person().awaits_nod());
    ASSERT_TRUE(marshal.told(nods("Bob", true))->has_done());
    EXPECT_FALSE(phone.asked(testing::board()));
    auto again = open(Scheme::https);
    ASSERT_TRUE(again.listen(again.origin(), cookie));
    EXPECT_FALSE(welcomed(again)->has_person());
}

TEST_F(Page, TakesNoBrokenTicketForNone) {
    for (const auto* secret : {"!!", "-", "a", "0"})
        EXPECT_EQ(status(open(Scheme::https, "127.0.0.30").post("/enter", wish(secret, "Zoe"))),
                  403U)
            << secret;
    EXPECT_TRUE(open().get("/"));
}

TEST_F(Page, TakesAClubsKnocksFromOneAddressAndNoFlood) {
    auto from = [&](const std::string& address) { return open(Scheme::https, address); };
    for (int i = 0; i < static_cast<int>(wire::Rates().knocks.at_once); ++i)
        EXPECT_EQ(status(from("127.0.0.40").post("/enter", wish("", "g" + std::to_string(i)))),
                  200U);
    EXPECT_EQ(status(from("127.0.0.40").post("/enter", wish("", "more"))), 429U);
    EXPECT_EQ(status(from("127.0.0.41").post("/enter", wish("", "more"))), 200U);
    EXPECT_EQ(status(from("127.0.0.40").post("/enter", wish(ticket(v1::Role::pilot), "Gil"))), 200U)
        << "a ticket is another matter";
}

TEST_F(Page, LetsNobodyInForAnotherPage) {
    const auto body = wish(ticket(v1::Role::marshal), "Mallory");
    for (const auto* origin : {"", "https://evil.example.org", "null"}) {
        auto browser = open(Scheme::https);
        auto r = browser.request(http::verb::post, "/enter");
        r.erase(http::field::origin);
        if (*origin != 0) r.set(http::field::origin, origin);
        r.body() = body;
        r.prepare_payload();
        EXPECT_EQ(status(browser.ask(r)), 403U) << origin;
    }
    const auto cookie = joined(v1::Role::marshal, "Max");
    EXPECT_FALSE(open(Scheme::https).listen("https://evil.example.org", cookie));
    EXPECT_FALSE(open(Scheme::https).listen("", cookie));
    EXPECT_FALSE(open().listen("http://evil.example.org"));
}

TEST_F(Page, DoesNotKnowACookieWithoutTls) {
    const auto cookie = joined(v1::Role::marshal, "Max");
    auto phone = open();
    ASSERT_TRUE(phone.listen(phone.origin(), cookie));
    const auto welcome = phone.hear();
    ASSERT_TRUE(welcome && welcome->has_welcome());
    EXPECT_FALSE(welcome->welcome().has_person());
}

// What slows a guesser down is in Gate's own tests.
TEST_F(Page, LetsInWhoHasAGoodTicketWhereverSomebodyGuesses) {
    const auto wrong = wish(std::string(26, 'a'), "Gil");
    auto from = [&](const std::string& address) { return open(Scheme::https, address); };
    for (int i = 0; i < wire::Gate::failures_max; ++i)
        EXPECT_EQ(status(from("127.0.0.7").post("/enter", wrong)), 403U);
    const auto right = wish(ticket(v1::Role::pilot), "Gil");
    EXPECT_EQ(status(from("127.0.0.7").post("/enter", right)), 200U);
}

TEST_F(Page, RefusesAWishToJoinThatIsNone) {
    for (const auto& body :
         {std::string("{"), std::string("[]"), std::string(R"({"secret": 5})"), std::string("{}"),
          std::string(R"({"secret": "a", "name": "\u0000"})"), std::string("\xff\xfe"),
          wish(ticket(v1::Role::pilot), std::string(41, 'x')),
          wish(ticket(v1::Role::pilot), "a\\nb"), wish(ticket(v1::Role::pilot, "Ann"), "Bob")}) {
        const auto reply = open(Scheme::https, "127.0.0.20").post("/enter", body);
        ASSERT_TRUE(reply);
        EXPECT_TRUE(reply->result_int() == 400 || reply->result_int() == 403 ||
                    reply->result_int() == 429)
            << body;
        v1::Refusal why;
        EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(reply->body(), &why).ok());
        EXPECT_FALSE(why.why().empty()) << body;
    }
}

TEST_F(Page, WithoutAKeyOnlyLooks) {
    auto onlooker = open();
    ASSERT_TRUE(onlooker.listen(onlooker.origin()));
    v1::Command claim;
    claim.mutable_claim()->set_transmitter("Ann");
    const auto reply = onlooker.told(claim);
    ASSERT_TRUE(reply);
    EXPECT_EQ(reply->refusal().kind(), v1::Refusal::not_permitted);
    v1::Query log, past = testing::board();
    log.mutable_log();
    past.mutable_moment()->set_version(1);
    for (const auto& query : {log, past}) {
        const auto answer = onlooker.asked(query);
        ASSERT_TRUE(answer);
        EXPECT_EQ(answer->refusal().kind(), v1::Refusal::not_permitted);
    }
    EXPECT_TRUE(onlooker.asked(testing::board())->has_board());
}

TEST_F(Page, TellsAnotherClientsChange) {
    auto onlooker = open();
    ASSERT_TRUE(onlooker.listen(onlooker.origin()));
    onlooker.say(std::string(R"({"request": {"id": 1, "watch": true}})"));
    ASSERT_TRUE(onlooker.response());
    const auto first = onlooker.hear();
    ASSERT_TRUE(first && first->has_change());
    auto phone = open(Scheme::https);
    ASSERT_TRUE(phone.listen(phone.origin(), joined(v1::Role::marshal, "Max")));
    v1::Command see;
    see.mutable_see()->mutable_channel()->set_name("R4");
    see.mutable_see()->mutable_channel()->set_mhz(5769);
    const auto seen = phone.told(see);
    ASSERT_TRUE(seen && seen->has_done());
    auto change = onlooker.hear();
    while (change && change->change().board().rows_size() == rows)
        change = onlooker.hear();  // joined
    ASSERT_TRUE(change);
    EXPECT_EQ(change->change().board().rows_size(), rows + 1);
    v1::Command gone;
    gone.mutable_unsee()->set_sighting(seen->done().id());
    EXPECT_TRUE(phone.told(gone)->has_done());
}

TEST_F(Page, EndsWithWhoeverSaysWhatIsNoMessage) {
    for (const auto& text :
         {std::string("{"), std::string("hello"), std::string(R"({"nothing": 1})"),
          std::string("{}"),
          std::string(R"({"request": {"command": {"claim": {"power_dbm": "x"}}}})"),
          std::string(5000, '[')}) {
        auto browser = open();
        ASSERT_TRUE(browser.listen(browser.origin()));
        browser.say(text);
        std::optional<v1::ServerFrame> last, next;
        while ((next = browser.hear())) last = std::move(next);
        ASSERT_TRUE(last && last->has_goodbye()) << text;
        EXPECT_FALSE(last->goodbye().why().empty());
    }
}

TEST_F(Page, TakesHeadersAndMessagesUpToTheirBounds) {
    const std::string head = "GET / HTTP/1.1\r\nHost: a\r\nX: ", end = "\r\n\r\n";
    const auto bound = VisitLimits{}.header_bytes;
    // The first line is not counted.
    for (const auto& [size, expected] : {std::pair(bound, 200U), {bound + 100, 431U}}) {
        auto browser = open();
        browser.send(head + std::string(size - head.size() - end.size(), 'x') + end);
        EXPECT_EQ(status(browser.read()), expected) << size;
    }
    auto phone = open();
    ASSERT_TRUE(phone.listen(phone.origin()));
    const std::string ping = R"({"ping": true})";
    phone.say(ping + std::string(VisitLimits{}.message_bytes - ping.size(), ' '));
    std::optional<v1::ServerFrame> m;
    while ((m = phone.hear()) && !m->has_pong()) continue;
    EXPECT_TRUE(m) << "the longest message was not answered";
}

TEST_F(Page, EndsWithWhoeverSaysTooMuchAtOnce) {
    auto browser = open();
    ASSERT_TRUE(browser.listen(browser.origin()));
    browser.say(std::string(VisitLimits{}.message_bytes + 1, ' '));
    while (browser.hear()) continue;
}

TEST_F(Page, RefusesAbsurdNumbersAsTheWireDoes) {
    auto phone = open(Scheme::https);
    ASSERT_TRUE(phone.listen(phone.origin(), joined(v1::Role::marshal, "Max")));
    for (const auto* power : {"\"NaN\"", "\"Infinity\"", "1e300", "-1e300"}) {
        phone.say(
            std::string(
                R"({"request": {"id": 3, "command": {"claim": {"transmitter": "Ann", "power_dbm": )") +
            power + "}}}}");
        const auto m = phone.response();
        ASSERT_TRUE(m) << power;
        EXPECT_TRUE(m->reply().has_refusal() || m->reply().claim().has_refusal()) << power;
    }
}

// A phone that is out of reach takes nothing: it is not waited for, and costs a bounded amount.
TEST_F(Page, DropsWhoeverTakesNothing) {
    ServerSettings settings;
    settings.send_buffer = 4096;
    VisitLimits limits;
    limits.write = 200ms;
    start(settings, limits);
    Browser deaf(board_->port(), Scheme::http, "127.0.0.1", 4096);
    ASSERT_TRUE(deaf.listen(deaf.origin()));
    deaf.say(std::string(R"({"request": {"id": 1, "watch": true}})"));
    auto phone = open(Scheme::https);
    ASSERT_TRUE(phone.listen(phone.origin(), joined(v1::Role::marshal, "Max")));
    while (board_->connections() > 2) continue;  // that of joining has ended
    for (int i = 0; board_->connections() == 2; ++i)
        ASSERT_TRUE(phone.told(testing::claim("Ann", i % 2 == 0 ? "R1" : "R2")));
    while (deaf.hear()) continue;  // its end
}

TEST_F(Page, StaysUpWhateverIsSent) {
    testing::for_all(60, [&](std::mt19937_64& rng) {
        std::string bytes(std::uniform_int_distribution<std::size_t>(1, 300)(rng), '\0');
        for (auto& c : bytes) c = static_cast<char>(rng());
        auto browser = open();
        browser.send(bytes);
        if (rng() % 2 == 0) browser.send("\r\n\r\n");
    });
    const std::string good =
        R"({"request": {"id": 3, "idempotency_key": "a", "command": {"put": {"toml": "[[pilot]]\nname = \"X\""}}}})";
    const auto cookie = joined(v1::Role::marshal, "Max");
    testing::for_all(60, [&](std::mt19937_64& rng) {
        auto text = good;
        for (int i = 0; i < 3; ++i) text[rng() % text.size()] = static_cast<char>(' ' + rng() % 95);
        auto phone = open(Scheme::https, "127.0.0.30");
        ASSERT_TRUE(phone.listen(phone.origin(), cookie));
        phone.say(text);
        phone.say(std::string(R"({"ping": true})"));
        std::optional<v1::ServerFrame> m;
        while ((m = phone.hear()) && !m->has_pong() && !m->has_goodbye()) continue;
    });
}

}  // namespace
}  // namespace fieldpeg::board
