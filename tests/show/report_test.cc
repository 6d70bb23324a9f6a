#include "client/show/report.h"

#include "client/show/picture.h"
#include "server/day/course.h"
#include "tests/support/kept_day.h"

#include <gtest/gtest.h>
#include <pugixml.hpp>

#include <algorithm>
#include <string>

/// The report is read back by an XML library, as are the pictures in it: what it is written in is
/// HTML that XML takes too, but for its first lines.
namespace fieldpeg::show {
namespace {

using testing::channel;
using testing::claim;
using testing::KeptDay;
using testing::on;
using testing::on_already;

v1::Answer asked(KeptDay& day, v1::Query query, std::uint64_t version) {
    query.mutable_moment()->set_version(version);
    return day.keeper().answer(query, day.now_ms());
}

ReportPictures pictures_of(KeptDay& day, const v1::Paper& paper, std::uint64_t last) {
    ReportPictures pictures;
    v1::Query timeline, field, sheet;
    *timeline.mutable_timeline_picture()->mutable_paper() = paper;
    timeline.mutable_timeline_picture()->set_until_ms(day.now_ms());
    pictures.timeline = asked(day, timeline, last).timeline_picture();
    const auto busiest = pictures.timeline.busiest_version();
    *field.mutable_field_picture()->mutable_paper() = paper;
    const auto then = busiest != 0 ? busiest : last;
    pictures.field = asked(day, field, then).field_picture();
    sheet.mutable_day();
    const auto everybody = asked(day, sheet, then).day().sheet();
    for (const auto& pilot : everybody.pilots()) {
        v1::Query dial;
        dial.mutable_spectrum_picture()->set_pilot(pilot.name());
        dial.mutable_spectrum_picture()->set_basis(v1::Basis::on_air);
        *dial.mutable_spectrum_picture()->mutable_paper() = paper;
        const auto answer = asked(day, dial, then);
        if (!answer.has_refusal()) pictures.dials.push_back(answer.spectrum_picture());
    }
    return pictures;
}

ReportSource source_of(KeptDay& day) {
    v1::Query log, board, sheet, ready;
    log.mutable_log();
    board.mutable_board();
    sheet.mutable_day();
    ready.mutable_ready();
    ReportSource source;
    source.log = asked(day, log, 0).log();
    const auto last = source.log.last_version();
    source.now = asked(day, board, last).board();
    source.day = asked(day, sheet, last).day();
    source.ready = asked(day, ready, 0).ready();
    source.now_ms = day.now_ms();
    source.on_paper = pictures_of(day, {}, last);
    source.on_phone = pictures_of(day, phone_paper(), last);
    return source;
}

/// XML takes no doctype of HTML.
pugi::xml_document parsed(std::string html) {
    html = html.substr(html.find("<body>"));
    html = html.substr(0, html.find("</html>"));
    pugi::xml_document document;
    const auto result = document.load_string(html.c_str());
    EXPECT_TRUE(result) << result.description() << " near "
                        << html.substr(static_cast<std::size_t>(result.offset), 80);
    return document;
}

std::string undone(const std::string& address) {
    std::string text;
    const std::string prefix = "data:image/svg+xml,";
    EXPECT_TRUE(address.starts_with(prefix));
    for (std::size_t i = prefix.size(); i < address.size(); ++i) {
        if (address[i] != '%') {
            text += address[i];
            continue;
        }
        text += static_cast<char>(std::stoi(address.substr(i + 1, 2), nullptr, 16));
        i += 2;
    }
    return text;
}

/// Ann and Bob fly, the relay comes on unasked and is seen to, a stranger is seen, Ann crosses Bob.
void play(KeptDay& day) {
    day.take(claim("Ann", "R3"));
    day.take(on("Ann"));
    day.take(claim("Bob", "R6"));
    day.take(on("Bob"));
    day.take(on_already("mast", "R4", 27.78));
    v1::Command seen;
    *seen.mutable_see()->mutable_channel() = channel("E5");
    seen.mutable_see()->set_note("behind the <car>");
    day.take(seen);
    day.take(testing::off("mast"));
    auto allowed = claim("mast", "R4", 27.78);
    allowed.mutable_claim()->set_allowed_because("Ann & Bob agree");
    day.take(allowed);
}

bool has_text(const pugi::xml_document& document, const std::string& text) {
    return document.select_node(("//*[contains(text(), \"" + text + "\")]").c_str());
}

TEST(Report, HoldsTheDay) {
    KeptDay day;
    play(day);
    const auto source = source_of(day);
    const auto html = report_html(source);
    const auto document = parsed(html);
    EXPECT_TRUE(has_text(document, source.log.head_hash()));
    EXPECT_TRUE(has_text(document, "behind the <car>"));
    EXPECT_TRUE(has_text(document, "Ann & Bob agree"));
    for (const auto& text : source.ready.cautions())
        EXPECT_TRUE(has_text(document, text.substr(0, 40))) << text;
    // Every entry of the log is in its table.
    const auto tables = document.select_nodes("//table");
    const auto rows = tables[tables.size() - 1].node().child("tbody").select_nodes("tr");
    EXPECT_EQ(rows.size(), source.log.last_version());
    for (const auto* name : {"Ann", "Bob", "mast"}) EXPECT_TRUE(has_text(document, name)) << name;
    EXPECT_NE(html.find("assumed"), std::string::npos) << "where values of the gear come from";
}

TEST(Report, NeedsNothingOutsideItself) {
    KeptDay day;
    play(day);
    const auto html = report_html(source_of(day));
    EXPECT_EQ(html.find("<script"), std::string::npos);
    EXPECT_EQ(html.find("<link"), std::string::npos);
    const auto document = parsed(html);
    const auto pictures = document.select_nodes("//img");
    EXPECT_GE(pictures.size(), 4U);  // timeline, field, and a dial for each who flew
    for (const auto& picture : pictures) {
        EXPECT_STRNE(picture.node().attribute("alt").value(), "");
        pugi::xml_document svg;
        EXPECT_TRUE(svg.load_string(undone(picture.node().attribute("src").value()).c_str()));
        EXPECT_STREQ(svg.document_element().name(), "svg");
    }
    // Each in a second form, for a phone's screen.
    const auto narrow = document.select_nodes("//picture/source[@media]");
    EXPECT_EQ(narrow.size(), pictures.size());
    for (const auto& source : narrow) {
        pugi::xml_document svg;
        EXPECT_TRUE(svg.load_string(undone(source.node().attribute("srcset").value()).c_str()));
        EXPECT_STREQ(svg.document_element().attribute("width").value(), "360");
    }
}

TEST(Report, TakesNamesAsText) {
    const auto evil = std::string("</td><script>hit()</script>");
    auto text = testing::club_day();
    for (auto at = text.find("\"Ann\""); at != std::string::npos; at = text.find("\"Ann\"", at + 9))
        text.replace(at, 5, '"' + evil + '"');
    KeptDay day(text);
    day.take(claim(evil, "R3"));
    day.take(on(evil));
    const auto html = report_html(source_of(day));
    EXPECT_EQ(html.find("<script"), std::string::npos);
    EXPECT_NE(html.find("&lt;/td&gt;&lt;script&gt;hit()"), std::string::npos);
    parsed(html);
}

TEST(Report, IsThereForADayOnWhichNobodyFlew) {
    KeptDay day;
    const auto document = parsed(report_html(source_of(day)));
    EXPECT_TRUE(has_text(document, "Nobody held a channel."));
    EXPECT_TRUE(has_text(document, "Nobody had to be warned."));
}

TEST(BusiestVersion, IsTheFirstMomentWithMostOnTheAir) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(on("Ann"));
    day.take(claim("Bob", "R6"));
    const auto both = day.take(on("Bob")).version();
    day.take(testing::off("Ann"));
    day.take(on("Ann"));
    v1::Query timeline;
    timeline.mutable_timeline_picture();
    EXPECT_EQ(asked(day, timeline, 0).timeline_picture().busiest_version(), both);
    EXPECT_EQ(day::busiest({}, {}).version, 0U);
}

}  // namespace
}  // namespace fieldpeg::show
