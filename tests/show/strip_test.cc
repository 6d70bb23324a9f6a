#include "client/show/strip.h"
#include "client/show/day.h"

#include "server/day/board.h"
#include "server/day/check.h"
#include "server/day/spectrum_picture.h"
#include "server/day/state.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <sstream>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;

v1::BoardReply board_of(const std::string& text) {
    v1::DayState state;
    std::uint32_t last_id = 0;
    *state.mutable_sheet() = day::with_ids(sheet_of(text), last_id);
    return day::board(state);
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

/// The column of a text's middle on its line.
std::size_t middle(const std::string& line, const std::string& text) {
    const auto at = line.find(text);
    return columns(line.substr(0, at)) + columns(text) / 2;
}

std::string row_of_six() {
    std::string text = field_text();
    int place = 0;
    for (const auto* name : {"Ann", "Ben", "Cem", "Dee", "Edda", "Finn"}) {
        ++place;
        text += text_of(PilotText{.name = name,
                                  .place = "line-" + std::to_string(1 + place % 4),
                                  .channel = "R" + std::to_string(place)});
    }
    return text;
}

// R1 to R6 lie 37 MHz apart [hobby rows: common practice, no published source]: so do the marks.
TEST(Strip, KeepsToScale) {
    const auto text = board_strip(board_of(row_of_six()), {.width = 100});
    const auto lines = lines_of(text);
    const auto marks = std::ranges::find_if(
        lines, [](const auto& l) { return l.find("\u25B2") != std::string::npos; });
    ASSERT_NE(marks, lines.end());
    std::vector<std::size_t> at;
    for (auto i = marks->find("\u25B2"); i != std::string::npos; i = marks->find("\u25B2", i + 1))
        at.push_back(columns(marks->substr(0, i)));
    ASSERT_EQ(at.size(), 6U);
    for (std::size_t i = 2; i < at.size(); ++i)
        EXPECT_NEAR(static_cast<double>(at[i] - at[i - 1]), static_cast<double>(at[1] - at[0]), 1);
}

TEST(Strip, NamesEverybodyAndFitsAnyTerminal) {
    const auto board = board_of(row_of_six());
    for (const std::size_t width : {40U, 60U, 80U, 132U}) {
        const auto text = board_strip(board, {.width = width});
        for (const auto* name : {"Ann", "Ben", "Cem", "Dee", "Edda", "Finn"})
            EXPECT_NE(text.find(name), std::string::npos) << name << " at " << width;
        auto lines = lines_of(text);
        lines.pop_back();  // the key is one line
        for (const auto& line : lines) EXPECT_LE(columns(line), width) << line;
    }
}

TEST(Strip, HasAStripForEachBandAndASignForEachStage) {
    const auto board = board_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R1"}) +
        text_of(PilotText{
            .name = "Ben", .place = "line-2", .channel = "R4", .stage = "on_bench = true"}) +
        text_of(PilotText{.name = "Cem", .place = "line-3", .channel = "R7", .stage = ""}) +
        text_of(PilotText{.name = "Dee", .place = "line-4", .channel = "1280", .area = "valley"}));
    const auto text = board_strip(board, {.width = 80});
    for (const auto* sign : {"\u25B2", "\u25C7", "\u25B3"})
        EXPECT_NE(text.find(sign), std::string::npos) << sign;
    const auto lines = lines_of(text);
    EXPECT_EQ(std::ranges::count_if(
                  lines, [](const auto& l) { return l.find("+-") != std::string::npos; }),
              2);
}

// 2 x 5732 - 5658 = 5806 MHz [arithmetic]: under the R5 that it falls on.
TEST(Strip, ShowsProductsWhereTheyFall) {
    const auto strong = [](const char* name, const char* place, const char* on) {
        return text_of(PilotText{.name = name,
                                 .place = place,
                                 .channel = on,
                                 .power_mw = "1000",
                                 .stage = "on_bench = true"});
    };
    const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R5"}) +
                                strong("Ben", "line-2", "R1") + strong("Cem", "line-3", "R3"));
    const auto text = check_strip(day::check(sheet, v1::Basis::held, 50), {.width = 100});
    const auto lines = lines_of(text);
    const auto names = std::ranges::find_if(
        lines, [](const auto& l) { return l.find("Ann") != std::string::npos; });
    const auto ticks = std::ranges::find_if(lines, [](const auto& l) {
        return l.find('\'') != std::string::npos && l.find("MHz") == std::string::npos;
    });
    ASSERT_NE(names, lines.end());
    ASSERT_NE(ticks, lines.end()) << text;
    const auto ann = middle(*names, "Ann");
    bool is_under = false;
    for (auto i = ticks->find('\''); i != std::string::npos; i = ticks->find('\'', i + 1))
        is_under = is_under || (i >= ann - 2 && i <= ann + 2);
    EXPECT_TRUE(is_under) << text;
}

