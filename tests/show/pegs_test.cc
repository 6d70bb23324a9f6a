#include "client/show/pegs.h"

#include "client/show/page.h"
#include "tests/support/days.h"

#define CSV_IO_NO_THREAD
#include <gtest/gtest.h>
#include <libfccp/csv.h>
#include <pugixml.hpp>

#include <fmt/format.h>

#include <sstream>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

/// Ann in group 1, Ben in group 2, Dee without a channel but with a mast in group 2, Edda when she
/// can, Finn brings nothing that sends.
v1::DaySheet a_day() {
    auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R5"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R3"}) +
        text_of(PilotText{.name = "Dee", .place = "line-3", .channel = "R1"}) +
        text_of(PilotText{.name = "Edda", .place = "line-4", .channel = "1280"}) +
        "[[pilot]]\nname = \"Finn\"\nplace = \"chair\"\n[[pilot.receiver]]\n"
        "receiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n" +
        text_of(RelayText{.name = "mast", .owner = "Dee", .channel = "R7"}));
    sheet.mutable_pilots(0)->mutable_claim()->set_group(1);
    sheet.mutable_pilots(1)->mutable_claim()->set_group(2);
    sheet.mutable_pilots(2)->clear_claim();
    sheet.mutable_relays(0)->mutable_claim()->set_group(2);
    return sheet;
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

/// XML takes no doctype of HTML.
pugi::xml_document parsed(const v1::DaySheet& sheet) {
    auto html = pegs_html(sheet);
    html = html.substr(html.find("<body>"));
    html = html.substr(0, html.find("</html>"));
    pugi::xml_document document;
    EXPECT_TRUE(document.load_string(html.c_str()));
    return document;
}

std::string text_in(const pugi::xml_node& node) {
    std::string all;
    for (const auto& child : node.children())
        all +=
            child.type() == pugi::node_pcdata ? child.value() + std::string(" ") : text_in(child);
    return all;
}

std::vector<std::string> texts(const pugi::xml_document& document, const char* path) {
    std::vector<std::string> all;
    for (const auto& found : document.select_nodes(path)) all.push_back(text_in(found.node()));
    return all;
}

TEST(PegsText, IsALineForEverybodyAndEveryRelay) {
    const auto lines = lines_of(pegs_text(a_day()));
    ASSERT_EQ(lines.size(), 6U);
    EXPECT_EQ(lines[0], "Ann: group 1, R5 = 5806 MHz, 25 mW");
    EXPECT_EQ(lines[2], "Dee: no channel yet");
    EXPECT_EQ(lines[3], "mast (relay of Dee): group 2, R7 = 5880 MHz, 25 mW");
    EXPECT_EQ(lines[4], "Edda: 1280 MHz, 25 mW");
    EXPECT_EQ(lines[5], "Finn: sends nothing");
}

TEST(PegsText, SaysWhatIsAlwaysOnAndWhatMovesByItself) {
    auto sheet = a_day();
    sheet.mutable_pilots(0)->mutable_claim()->set_always(true);
    sheet.mutable_pilots(1)->mutable_video()->set_moves_by_itself(true);
    const auto lines = lines_of(pegs_text(sheet));
    EXPECT_EQ(lines[0], "Ann: always on, R5 = 5806 MHz, 25 mW");
    EXPECT_EQ(lines[1], "Ben: group 2, R3 = 5732 MHz, 25 mW, moves by itself");
}

TEST(PegsCsv, IsReadBack) {
    auto sheet = a_day();
    sheet.mutable_pilots(0)->set_name("Ann \"Ace\", of the club");
    sheet.mutable_pilots(3)->mutable_claim()->set_always(true);
    const auto text = pegs_csv(sheet);
    io::CSVReader<6, io::trim_chars<>, io::double_quote_escape<',', '"'>> csv(
        "pegs.csv", text.data(), text.data() + text.size());
    csv.read_header(io::ignore_no_column, "pilot", "relay", "group", "channel", "frequency_mhz",
                    "power_mw");
    std::vector<std::vector<std::string>> rows;
    std::vector<std::string> row(6);
    while (csv.read_row(row[0], row[1], row[2], row[3], row[4], row[5])) rows.push_back(row);
    using Row = std::vector<std::string>;
    ASSERT_EQ(rows.size(), 6U);
    EXPECT_EQ(rows[0], (Row{"Ann \"Ace\", of the club", "", "1", "R5", "5806", "25"}));
    EXPECT_EQ(rows[2], (Row{"Dee", "", "", "", "", ""}));
    EXPECT_EQ(rows[3], (Row{"Dee", "mast", "2", "R7", "5880", "25"}));
    EXPECT_EQ(rows[4], (Row{"Edda", "", "always", "1280", "1280", "25"}));
}

