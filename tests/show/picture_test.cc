#include "client/show/picture.h"

#include "server/day/text_width.h"
#include "server/day/timeline_picture.h"
#include "server/service/answer.h"
#include "tests/support/crowded_day.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>
#include <pugixml.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

/// Pictures are read back by an XML library; what is held is their structure, not their bytes.
namespace fieldpeg::show {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

pugi::xml_document parsed(const std::string& svg) {
    pugi::xml_document document;
    const auto result = document.load_string(svg.c_str());
    EXPECT_TRUE(result) << result.description() << " at " << result.offset;
    EXPECT_STREQ(document.document_element().name(), "svg");
    EXPECT_TRUE(document.document_element().child("title"));
    EXPECT_TRUE(document.document_element().child("desc"));
    return document;
}

std::vector<pugi::xml_node> all(const pugi::xml_document& document, const std::string& look) {
    std::vector<pugi::xml_node> found;
    for (const auto& node : document.select_nodes(("//*[@class='" + look + "']").c_str()))
        found.push_back(node.node());
    return found;
}

bool says(const pugi::xml_document& document, const std::string& words) {
    return document.select_node(("//text[contains(., \"" + words + "\")]").c_str()) ||
           document.select_node(("//title[contains(., \"" + words + "\")]").c_str());
}

v1::DaySheet three_and_a_relay() {
    return sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R4"}) +
        text_of(PilotText{.name = "Dee", .place = "chair", .channel = "R6"}) +
        text_of(RelayText{.name = "mast", .owner = "Dee", .channel = "F8", .power_mw = "600"}));
}

std::optional<std::string> spectrum_of(const v1::DaySheet& sheet, const std::string& pilot,
                                       const std::string& receiver = "",
                                       const v1::Paper& paper = {}) {
    v1::Query query;
    auto& ask = *query.mutable_spectrum_picture();
    ask.set_pilot(pilot);
    ask.set_receiver(receiver);
    ask.set_basis(v1::Basis::held);
    *ask.mutable_paper() = paper;
    const auto answer = service::answer(query, &sheet);
    if (answer.has_refusal()) return std::nullopt;
    return spectrum_picture(answer.spectrum_picture());
}

std::string reach_of(const v1::DaySheet& sheet, const std::string& pilot) {
    v1::Query query;
    query.mutable_reach_picture()->set_pilot(pilot);
    query.mutable_reach_picture()->set_basis(v1::Basis::held);
    return reach_picture(service::answer(query, &sheet).reach_picture());
}

std::string field_of(const v1::DaySheet& sheet, const v1::Paper& paper = {}) {
    v1::Query query;
    query.mutable_field_picture()->set_basis(v1::Basis::held);
    *query.mutable_field_picture()->mutable_paper() = paper;
    return field_picture(service::answer(query, &sheet).field_picture());
}

std::string timeline_of(const v1::BoardReply& first, const v1::LogReply& log, std::int64_t until_ms,
                        const v1::Paper& paper = {}) {
    v1::TimelinePictureQuery query;
    query.set_until_ms(until_ms);
    *query.mutable_paper() = paper;
    return timeline_picture(day::timeline_picture(first, log, query));
}

TEST(SpectrumPicture, DrawsTheWantedTheOthersAndTheFilter) {
    const auto svg = spectrum_of(three_and_a_relay(), "Ann");
    ASSERT_TRUE(svg);
    const auto document = parsed(*svg);
    EXPECT_EQ(all(document, "wanted").size(), 1U);
    EXPECT_EQ(all(document, "other").size(), 3U);
    EXPECT_EQ(all(document, "filter").size(), 1U);
    EXPECT_EQ(all(document, "noise").size(), 1U);
    EXPECT_TRUE(says(document, "Ben on R4 (5769 MHz)"));
    EXPECT_TRUE(says(document, "margin"));
}

