#include "client/show/picture.h"

#include "server/day/scene.h"
#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>
#include <pugixml.hpp>

#include <algorithm>
#include <cmath>
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

TEST(SpectrumPicture, DrawsTheWantedTheOthersAndTheFilter) {
    const auto svg = spectrum_picture(three_and_a_relay(), v1::Basis::held, "Ann", "");
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
    const auto document = parsed(*spectrum_picture(sheet, v1::Basis::held, "Ann", ""));
    EXPECT_FALSE(all(document, "product").empty());
    EXPECT_TRUE(says(document, "2 x Cem - Ben = 5806 MHz"));
}

TEST(SpectrumPicture, RefusesWhoHearsNothing) {
    const auto sheet = three_and_a_relay();
    EXPECT_FALSE(spectrum_picture(sheet, v1::Basis::held, "Zoe", ""));
    EXPECT_FALSE(spectrum_picture(sheet, v1::Basis::held, "Ann", "no such"));
    EXPECT_FALSE(
        spectrum_picture(sheet_of(field_text() + testing::unclaimed(PilotText{.name = "Ann"})),
                         v1::Basis::held, "Ann", ""));
}

TEST(FieldPicture, ShowsPlacesAreasAndWhoStandsThere) {
    const auto sheet = three_and_a_relay();
    const auto document = parsed(field_picture(sheet, v1::Basis::held));
    EXPECT_EQ(all(document, "area").size(), static_cast<std::size_t>(sheet.field().areas_size()));
    EXPECT_EQ(all(document, "relay").size(), 1U);
    EXPECT_TRUE(says(document, "line-2: Ben"));
}

// Free space between two antennas [P.525-5, L_bf]: within d the power that arrives
// is above what the receiver stands. The ring's text says d; the model's path at such distances is
// free space, its antennas' patterns and polarisation are the gear's.
TEST(FieldPicture, RingsARelayWhereItSwamps) {
    const auto sheet = three_and_a_relay();
    const auto document = parsed(field_picture(sheet, v1::Basis::held));
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
    const auto document = parsed(timeline_picture(first, log, 60 * 60'000));
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
    EXPECT_TRUE(parsed(timeline_picture(first, {}, 0)).document_element());
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
         {*spectrum_picture(sheet, v1::Basis::held, "Ann", ""),
          field_picture(sheet, v1::Basis::held), timeline_picture(first, log, 600'000)}) {
        const auto document = parsed(svg);
        EXPECT_FALSE(document.select_node("//script"));
        EXPECT_EQ(svg.find('\x01'), std::string::npos);
        EXPECT_TRUE(document.select_node("//*[contains(., '<script>alert(1)</script>')]"));
    }
}

}  // namespace
}  // namespace fieldpeg::show
