#include "server/book/writer.h"

#include "server/book/library.h"
#include "server/book/parts.h"
#include "server/book/reader.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace fieldpeg::book {
namespace {

// All that could be taken for something else in TOML, and letters of other languages.
const std::string odd_name = "\"Zo\u00eb\" '1' \\ # = [x] \U0001f6e9";

const TransmitterText video{
    "fm-video", "circular-omni", "rhcp", {23.979400086720377, 14}, {"R1-R3", "5790"}};
const ReceiverText goggles{"fm-video-5g8", "circular-patch", "lhcp"};

v1::DaySheet a_field() {
    v1::DaySheet sheet;
    sheet.mutable_field()->add_places()->set_name("pits");
    sheet.mutable_field()->add_areas()->set_name("circuit");
    return sheet;
}

v1::DaySheet read_back(const Result<std::string>& toml, const v1::DaySheet& base) {
    Problems problems;
    const auto parts = read_parts(toml.value(), "parts", base, problems);
    for (const auto& problem : problems) ADD_FAILURE() << to_string(problem) << "\n" << *toml;
    return parts ? parts->sheet : v1::DaySheet();
}

TEST(Writer, WritesAPilotThatIsReadBackTheSame) {
    const auto sheet =
        read_back(toml_of(PilotText{odd_name, "pits", "circuit", video, goggles}), a_field());
    ASSERT_EQ(sheet.pilots_size(), 1);
    const auto& pilot = sheet.pilots(0);
    EXPECT_EQ(pilot.name(), odd_name);
    EXPECT_EQ(pilot.place(), "pits");
    EXPECT_EQ(pilot.area(), "circuit");
    EXPECT_EQ(pilot.video().emission(), "fm-video");
    EXPECT_EQ(pilot.video().mounting().antenna(), "circular-omni");
    EXPECT_EQ(pilot.video().mounting().polarisation(), v1::Polarisation::rhcp);
    ASSERT_EQ(pilot.video().power_dbm_size(), 2);
    EXPECT_EQ(pilot.video().power_dbm(0), 14);
    EXPECT_EQ(pilot.video().power_dbm(1), 23.979400086720377);
    ASSERT_EQ(pilot.video().channels_size(), 4);
    EXPECT_EQ(pilot.video().channels(2).name(), "R3");
    ASSERT_EQ(pilot.receivers_size(), 1);
    EXPECT_EQ(pilot.receivers(0).receiver(), "fm-video-5g8");
    EXPECT_EQ(pilot.receivers(0).mounting().polarisation(), v1::Polarisation::lhcp);
}

TEST(Writer, LeavesOutWhatWasNotSaid) {
    auto anywhere = video;
    anywhere.channels.clear();
    const auto flying =
        read_back(toml_of(PilotText{"Ann", "pits", "circuit", anywhere, goggles}), a_field());
    EXPECT_TRUE(flying.pilots(0).video().channels().empty());
    const auto watching = read_back(toml_of(PilotText{"Ben", "pits", "", {}, goggles}), a_field());
    EXPECT_FALSE(watching.pilots(0).has_video());
    EXPECT_TRUE(watching.pilots(0).area().empty());
}

TEST(Writer, WritesARelayThatIsReadBackTheSame) {
    auto base = a_field();
    *base.mutable_pilots() =
        read_back(toml_of(PilotText{odd_name, "pits", "circuit", video, goggles}), base).pilots();
    const auto sheet =
        read_back(toml_of(RelayText{"tripod", odd_name, "pits", video,
                                    ReceiverText{"fm-video-1g3", "wide-panel", "vertical"}}),
                  base);
    ASSERT_EQ(sheet.relays_size(), 1);
    const auto& relay = sheet.relays(0);
    EXPECT_EQ(relay.name(), "tripod");
    EXPECT_EQ(relay.owner(), odd_name);
    EXPECT_EQ(relay.place(), "pits");
    EXPECT_EQ(relay.transmitter().channels_size(), 4);
    ASSERT_EQ(relay.receivers_size(), 1);
    EXPECT_EQ(relay.receivers(0).receiver(), "fm-video-1g3");
    const auto alone = read_back(toml_of(RelayText{"tripod", odd_name, "pits", video, {}}), base);
    EXPECT_TRUE(alone.relays(0).receivers().empty());
}

TEST(Writer, WritesPlacesAndAreasThatAreReadBackTheSame) {
    v1::Place place;
    place.set_name(odd_name);
    place.set_east_m(12.25);
    place.set_north_m(-3);
    place.set_height_m(2.5);
    const auto with_place = read_back(toml_of(place), {});
    ASSERT_EQ(with_place.field().places_size(), 1);
    EXPECT_EQ(with_place.field().places(0).SerializeAsString(), place.SerializeAsString());
    v1::Area area;
    area.set_name("circuit");
    area.set_east_m(0.1);
    area.set_north_m(85);
    area.set_radius_m(55);
    area.set_low_m(3);
    area.set_high_m(50);
    const auto with_area = read_back(toml_of(area), {});
    ASSERT_EQ(with_area.field().areas_size(), 1);
    EXPECT_EQ(with_area.field().areas(0).SerializeAsString(), area.SerializeAsString());
}

/// The receiver of that name as a day file with its table has it.
v1::ReceiverProfile read_profile(const std::string& table, const std::string& name) {
    const auto ann = testing::changed(testing::text_of(testing::PilotText{.name = "Ann"}),
                                      "\"fm-video-5g8\"", toml_of(name).value());
    const auto sheet = testing::sheet_of(testing::field_text() + table + "\n" + ann);
    return *std::ranges::find(sheet.receiver_profiles(), name, &v1::ReceiverProfile::name);
}

TEST(Writer, WritesAReceiverThatIsReadBackTheSame) {
    for (auto profile : library().receivers()) {
        if (!profile.shows().empty() && profile.shows(0) != "fm-video") continue;
        profile.set_name("Ann's \"own\" goggles");
        profile.set_noise_figure_db(6.155);
        auto& figure = *std::ranges::find(*profile.mutable_provenance(), "noise_figure_db",
                                          &v1::Provenance::key);
        figure.set_kind(v1::Provenance::measured);
        figure.set_source("2026-06-06, Ann, \"tape\" measure");
        auto back = read_profile(toml_of(profile).value(), profile.name());
        const auto by_key = [](auto& p) {
            std::ranges::sort(*p.mutable_provenance(), {}, &v1::Provenance::key);
            return p.DebugString();
        };
        EXPECT_EQ(by_key(back), by_key(profile));
    }
}

TEST(Writer, KeepsATextToOneLineOfDoubleQuotes) {
    EXPECT_EQ(toml_of("Harvest fly-in").value(), "\"Harvest fly-in\"");
    EXPECT_EQ(toml_of("the \"big\" one\\").value(), "\"the \\\"big\\\" one\\\\\"");
    EXPECT_EQ(toml_of("two\nlines").value(), "\"two\\nlines\"");
    EXPECT_EQ(toml_of("Zo\u00eb").value(), "\"Zo\u00eb\"");
}

// toml++ takes the bytes of such a text for Latin-1; whoever typed it may have meant something
// else.
TEST(Writer, RefusesWhatIsNoText) {
    for (const auto* bytes : {"Zo\xeb", "\xff", "\xc3"}) {
        EXPECT_FALSE(toml_of(bytes)) << bytes;
        EXPECT_FALSE(toml_of(PilotText{bytes, "pits", "", {}, goggles}));
        EXPECT_FALSE(
            toml_of(PilotText{"Ann", "pits", "", {}, ReceiverText{"fm-video-5g8", bytes, "rhcp"}}));
        auto elsewhere = video;
        elsewhere.channels = {"R1", bytes};
        EXPECT_FALSE(toml_of(RelayText{"tripod", "Ann", "pits", elsewhere, {}}));
    }
}

}  // namespace
}  // namespace fieldpeg::book
