#include "server/wire/ticket.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <cctype>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fieldpeg::wire {
namespace {

using testing::for_all;
using testing::whole;

std::string some_bytes(std::mt19937_64& rng, std::size_t count) {
    std::string bytes(count, '\0');
    for (auto& c : bytes) c = static_cast<char>(whole(rng, 0, 255));
    return bytes;
}

Ticket a_ticket() {
    return {"192.0.2.7", 7323, "0123456789abcdef0123456789abcdef", "a secret, no one"};
}

bool same(const Ticket& a, const Ticket& b) {
    return a.host == b.host && a.port == b.port && a.fingerprint == b.fingerprint &&
           a.secret == b.secret;
}

void expect_read_back(const Ticket& ticket) {
    const auto text = ticket_text(ticket);
    const auto back = read_ticket(text);
    ASSERT_TRUE(back) << text << ": " << back.error().why;
    EXPECT_TRUE(same(*back, ticket)) << text;
}

/// One character a module of the QR code, quiet zone and all: '#' dark, '.' light.
std::vector<std::string> modules_of(const std::string& drawn) {
    const std::vector<std::pair<std::string, std::string>> blocks = {
        {"\u2588", ".."}, {"\u2580", ".#"}, {"\u2584", "#."}, {" ", "##"}};
    std::vector<std::string> rows = {"", ""};
    for (std::size_t at = 0; at < drawn.size();) {
        if (drawn[at] == '\n') {
            ++at;
            if (at < drawn.size()) rows.resize(rows.size() + 2);
            continue;
        }
        std::size_t size = 0;
        for (const auto& [block, modules] : blocks) {
            if (drawn.compare(at, block.size(), block) != 0) continue;
            rows[rows.size() - 2] += modules[0];
            rows[rows.size() - 1] += modules[1];
            size = block.size();
        }
        if (size == 0) throw std::logic_error("what is drawn is no block");
        at += size;
    }
    return rows;
}

// [RFC4648, section 10], in lower case and without the padding.
TEST(Base32, GivesTheTestVectorsOfItsStandard) {
    const std::vector<std::pair<std::string, std::string>> vectors = {{"", ""},
                                                                      {"f", "my"},
                                                                      {"fo", "mzxq"},
                                                                      {"foo", "mzxw6"},
                                                                      {"foob", "mzxw6yq"},
                                                                      {"fooba", "mzxw6ytb"},
                                                                      {"foobar", "mzxw6ytboi"}};
    for (const auto& [bytes, text] : vectors) {
        EXPECT_EQ(base32(bytes), text);
        const auto back = from_base32(text);
        ASSERT_TRUE(back) << text;
        EXPECT_EQ(*back, bytes);
    }
    EXPECT_EQ(from_base32("MZXW6YTBOI").value(), "foobar");
}

TEST(Base32, ReadsBackWhateverItWrites) {
    for_all(300, [](std::mt19937_64& rng) {
        const auto bytes = some_bytes(rng, static_cast<std::size_t>(whole(rng, 0, 40)));
        EXPECT_EQ(from_base32(base32(bytes)).value(), bytes);
    });
}

TEST(Base32, RefusesOtherLetters) {
    for (const auto* text :
         {"mz1q", "mz0q", "mz8q", "mz9q", "mz q", "mz=q", "mz-q", "mzxq====", "mz\xc3\xa9q"})
        EXPECT_FALSE(from_base32(text)) << text;
}

// So that nothing is read in two ways: no length that bytes never give, no bits left over.
TEST(Base32, RefusesWhatItWouldNotWrite) {
    for (const auto* text : {"m", "mzx", "mzxw6y", "mzxw6ytbo", "mz", "mzxr"})
        EXPECT_FALSE(from_base32(text)) << text;
}

TEST(Ticket, IsReadBackAsItWasWritten) {
    expect_read_back(a_ticket());
    auto named = a_ticket();
    named.host = "laptop.field.example";
    expect_read_back(named);
    auto v6 = a_ticket();
    v6.host = "fd00::7";
    expect_read_back(v6);
    for_all(200, [](std::mt19937_64& rng) {
        expect_read_back({"198.51.100.2", static_cast<std::uint16_t>(whole(rng, 1, 65535)),
                          some_bytes(rng, 32), some_bytes(rng, 16)});
    });
}

TEST(Ticket, IsReadInEitherCaseAndWithSpacesAround) {
    const auto text = ticket_text(a_ticket());
    std::string shouted;
    for (const char c : text)
        shouted += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    for (const auto& written : {shouted, " " + text, text + " \r\n", "\t" + shouted + "\n"}) {
        const auto back = read_ticket(written);
        ASSERT_TRUE(back) << written << back.error().why;
        EXPECT_TRUE(same(*back, a_ticket())) << written;
    }
}

TEST(Ticket, CutShortAnywhereIsRefused) {
    const auto text = ticket_text(a_ticket());
    for (std::size_t size = 0; size < text.size(); ++size) {
        const auto back = read_ticket(text.substr(0, size));
        ASSERT_FALSE(back) << text.substr(0, size);
        EXPECT_FALSE(back.error().why.empty());
    }
}

TEST(Ticket, WithSomethingBehindItIsRefused) {
    const auto text = ticket_text(a_ticket());
    for (const auto* more : {"a", "aa", "aaa", "aaaaaaaa", "/", ".", " a"})
        EXPECT_FALSE(read_ticket(text + more)) << more;
}

TEST(Ticket, WithOneLetterWrongIsAnotherOrRefused) {
    const auto text = ticket_text(a_ticket());
    for (std::size_t at = text.find('/') + 1; at < text.size(); ++at) {
        for (const char c : std::string_view("abcdefghijklmnopqrstuvwxyz2345670189/:- ")) {
            auto wrong = text;
            if (wrong[at] == c) continue;
            wrong[at] = c;
            const auto back = read_ticket(wrong);
            EXPECT_FALSE(back && same(*back, a_ticket())) << wrong;
        }
    }
}

TEST(Ticket, ThatIsNoneIsRefused) {
    const auto good = ticket_text(a_ticket());
    const auto tail = good.substr(good.find('/'));
    for (const auto& text :
         {std::string("fieldpeg:"), std::string("hello"), "fieldpeg:192.0.2.7" + tail,
          "fieldpeg:192.0.2.7:" + tail, "fieldpeg::7323" + tail, "fieldpeg:192.0.2.7:0" + tail,
          "fieldpeg:192.0.2.7:65536" + tail, "fieldpeg:192.0.2.7:-1" + tail,
          "fieldpeg:192.0.2.7:7x" + tail, "fieldpeg:" + tail,
          "fieldpeg:" + std::string(500, 'a') + ":1" + tail})
        EXPECT_FALSE(read_ticket(text)) << text;
}

TEST(Ticket, OfFourHundredLettersIsReadAndOfOneMoreRefusedUnread) {
    auto ticket = a_ticket();
    ticket.host = "a";
    ticket.host = std::string(401 - ticket_text(ticket).size(), 'a');
    ASSERT_EQ(ticket_text(ticket).size(), 400U);
    EXPECT_TRUE(read_ticket(ticket_text(ticket)));
    ticket.host += 'a';
    const auto longer = read_ticket(ticket_text(ticket));
    ASSERT_FALSE(longer);
    EXPECT_EQ(longer.error().why, "is too long");
    EXPECT_FALSE(read_ticket(ticket_text(a_ticket()) + std::string(1 << 20, 'a')));
}

TEST(Ticket, IsWhateverBytesItIsMadeOfNeverMoreThanRefused) {
    for_all(500, [](std::mt19937_64& rng) {
        auto text = ticket_text(a_ticket());
        for (int i = whole(rng, 1, 5); i > 0; --i)
            text[static_cast<std::size_t>(whole(rng, 0, static_cast<int>(text.size()) - 1))] =
                static_cast<char>(whole(rng, 0, 255));
        const auto back = read_ticket(text);
        if (!back) return;
        EXPECT_EQ(back->fingerprint.size(), 32U);
        EXPECT_EQ(back->secret.size(), 16U);
        EXPECT_NE(back->port, 0);
    });
}

TEST(QrCode, OfATicketIsSquareWithAQuietZone) {
    const auto rows = modules_of(qr_text(ticket_text(a_ticket())));
    const auto width = rows[0].size();
    ASSERT_GT(width, 8U + 21U);
    EXPECT_EQ((width - 8 - 17) % 4, 0U) << "no width of a QR code";
    EXPECT_EQ(rows.size(), width + width % 2);
    for (const auto& row : rows) {
        ASSERT_EQ(row.size(), width);
        EXPECT_EQ(row.substr(0, 4), "....");
        EXPECT_EQ(row.substr(width - 4), "....");
    }
    for (std::size_t i = 0; i < 4; ++i) {
        EXPECT_EQ(rows[i], std::string(width, '.'));
        EXPECT_EQ(rows[width - 1 - i], std::string(width, '.'));
    }
}

// [ISO.18004, finder pattern]: three corners have a square in a square, by which a scanner finds
// the code.
TEST(QrCode, HasItsFinderPatternsInThreeCorners) {
    const auto rows = modules_of(qr_text(ticket_text(a_ticket())));
    const auto far = rows[0].size() - 4 - 7;
    const std::vector<std::string> finder = {"#######", "#.....#", "#.###.#", "#.###.#",
                                             "#.###.#", "#.....#", "#######"};
    for (const auto& [row, column] :
         {std::pair<std::size_t, std::size_t>(4, 4), {4, far}, {far, 4}})
        for (std::size_t i = 0; i < finder.size(); ++i)
            EXPECT_EQ(rows[row + i].substr(column, 7), finder[i]);
}

TEST(QrCode, OfMoreThanOneHoldsIsEmpty) {
    EXPECT_EQ(qr_text(std::string(5000, 'a')), "");
}

}  // namespace
}  // namespace fieldpeg::wire
