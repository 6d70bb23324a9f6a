#include "tests/support/false_server.h"
#include "client/link/memberships.h"
#include "client/verbs/program.h"
#include "server/wire/ticket.h"
#include "tests/support/pegs.h"
#include "tests/verbs/lies.h"
#include "tests/verbs/ran.h"

#include <gtest/gtest.h>
#include <spdlog/spdlog.h>

#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <functional>
#include <iostream>
#include <limits>
#include <set>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

/// Every verb at a server that lies: what it sends is printed as a text or not at all, and the verb
/// ends.
namespace fieldpeg::verbs {
namespace {

using testing::FalseServer;
using testing::Lies;
using testing::Outcome;
using testing::ran;

constexpr int no_answer = 4;

/// What steers a terminal, hides or turns letters round, or is no text: ECMA-48 (C0, C1),
/// Unicode's chart of General Punctuation (U+2028, U+2029, U+202E, U+2066, U+200B), its block Tags
/// (U+E0001, U+E0041), its variation selectors (U+FE0F) and U+FEFF.
const std::vector<std::string> evil_texts = {"\x1b[2J\x1b]0;title\x07",
                                             "a\nfieldpeg: b",
                                             "\r\t\b\x7f",
                                             "\u009b2J\u0085",
                                             "\u202eevil\u2066",
                                             "a\u2028b\u2029",
                                             "A\u200bnn\ufeff",
                                             "\U000e0001\U000e0041",
                                             "heart\ufe0f",
                                             "",
                                             "Ann",
                                             "R3",
                                             std::string("nul\0nul", 7),
                                             std::string(300, 'w')};

/// The first thing in a text that no terminal should get; empty if there is none.
std::string unfit(std::string_view text) {
    static const std::vector<std::string> wide = {"\u200b", "\u202e",     "\u2066",
                                                  "\u2028", "\u2029",     "\ufeff",
                                                  "\ufe0f", "\U000e0001", "\U000e0041"};
    for (std::size_t i = 0; i < text.size(); ++i) {
        const auto byte = static_cast<unsigned char>(text[i]);
        const auto next = i + 1 < text.size() ? static_cast<unsigned char>(text[i + 1]) : 0;
        if (byte == '\r' && next == '\n') continue;  // RFC 4180: so end the lines of a CSV
        if ((byte < 0x20 && byte != '\n') || byte == 0x7f || byte >= 0xf8 ||
            (byte == 0xc2 && next >= 0x80 && next < 0xa0))
            return "byte " + std::to_string(byte) + " at " + std::to_string(i);
    }
    for (const auto& one : wide)
        if (text.find(one) != std::string_view::npos) return "character " + one;
    return "";
}

/// How many times each verb hears other lies: more where FIELDPEG_LIES says so.
bool is_long() {
    return std::getenv("FIELDPEG_LIES") != nullptr;
}
std::uint64_t seeds() {
    return is_long() ? std::stoull(std::getenv("FIELDPEG_LIES")) : 2;
}

std::string line_of(const std::vector<std::string>& arguments) {
    std::string line;
    for (const auto& one : arguments) line += one + " ";
    return line;
}

class AtAFalseServer : public ::testing::Test {
protected:
    void SetUp() override {
        ::setenv("XDG_CONFIG_HOME", folder_.at("config").c_str(), 1);
        std::string sweep = "frequency_mhz,level_dbm\n";
        for (int mhz = 5650; mhz < 5670; ++mhz) sweep += std::to_string(mhz) + ",-90\n";
        testing::write_file(folder_.at("sweep.csv"), sweep);
        testing::write_file(folder_.at("day.toml"), testing::club_day());
        std::string input;
        for (int i = 0; i < 9; ++i) input += "25mW\n";
        testing::write_file(folder_.at("input"), input);
        testing::write_file(folder_.at("parts.toml"),
                            "[[field.place]]\nname = \"x\"\nat_m = [0, 0]\n");
    }