// 2 x 5732 - 5658 = 5806 MHz: the R row's first, third and fifth channels [arithmetic].
TEST(SpectrumPicture, DrawsProductsWhereTheyFall) {
    const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R5"}) +
                                text_of(PilotText{.name = "Ben",
                                                  .place = "line-2",
                                                  .channel = "R1",
                                                  .power_mw = "1000",
                                                  .stage = "on_bench = true"}) +
                                text_of(PilotText{.name = "Cem",
                                                  .place = "line-3",
                                                  .channel = "R3",
                                                  .power_mw = "1000",
                                                  .stage = "on_bench = true"}));
    const auto document = parsed(*spectrum_of(sheet, "Ann"));
    EXPECT_FALSE(all(document, "product").empty());
    EXPECT_TRUE(says(document, "2 x Cem - Ben = 5806 MHz"));
}

TEST(SpectrumPicture, RefusesWhoHearsNothing) {
    const auto sheet = three_and_a_relay();
    EXPECT_FALSE(spectrum_of(sheet, "Zoe"));
    EXPECT_FALSE(spectrum_of(sheet, "Ann", "no such"));
    EXPECT_FALSE(
        spectrum_of(sheet_of(field_text() + testing::unclaimed(PilotText{.name = "Ann"})), "Ann"));
}

// Of each receiver 98 and 80 % of the time, alone and with the others, from above and from the
// side.
TEST(ReachPicture, DrawsEveryReceiversLines) {
    const auto document = parsed(reach_of(three_and_a_relay(), "Ann"));
    for (const auto* kind : {"reach good alone r0", "reach usable alone r0", "reach good now r0",
                             "reach usable now r0"})
        EXPECT_EQ(all(document, kind).size(), 2U) << kind;
    EXPECT_TRUE(says(document, "Whole lines"));
    EXPECT_TRUE(says(document, "no clearance to launch"));
}

TEST(FieldPicture, ShowsPlacesAreasAndWhoStandsThere) {
    const auto sheet = three_and_a_relay();
    const auto document = parsed(field_of(sheet));
    EXPECT_EQ(all(document, "area").size(), static_cast<std::size_t>(sheet.field().areas_size()));
    EXPECT_EQ(all(document, "relay").size(), 1U);
    EXPECT_TRUE(says(document, "line-2: Ben"));
}

// Free space between two antennas [P.525-5, L_bf]: within d the power that arrives
// is above what the receiver stands. The ring's text says d; the model's path at such distances is
// free space, its antennas' patterns and polarisation are the gear's.
TEST(FieldPicture, RingsARelayWhereItSwamps) {
    const auto sheet = three_and_a_relay();
    const auto document = parsed(field_of(sheet));
    const auto rings = all(document, "swamps");
    ASSERT_EQ(rings.size(), 1U);
    const std::string words =
        document.select_node("//text[contains(., 'it swamps')]").node().text().get();
    const double said_m = std::stod(words.substr(std::string("within ").size()));
    const auto& gear = sheet.receiver_profiles();
    const auto goggles = std::ranges::find(gear, "fm-video-5g8", &v1::ReceiverProfile::name);
    ASSERT_NE(goggles, gear.end());
    double gains_db = 0;
    for (const auto& mounting :
         {sheet.relays(0).transmitter().mounting(), sheet.pilots(1).receivers(0).mounting()}) {
        const auto antenna =
            std::ranges::find(sheet.antennas(), mounting.antenna(), &v1::Antenna::name);
        gains_db += antenna->gain_dbi() - mounting.loss_db();
    }
    const double most_m = std::pow(10, (10 * std::log10(600.0) + gains_db - goggles->p1db_dbm() -
                                        20 * std::log10(5880) + 27.55) /
                                           20);
    EXPECT_LE(said_m, most_m + 0.1);   // with both antennas looking at each other
    EXPECT_GE(said_m, most_m * 0.03);  // and 30 dB below that
    // To scale: the ring's radius is to a known area's as the distances are.
    const auto point = [&](const std::string& name) {
        const auto dot = document.select_node(("//text[contains(., '" + name + "')]").c_str())
                             .node()
                             .previous_sibling("circle");
        return std::pair(dot.attribute("cx").as_double(), dot.attribute("cy").as_double());
    };
    const auto [x1, y1] = point("line-1: Ann");
    const auto [x2, y2] = point("line-2: Ben");
    const double per_metre = std::hypot(x2 - x1, y2 - y1) / 4;  // four metres apart
    EXPECT_NEAR(rings[0].attribute("r").as_double(), said_m * per_metre, 0.1 * per_metre);
}