// The same reply that is drawn as SVG.
TEST(Strip, ShowsWhatOneReceiverHears) {
    const auto strong = [](const char* name, const char* place, const char* on) {
        return text_of(PilotText{.name = name,
                                 .place = place,
                                 .channel = on,
                                 .power_mw = "1000",
                                 .stage = "on_bench = true"});
    };
    const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R5"}) +
                                strong("Ben", "line-2", "R1") + strong("Cem", "line-3", "R3"));
    v1::SpectrumPictureQuery query;
    query.set_pilot("Ann");
    query.set_basis(v1::Basis::held);
    const auto reply = day::spectrum_picture(sheet, query);
    ASSERT_TRUE(reply);
    const auto text = spectrum_strip(*reply, {.width = 80});
    const auto count = [&](const std::string& what) {
        int times = 0;
        for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + 1))
            ++times;
        return times;
    };
    for (const auto* name : {"Ann -", "Ben -", "Cem -"}) EXPECT_EQ(count(name), 1) << text;
    EXPECT_EQ(count("\u25B2"), 2) << "one, and in the key:\n" << text;
    EXPECT_NE(text.find("' a product that counts there"), std::string::npos) << text;
    EXPECT_EQ(spectrum_strip({}, {}), "");
}

// Whoever flies stands on the dial before one who only holds the same channel, in whatever order
// they are on the day: what radiates is what others must see.
TEST(Strip, ShowsWhoFliesBeforeWhoHolds) {
    std::string text = field_text();
    for (const auto* name : {"Ben", "Cem", "Dee", "Edda", "Finn", "Gil", "Hugo", "Ann", "Ines"})
        text += text_of(PilotText{.name = name,
                                  .place = "line-2",
                                  .channel = "R3",
                                  .stage = name == std::string("Ann") ? "on_air = true" : ""});
    const auto shown = board_strip(board_of(text), {.width = 80});
    const auto lines = lines_of(shown);
    EXPECT_NE(shown.find("Ann"), std::string::npos) << shown;
    const auto scale = std::ranges::find_if(
        lines, [](const auto& line) { return line.find("+--") != std::string::npos; });
    ASSERT_NE(scale, lines.end()) << shown;
    EXPECT_NE(std::prev(scale)->find("\u25B2"), std::string::npos) << shown;
    EXPECT_EQ(std::prev(scale)->find("\u25B3"), std::string::npos) << shown;
}

// The head of the board is now, not when something was last written down.
TEST(BoardText, SaysWhomOneWhoWaitsLooksLike) {
    v1::BoardReply board;
    board.add_awaiting()->set_name("Gil");
    auto& like = *board.add_awaiting();
    like.set_name("\u0410nn");
    like.add_resembles("Ann");
    const auto text = board_text(board, 0, {});
    EXPECT_NE(text.find("joined as Gil and waits"), std::string::npos) << text;
    EXPECT_NE(text.find("joined as \u0410nn, which looks like Ann, and waits"), std::string::npos)
        << text;
}

TEST(BoardText, IsHeadedByNow) {
    auto board = board_of(row_of_six());
    constexpr std::int64_t hour_ms = 3'600'000;
    board.set_at_ms(1'789'000'000'000);
    const auto first_line = [&](std::int64_t now_ms) {
        const auto text = board_text(board, now_ms, {});
        return text.substr(0, text.find('\n'));
    };
    EXPECT_NE(first_line(board.at_ms()), first_line(board.at_ms() + hour_ms));
}

TEST(Strip, IsEmptyOnADayWithNobody) {
    EXPECT_EQ(board_strip(board_of(field_text()), {}), "");
    EXPECT_EQ(check_strip({}, {}), "");
}

}  // namespace
}  // namespace fieldpeg::show
