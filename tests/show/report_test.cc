#include "client/show/report.h"

#include "client/show/page.h"
#include "client/show/picture.h"
#include "client/show/times.h"
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
    v1::Query log, board, sheet, ready, airtime;
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
    airtime.mutable_airtime();
    source.airtime = asked(day, airtime, last).airtime();
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

std::string text_in(const pugi::xml_node& node) {
    std::string all;
    for (const auto& child : node.children())
        if (std::string(child.name()) != "details")
            all += child.type() == pugi::node_pcdata ? child.value() + std::string("\n")
                                                     : text_in(child);
    return all;
}

/// What is seen without unfolding anything.
std::string front_of(KeptDay& day) {
    const auto document = parsed(report_html(source_of(day)));
    return text_in(document.select_node("//main").node());
}

bool contains(const std::string& text, const std::string& part) {
    return text.find(part) != text.npos;
}

void wait(KeptDay& day, std::int64_t minutes) {
    day.set_now_ms(day.now_ms() + minutes * 60'000);
}

TEST(ReportFront, SaysWhoFlewHowOftenAndHowLong) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(claim("Bob", "R7"));
    day.take(on("Ann"));
    wait(day, 4);
    day.take(on("Bob"));
    const auto both = clock_text(day.now_ms());
    wait(day, 4);
    for (const auto* who : {"Ann", "Bob"}) day.take(testing::off(who));
    day.take(on("Ann"));
    wait(day, 3);
    day.take(testing::off("Ann"));
    const auto front = front_of(day);
    EXPECT_TRUE(contains(front, "Ann\n2\n11.1\nR3 (5732 MHz) at 25 mW\n")) << front;
    EXPECT_TRUE(contains(front, "Bob\n1\n4.0\n")) << front;
    EXPECT_TRUE(contains(front,
                         "3 flights, 15.1 minutes in the air; 2 in the air at once at "
                         "most, from " +
                             both + ": Ann, Bob."))
        << front;
    EXPECT_TRUE(contains(front, "Did not fly: Dee.")) << front;
    EXPECT_TRUE(contains(front, "Nothing that the log knows of.")) << front;
    EXPECT_TRUE(contains(front, "Nothing unasked was seen, and nobody was looked for.")) << front;
}

TEST(ReportFront, SaysWhatWentWrongAndWhatWasFoundOut) {
    KeptDay day;
    play(day);
    auto down = testing::off("Ann");
    down.mutable_off()->set_down(true);
    day.take(down);
    const auto when = clock_text(day.now_ms());
    v1::Command walker;
    walker.mutable_close_field()->set_now(true);
    walker.mutable_close_field()->set_because("a walker on the strip");
    day.take(walker);
    auto front = front_of(day);
    EXPECT_TRUE(contains(front, when + " Ann went down on R3 (5732 MHz)\n")) << front;
    EXPECT_TRUE(contains(front, "everybody had to land: a walker on the strip")) << front;
    EXPECT_TRUE(contains(front, "allowed because Ann & Bob agree")) << front;
    EXPECT_TRUE(contains(front, "seen: behind the <car>")) << front;
    EXPECT_TRUE(contains(front, "Ann went down, and is not known to be silent")) << front;
    EXPECT_LT(front.find("went down on"), front.find("allowed because")) << "what is worst first";
    auto silent = testing::off("Ann");
    silent.mutable_off()->set_silent(true);
    day.take(silent);
    front = front_of(day);
    EXPECT_TRUE(contains(front, "Ann, down since " + when + ", was found or is silent")) << front;
    EXPECT_FALSE(contains(front, "not known to be silent")) << front;
}

v1::LogEntry warned(std::uint32_t pilot, v1::Verdict::Word before, v1::Verdict::Word after,
                    double left_db) {
    v1::LogEntry e;
    e.set_kind("warning");
    e.set_subject("Bob");
    auto& w = *e.mutable_warning();
    w.set_kind(v1::Warning::worse);
    w.set_pilot(pilot);
    w.set_cause(1);
    w.set_before(before);
    w.set_after(after);
    w.set_margin_after_db(left_db);
    *w.mutable_channel() = channel("R4");
    w.set_power_dbm(23.01);
    return e;
}