v1::LogEntry entry(std::uint64_t version, std::int64_t minute, const std::string& who,
                   const std::string& kind, double mhz = 0) {
    v1::LogEntry e;
    e.set_version(version);
    e.set_at_ms(minute * 60'000);
    e.set_subject(who);
    e.set_kind(kind);
    if (mhz > 0) e.set_frequency_mhz(mhz);
    e.set_power_dbm(13.979);
    return e;
}

TEST(TimelinePicture, HasABarForEachStretch) {
    v1::BoardReply first;
    first.set_day("Harvest");
    first.set_version(1);
    v1::LogReply log;
    *log.add_entries() = entry(1, 0, "", "set_up");
    *log.add_entries() = entry(2, 10, "Ann", "claimed", 5732);
    *log.add_entries() = entry(3, 20, "Ann", "on_air", 5732);
    *log.add_entries() = entry(4, 30, "sighting 7", "sighting", 5732);
    *log.add_entries() = entry(5, 32, "Ann", "warning", 5732);
    *log.add_entries() = entry(6, 40, "Ann", "off_air", 5732);
    *log.add_entries() = entry(7, 50, "Ann", "released", 5732);
    const auto document = parsed(timeline_of(first, log, 60 * 60'000));
    ASSERT_EQ(all(document, "on").size(), 1U);
    EXPECT_EQ(all(document, "held").size(), 2U);
    EXPECT_EQ(all(document, "seen").size(), 1U);
    EXPECT_EQ(all(document, "warning").size(), 1U);
    // On the air 20 of 60 minutes.
    const double across = 870;
    EXPECT_NEAR(all(document, "on")[0].attribute("width").as_double(), across / 3, 1);
    // The sighting was there at the same time: beside Ann's bar, not over it.
    EXPECT_NE(all(document, "on")[0].attribute("y").as_double(),
              all(document, "seen")[0].attribute("y").as_double());
}

TEST(TimelinePicture, IsOneOfAnEmptyDayToo) {
    v1::BoardReply first;
    EXPECT_TRUE(parsed(timeline_of(first, {}, 0)).document_element());
}

// A server of another version may leave things out: nothing to draw is no reason to fall over.
TEST(Pictures, AreDrawnOfRepliesThatLackThings) {
    v1::SpectrumPictureReply spectrum;
    spectrum.add_signals();
    spectrum.add_products();
    spectrum.add_labels();
    v1::FieldPictureReply field;
    field.add_places();
    field.add_relays()->add_links();
    field.add_panels()->add_labels()->set_kind(v1::Label::place);
    field.mutable_panels(0)->set_kind(v1::FieldPictureReply::Panel::people);
    v1::TimelinePictureReply timeline;
    timeline.add_stretches();
    timeline.add_ticks();
    for (const auto& svg :
         {spectrum_picture(spectrum), field_picture(field), timeline_picture(timeline),
          spectrum_picture(v1::SpectrumPictureReply()), field_picture(v1::FieldPictureReply()),
          reach_picture(v1::ReachPictureReply())})
        EXPECT_TRUE(parsed(svg).document_element());
}

// Whatever people and places are called, no markup of theirs gets into a picture.
TEST(Pictures, LetNobodyWriteMarkup) {
    auto sheet = three_and_a_relay();
    const std::string bad = "</title><script>alert(1)</script>\"'&\x01<";
    sheet.mutable_field()->set_name(bad);
    sheet.mutable_relays(0)->set_name(bad);
    for (auto& pilot : *sheet.mutable_pilots())
        for (auto& receiver : *pilot.mutable_receivers()) {
            receiver.set_name(bad);
            if (receiver.hears() == "mast") receiver.set_hears(bad);
        }
    v1::LogReply log;
    *log.add_entries() = entry(2, 1, bad, "on_air", 5732);
    *log.add_entries() = entry(3, 2, bad, "warning", 5732);
    log.mutable_entries(1)->set_text(bad);
    v1::BoardReply first;
    first.set_day(bad);
    for (const auto& svg :
         {*spectrum_of(sheet, "Ann"), field_of(sheet), timeline_of(first, log, 600'000)}) {
        const auto document = parsed(svg);
        EXPECT_FALSE(document.select_node("//script"));
        EXPECT_EQ(svg.find('\x01'), std::string::npos);
        EXPECT_EQ(svg.find("&#"), std::string::npos) << "XML has no control characters";
        EXPECT_TRUE(document.select_node("//*[contains(., '<script>alert(1)</script>')]"));
    }
}

/// Where a text of a picture stands, as wide as a wide typeface makes it, from the top of its
/// letters to the foot of its lowest (ascent and descent of DejaVu Sans).
struct Drawn {
    double left, right, top, bottom;
    std::string words;

    explicit Drawn(const pugi::xml_node& text) : words(text.text().get()) {
        const auto own = text.attribute("font-size");
        const double size =
            own ? own.as_double() : text.root().first_child().attribute("font-size").as_double();
        const std::string look = text.attribute("class").value();
        const bool bold = look == "big";
        const double width = day::text_width(words, size) * (bold ? day::bold_width : 1);
        const double x = text.attribute("x").as_double(), y = text.attribute("y").as_double();
        left = x - (look.ends_with(" end") ? width : look.ends_with(" middle") ? width / 2 : 0);
        right = left + width;
        top = y - 0.93 * size;
        bottom = y + 0.24 * size;
    }
    bool lies_on(const Drawn& o) const {
        constexpr double rounding = 0.2;  // positions are told to a tenth
        return left + rounding < o.right && o.left + rounding < right &&
               top + rounding < o.bottom && o.top + rounding < bottom;
    }
};

void expect_legible(const std::string& svg) {
    const auto document = parsed(svg);
    const auto root = document.document_element();
    std::vector<Drawn> texts;
    for (const auto& node : document.select_nodes("//text")) texts.emplace_back(node.node());
    EXPECT_FALSE(texts.empty());
    for (std::size_t i = 0; i < texts.size(); ++i) {
        const auto& t = texts[i];
        EXPECT_GE(t.left, -0.1) << t.words;
        EXPECT_LE(t.right, root.attribute("width").as_double() + 0.1) << t.words;
        EXPECT_GE(t.top, 0) << t.words;
        EXPECT_LE(t.bottom, root.attribute("height").as_double()) << t.words;
        for (std::size_t j = i + 1; j < texts.size(); ++j)
            EXPECT_FALSE(t.lies_on(texts[j])) << t.words << " lies on " << texts[j].words;
    }
}

// At the width of A4 text is 8 points high, on a phone 13 pixels; and no text lies on another.
TEST(Pictures, AreLegibleOnPaperAndOnAPhone) {
    EXPECT_EQ(phone_paper().width(), 360);
    EXPECT_GE(phone_paper().text_size(), 13);
    testing::for_all(30, [](std::mt19937_64& rng) {
        const auto sheet = testing::crowded_day(rng);
        v1::BoardReply first;
        first.set_version(1);
        first.set_day(sheet.name());
        constexpr std::int64_t until_ms = 6 * 3'600'000;
        const auto log = testing::crowded_course(rng, sheet, until_ms);
        for (const auto& paper : {v1::Paper(), phone_paper()}) {
            expect_legible(field_of(sheet, paper));
            expect_legible(timeline_of(first, log, until_ms, paper));
            const auto spectrum = spectrum_of(sheet, sheet.pilots(0).name(), "", paper);
            if (spectrum) expect_legible(*spectrum);
        }
    });
}

}  // namespace
}  // namespace fieldpeg::show