TEST(Pegs, AreCutOutOfAPageForWhoeverHoldsAChannel) {
    const auto document = parsed(a_day());
    const auto pegs = texts(document, "//div[@class='peg']");
    ASSERT_EQ(pegs.size(), 4U);
    EXPECT_EQ(pegs[0], "R5 5806 MHz Ann group 1, 25 mW ");
    EXPECT_EQ(pegs[2], "R7 5880 MHz mast relay of Dee, group 2, 25 mW ");
    EXPECT_EQ(pegs[3], "1280 MHz Edda 25 mW ");
    EXPECT_EQ(texts(document, "//pre").at(0), pegs_text(a_day()) + " ");
}

TEST(Pegs, StandInTheRosterByGroupAndRelaysUnderTheirOwner) {
    auto sheet = a_day();
    auto document = parsed(sheet);
    EXPECT_EQ(texts(document, "//caption"),
              (std::vector<std::string>{"Group 1 ", "Group 2 ", "Any group: when they can ",
                                        "No channel "}));
    EXPECT_EQ(texts(document, "//table[2]//tr"),
              (std::vector<std::string>{"Ben R3 5732 MHz 25 mW ",
                                        "mast, relay of Dee R7 5880 MHz 25 mW "}));
    EXPECT_EQ(texts(document, "//table[4]//tr"),
              (std::vector<std::string>{"Dee no channel yet ", "Finn sends nothing "}));
    *sheet.mutable_pilots(2)->mutable_claim() = sheet.relays(0).claim();
    document = parsed(sheet);
    EXPECT_EQ(texts(document, "//table[2]//tr[3]"),
              (std::vector<std::string>{"mast, relay R7 5880 MHz 25 mW "}));
    EXPECT_EQ(texts(document, "//th[@class='relay']").size(), 1U);
}

TEST(Pegs, OfADayWithoutGroupsAreOfEverybody) {
    auto sheet = a_day();
    for (auto& p : *sheet.mutable_pilots())
        if (p.has_claim()) p.mutable_claim()->clear_group();
    sheet.mutable_relays(0)->mutable_claim()->clear_group();
    EXPECT_EQ(texts(parsed(sheet), "//caption"),
              (std::vector<std::string>{"Everybody ", "No channel "}));
}

TEST(Pegs, NeedNothingOutsideThePageAndTakeNamesAsText) {
    auto sheet = a_day();
    sheet.mutable_pilots(0)->set_name("</pre><script>hit()</script>");
    const auto html = pegs_html(sheet);
    for (const auto* outside : {"<script", "<link", "<img", "src=", "url(", "@import", "href"})
        EXPECT_EQ(html.find(outside), std::string::npos) << outside;
    EXPECT_NE(html.find("&lt;script&gt;hit()"), std::string::npos);
}

TEST(PageMark, SaysWhatAFileIs) {
    auto sheet = a_day();
    sheet.set_name("Harvest \"fly-in\"");
    sheet.set_date("2026-09-19");
    const auto mark = page_mark(pegs_html(sheet).substr(0, page_mark_bytes));
    EXPECT_NE(mark.find("pegs of Harvest "), std::string::npos) << mark;
    EXPECT_NE(mark.find(", 2026-09-19"), std::string::npos) << mark;
    auto later = sheet;
    later.set_date("2026-09-20");
    EXPECT_NE(page_mark(pegs_html(later)), mark);
    for (const auto* other :
         {"", "SQLite format 3", "[day]\nname = \"x\"\n", "<!DOCTYPE html>\n<html><head></head>",
          "# <meta name=\"generator\" content=\"fieldpeg: pegs of x\" />"})
        EXPECT_EQ(page_mark(other), "") << other;
    EXPECT_EQ(page_mark(pegs_csv(sheet)), "");
}

}  // namespace
}  // namespace fieldpeg::show