// One line for each who was harmed by each other, the worst of it; a few decibels less are none.
TEST(ReportFront, TellsWarningsThatGotWorseOnce) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    auto source = source_of(day);
    const auto add = [&](const v1::LogEntry& e) { *source.log.add_entries() = e; };
    add(warned(2, v1::Verdict::steady, v1::Verdict::shaky, -2));
    add(warned(2, v1::Verdict::steady, v1::Verdict::clash, -12));
    add(warned(2, v1::Verdict::steady, v1::Verdict::shaky, -3));
    add(warned(3, v1::Verdict::steady, v1::Verdict::steady, 0.5));
    auto moved = warned(3, v1::Verdict::unknown, v1::Verdict::steady, 0);
    moved.mutable_warning()->set_kind(v1::Warning::moved);
    add(moved);
    const auto document = parsed(report_html(source));
    const auto lines = document.select_nodes("//main/ul/li");
    ASSERT_EQ(lines.size(), 1U);
    EXPECT_TRUE(contains(lines[0].node().text().get(),
                         "Bob: steady became clash, by Ann on R4 (5769 MHz) at 200 mW (3 times)"))
        << lines[0].node().text().get();
}

TEST(ReportFront, StaysShortOnABadDay) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    auto source = source_of(day);
    for (std::uint32_t i = 0; i < 30; ++i) {
        auto e = warned(100 + i, v1::Verdict::steady, v1::Verdict::shaky, -2);
        e.set_at_ms(static_cast<std::int64_t>(i) * 1000);
        *source.log.add_entries() = e;
    }
    auto control = warned(99, v1::Verdict::steady, v1::Verdict::control_at_risk, 3);
    control.set_at_ms(40'000);
    *source.log.add_entries() = control;
    const auto document = parsed(report_html(source));
    const auto lines = document.select_nodes("//main/ul/li");
    ASSERT_EQ(lines.size(), 9U);
    EXPECT_TRUE(contains(lines[0].node().text().get(), "control of the aircraft was at risk"));
    EXPECT_STREQ(lines[8].node().text().get(), "and 23 more, in the log below");
}

// The log's last entry is no "now": a report may be written a week later.
TEST(ReportFront, TellsWhenTheDayEndedAndWhenItWasWritten) {
    KeptDay day;
    play(day);
    const auto last_ms = day.now_ms();
    wait(day, 7 * 24 * 60);
    const auto front = front_of(day);
    EXPECT_TRUE(contains(
        front, " to " + clock_text(last_ms) + ". Written " + date_time_text(day.now_ms()) + "."))
        << front;
}

// Whoever forgot to say off has not flown all night.
TEST(Report, HasTheDayEndWhenNothingIsSaidForAnHour) {
    constexpr std::int64_t minute_ms = 60'000;
    v1::LogReply log;
    log.add_entries()->set_at_ms(5 * minute_ms);
    EXPECT_EQ(end_of_day_ms(log, 65 * minute_ms), 65 * minute_ms);
    EXPECT_EQ(end_of_day_ms(log, 66 * minute_ms), 6 * minute_ms);
}

TEST(Report, FoldsWhateverIsNotTheFirstPage) {
    KeptDay day;
    play(day);
    const auto document = parsed(report_html(source_of(day)));
    for (const auto* part : {"//table[.//th='hash begins']", "//pre", "//picture"})
        for (const auto& found : document.select_nodes(part))
            EXPECT_STREQ(found.node().select_node("ancestor::details").node().name(), "details")
                << part;
    EXPECT_EQ(document.select_nodes("//details[@open]").size(), 0U);
    EXPECT_EQ(document.select_nodes("//main/h2").size(), 3U);
}

TEST(Report, SaysThatItIsOne) {
    KeptDay day;
    const auto source = source_of(day);
    EXPECT_EQ(page_mark(report_html(source).substr(0, page_mark_bytes)),
              "report of " + source.day.sheet().name() + ", " + source.day.sheet().date());
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