    /// Runs verbs at a server that answers so: all of them, or each third, another third a test.
    enum class Which { all, a_third };
    void each(Which which, const FalseServer::Says& says,
              const std::function<void(const std::vector<std::string>&, const Outcome&)>& look,
              v1::Welcome welcome = FalseServer::usual_welcome()) {
        FalseServer server(says, std::move(welcome));
        ASSERT_TRUE(link::keep_membership(server.membership()));
        const auto all = lines();
        static std::size_t test = 0;
        const std::size_t step = which == Which::all || is_long() ? 1 : 3;
        for (auto i = ++test % step; i < all.size(); i += step) {
            const auto& line = all[i];
            SCOPED_TRACE(line_of(line));
            std::filesystem::remove(folder_.at("new.ticket"));
            const auto outcome = ran(line, folder_.at("input"));
            EXPECT_EQ(unfit(outcome.out), "") << outcome.out;
            EXPECT_EQ(unfit(outcome.err), "") << outcome.err;
            EXPECT_GE(outcome.status, 0);
            EXPECT_LE(outcome.status, no_answer);
            look(line, outcome);
        }
    }

    std::vector<std::vector<std::string>> lines() const {
        const auto out = [&](const char* name) { return folder_.at(name); };
        return {{"allow", "Ann", "R3", "--because", "x"},
                {"board"},
                {"board", "--json"},
                {"board", "--at", "14:32"},
                {"check"},
                {"check", "--json"},
                {"claim", "best"},
                {"claim", "R3", "--power", "25mW"},
                {"day", "end"},
                {"day", "take", out("day.toml"), "--yes"},
                {"explain", "Ann"},
                {"field", "show"},
                {"field", "place", "x", "0", "0", "1.7"},
                {"field", "put", out("parts.toml")},
                {"field", "area", "x", "0", "0", "50", "5", "60"},
                {"field", "emitter", "x", "--wifi", "6", "--place", "y"},
                {"field", "close", "--because", "lunch"},
                {"field", "open"},
                {"find", "Ann"},
                {"find", "Ann", "--walk"},
                {"gear", "measure", "Ann", "power"},
                {"group"},
                {"group", "call", "1", "--down"},
                {"hand-over", "Ben"},
                {"line"},
                {"line", "leave"},
                {"line", "move", "Ann", "1"},
                {"log"},
                {"log", "--json"},
                {"log", "--form", "csv"},
                {"log", "--form", "jsonl"},
                {"log", "--flights"},
                {"log", "--flights", "--totals"},
                {"log", "--near", "R3", "--at", "14:32"},
                {"off"},
                {"on"},
                {"on", "--already", "--json"},
                {"pegs", "--out", out("pegs.html"), "--force"},
                {"pegs", "--form", "csv"},
                {"picture", "spectrum", "Ann"},
                {"picture", "spectrum", "Ann", "--text"},
                {"picture", "field"},
                {"picture", "reach", "Ann"},
                {"picture", "timeline"},
                {"pilot", "list"},
                {"pilot", "add", "Gil"},
                {"pilot", "change", "Gil", "--power", "25mW"},
                {"pilot", "nod", "Gil"},
                {"pilot", "remove", "Gil"},
                {"pilot", "withdraw", "Gil"},
                {"plan"},
                {"plan", "--json"},
                {"reach", "Ann"},
                {"ready"},
                {"relay", "check", "mast"},
                {"relay", "add", "mast", "--owner", "Ann", "--place", "x"},
                {"relay", "on", "mast"},
                {"relay", "off", "mast"},
                {"release"},
                {"report"},
                {"rota"},
                {"rota", "--json"},
                {"rules", "none"},
                {"seen", "R4"},
                {"seen", "--gone", "3"},
                {"sweep", out("sweep.csv")},
                {"ticket", "pilot", "--file", out("new.ticket")},
                {"told", "7"},
                {"told", "all"},
                {"watch", "--changes", "1"},
                {"watch", "--changes", "1", "--json"},
                {"watch", "--changes", "1", "--call"}};
    }

    testing::TemporaryFolder folder_;
};

/// What a false server says to a request, watching included.
FalseServer::Says by(const std::function<v1::ServerFrame(const v1::Request&)>& frame) {
    return [frame](const v1::Request& request) { return FalseServer::bytes_of(frame(request)); };
}

v1::ServerFrame lie(Lies& lies, const v1::Request& request) {
    v1::ServerFrame m;
    if (request.has_watch())
        lies.fill(*m.mutable_change());
    else
        *m.mutable_response() = lies.about(request);
    return m;
}

const auto nothing_more = [](const std::vector<std::string>&, const Outcome&) {};

// Whoever adds a verb adds it here.
TEST_F(AtAFalseServer, StandsEveryVerb) {
    std::set<std::string> tried = {"new",  "channels", "gear",
                                   "kits", "help",     "archive",  // no server
                                   "join"};                        // on its own below
    for (const auto& line : lines()) tried.insert(line.front());
    std::istringstream help(ran({"--help"}).out);
    std::string line;
    int verbs = -1;
    while (std::getline(help, line)) {
        if (line.starts_with("Subcommands:")) verbs = 0;
        if (verbs < 0 || !line.starts_with("  ") || line[2] == ' ') continue;
        const auto verb = line.substr(2, line.find(' ', 2) - 2);
        ++verbs;
        EXPECT_TRUE(tried.contains(verb)) << verb;
    }
    EXPECT_GE(verbs, 35);
}

TEST_F(AtAFalseServer, WhatItSaysIsPrintedAsTextWhateverItIs) {
    for (std::uint64_t seed = 1; seed <= seeds(); ++seed) {
        SCOPED_TRACE("seed " + std::to_string(seed));
        Lies lies(seed);
        lies.texts = evil_texts;
        each(Which::all, by([&](const v1::Request& request) { return lie(lies, request); }),
             nothing_more);
    }
}

TEST_F(AtAFalseServer, ARefusalIsPrintedAsText) {
    Lies lies(1);
    lies.texts = evil_texts;
    each(Which::a_third, by([&](const v1::Request& request) {
             v1::ServerFrame m;
             auto& response = *m.mutable_response();
             response.set_id(request.id());
             auto& why = request.has_command() ? *response.mutable_reply()->mutable_refusal()
                                               : *response.mutable_answer()->mutable_refusal();
             why.set_kind(v1::Refusal::conflict);
             lies.fill(why);
             // `response` and `goodbye` are one of two: setting one takes the other away.
             const v1::Refusal again = why;
             if (request.has_watch()) *m.mutable_goodbye() = again;
             return m;
         }),
         nothing_more);
}

/// The exit status of all that wait for an answer.
void expect_not_understood(const std::vector<std::string>& line, const Outcome& outcome) {
    EXPECT_EQ(outcome.status, no_answer) << line_of(line) << outcome.out << outcome.err;
    EXPECT_NE(outcome.err.find("understood"), std::string::npos) << outcome.err;
}

TEST_F(AtAFalseServer, AnEmptyAnswerIsNotUnderstood) {
    each(Which::a_third, by([](const v1::Request& request) {
             v1::ServerFrame m;
             if (request.has_watch())
                 m.mutable_change();
             else
                 *m.mutable_response() = Lies::empty(request);
             return m;
         }),
         expect_not_understood);
}

TEST_F(AtAFalseServer, AnAnswerToSomethingElseIsNotUnderstood) {
    each(Which::a_third, by([](const v1::Request& request) {
             v1::ServerFrame m;
             m.mutable_response()->set_id(request.id());
             if (request.has_command())
                 m.mutable_response()->mutable_reply()->set_version(3);
             else if (request.query().has_find())
                 m.mutable_response()->mutable_answer()->mutable_ready();
             else
                 m.mutable_response()->mutable_answer()->mutable_find();
             return m;
         }),
         expect_not_understood);
}

TEST_F(AtAFalseServer, AnAnswerOfAnotherNumberIsNotUnderstood) {
    each(Which::a_third, by([](const v1::Request& request) {
             Lies lies(1);
             auto m = lie(lies, request);
             m.mutable_response()->set_id(request.id() + 1);
             return m;
         }),
         expect_not_understood);
}

/// Counts those whose answer, drawn by lot, had what is not understood in it: most have.
class Counted {
public:
    ~Counted() { EXPECT_GE(2 * not_understood_, all_) << "of " << all_; }
    void operator()(const std::vector<std::string>&, const Outcome& outcome) {
        ++all_;
        if (outcome.status == no_answer) ++not_understood_;
    }

private:
    int all_ = 0, not_understood_ = 0;
};

TEST_F(AtAFalseServer, NumbersThatNoFieldHasAreNotUnderstood) {
    Lies lies(3);
    lies.numbers = {std::numeric_limits<double>::quiet_NaN(), 1e308,
                    -std::numeric_limits<double>::infinity()};
    lies.times_ms = {INT64_MAX, INT64_MIN};
    Counted counted;
    each(Which::a_third, by([&](const v1::Request& request) { return lie(lies, request); }),
         std::ref(counted));
}

TEST_F(AtAFalseServer, WhatIsNoUtf8IsNotUnderstood) {
    Lies lies(2);
    lies.texts = {"QQQQ"};
    Counted counted;
    each(
        Which::a_third,
        [&](const v1::Request& request) -> std::optional<std::string> {
            auto bytes = FalseServer::bytes_of(lie(lies, request));
            for (auto at = bytes.find("QQQQ"); at != std::string::npos; at = bytes.find("QQQQ"))
                bytes.replace(at, 4, "\xff\xc0\xaf\x9b");
            return bytes;
        },
        std::ref(counted));
}

TEST_F(AtAFalseServer, WhatIsNoFrameIsNotUnderstood) {
    const std::vector<std::string> all = {std::string("\0\0\0\4\xff\xff\xff\xff", 8),
                                          std::string(8, '\xff'), "HTTP/1.1 200 OK\r\n\r\n",
                                          std::string(4, '\0')};
    std::size_t next = 0;
    each(
        Which::a_third, [&](const v1::Request&) { return all[next++ % all.size()]; },
        expect_not_understood);
}

TEST_F(AtAFalseServer, AWelcomeOfAnotherIsPrintedAsText) {
    auto welcome = FalseServer::usual_welcome();
    welcome.set_day("\x1b[2J\u202e");
    welcome.mutable_person()->set_name("\x1b[31mAnn\u200b");
    welcome.set_now_ms(INT64_MIN);
    Lies lies(1);
    each(Which::a_third, by([&](const v1::Request& request) { return lie(lies, request); }),
         nothing_more, welcome);
}

TEST_F(AtAFalseServer, WhoJoinsIsGreetedWithText) {
    auto welcome = FalseServer::usual_welcome();
    welcome.set_day("\x1b[2J\u202e\u2028");
    welcome.mutable_person()->set_name("\x1b[31mAnn\u200b");
    welcome.mutable_person()->set_awaits_nod(true);
    FalseServer server([](const v1::Request&) { return std::nullopt; }, welcome);
    const auto member = server.membership();
    wire::Ticket ticket;
    ticket.host = member.host();
    ticket.port = static_cast<std::uint16_t>(member.port());
    ticket.fingerprint = member.fingerprint();
    ticket.secret = std::string(16, 's');
    testing::write_file(folder_.at("a.ticket"), wire::ticket_text(ticket) + "\n");
    for (const auto& line :
         {std::vector<std::string>{"join", "Ann", "--ticket", folder_.at("a.ticket")},
          std::vector<std::string>{"join", "--list"}}) {
        const auto outcome = ran(line);
        EXPECT_EQ(outcome.status, 0) << outcome.err;
        EXPECT_EQ(unfit(outcome.out), "") << outcome.out;
        EXPECT_NE(outcome.out.find("\\x1b[31mAnn"), std::string::npos) << outcome.out;
    }
}

}  // namespace
}  // namespace fieldpeg::verbs
