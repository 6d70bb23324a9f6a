#include "server/book/day_file.h"

#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace fieldpeg::book {
namespace {

using testing::changed;
using testing::field_text;
using testing::sheet_of;
using testing::text_of;
using testing::whole_day;

TEST(DayFile, IsReadWhole) {
    const auto sheet = sheet_of(whole_day());
    EXPECT_EQ(sheet.name(), "Harvest fly-in");
    EXPECT_EQ(sheet.date(), "2026-09-19");
    EXPECT_EQ(sheet.rules().name(), "club");
    EXPECT_NEAR(sheet.rules().allowances(0).eirp_dbm_max(), 13.979, 0.001);
    EXPECT_FALSE(sheet.rules().allowances(1).has_eirp_dbm_max());
    EXPECT_EQ(sheet.field().name(), "Long Meadow");
    EXPECT_EQ(sheet.field().latitude_deg(), 52);
    EXPECT_EQ(sheet.field().longitude_deg(), -1);
    ASSERT_EQ(sheet.field().places_size(), 4);
    EXPECT_EQ(sheet.field().places(2).east_m(), -22);
    EXPECT_EQ(sheet.field().places(2).north_m(), -8);
    EXPECT_EQ(sheet.field().places(2).height_m(), 2.5);
    ASSERT_EQ(sheet.field().areas_size(), 2);
    EXPECT_EQ(sheet.field().areas(1).radius_m(), 900);
    EXPECT_EQ(sheet.field().areas(1).low_m(), 60);
    EXPECT_EQ(sheet.field().areas(1).high_m(), 150);
    ASSERT_EQ(sheet.pilots_size(), 2);
    ASSERT_EQ(sheet.relays_size(), 1);
    EXPECT_EQ(sheet.rows_size(), 7);
    EXPECT_FALSE(sheet.services().empty());
}

TEST(DayFile, SaysWhatAPilotBringsAndHolds) {
    const auto ann = sheet_of(whole_day()).pilots(0);
    EXPECT_EQ(ann.place(), "line-1");
    EXPECT_EQ(ann.area(), "circuit");
    EXPECT_EQ(ann.bench_place(), "pits");
    EXPECT_EQ(ann.control_link(), "hopping-2g4");
    EXPECT_EQ(ann.video().mounting().polarisation(), v1::Polarisation::rhcp);
    EXPECT_EQ(ann.video().mounting().loss_db(), 0.7);
    ASSERT_EQ(ann.video().power_dbm_size(), 2);  // 25 and 200 mW, the lower first
    EXPECT_NEAR(ann.video().power_dbm(0), 13.979, 0.001);
    EXPECT_NEAR(ann.video().power_dbm(1), 23.010, 0.001);
    EXPECT_NEAR(ann.video().bench_power_dbm(), -10, 0.001);
    EXPECT_EQ(ann.video().channels_size(), 10);
    ASSERT_EQ(ann.receivers_size(), 2);
    EXPECT_EQ(ann.receivers(0).name(), "goggles");
    EXPECT_EQ(ann.receivers(0).hears(), "video");
    EXPECT_EQ(ann.receivers(0).channels_size(), 17);
    EXPECT_EQ(ann.receivers(0).mounting().facing_deg(), 10);
    EXPECT_EQ(ann.receivers(1).name(), "second");
    EXPECT_EQ(ann.receivers(1).place(), "line-2");
    EXPECT_TRUE(ann.receivers(1).mounting().faces_aircraft());
    EXPECT_FALSE(ann.receivers(1).mounting().has_facing_deg());
    EXPECT_EQ(ann.claim().channel().name(), "R3");
    EXPECT_EQ(ann.claim().channel().mhz(), 5732);
    EXPECT_NEAR(ann.claim().power_dbm(), 13.979, 0.001);
    EXPECT_EQ(ann.claim().stage(), v1::Claim::on_air);
}

TEST(DayFile, LetsGogglesHearTheirOwnersOnlyRelay) {
    const auto sheet = sheet_of(whole_day());
    EXPECT_EQ(sheet.pilots(1).receivers(0).hears(), "Dee's tripod");
    EXPECT_EQ(sheet.pilots(1).claim().stage(), v1::Claim::held);
    const auto& relay = sheet.relays(0);
    EXPECT_EQ(relay.owner(), "Dee");
    EXPECT_EQ(relay.receivers(0).name(), "rx");
    EXPECT_EQ(relay.receivers(0).hears(), "video");
    EXPECT_EQ(relay.receivers(0).mounting().facing_deg(), -12);
    EXPECT_EQ(relay.claim().stage(), v1::Claim::bench);
}

TEST(DayFile, NamesEveryDefaultItUsed) {
    const auto sheet = sheet_of(whole_day());
    const auto has = [](const auto& defaults, std::string_view phrase) {
        return std::ranges::any_of(defaults, [&](const std::string& text) {
            return text.find(phrase) != std::string::npos;
        });
    };
    const auto& dee = sheet.pilots(1).defaults();
    EXPECT_TRUE(has(dee, "video: loss_db 0.5"));
    EXPECT_TRUE(has(dee, "goggles: loss_db 0.5"));
    EXPECT_TRUE(has(dee, "goggles: hears the relay Dee's tripod"));
    EXPECT_FALSE(has(dee, "polarisation"));
    EXPECT_TRUE(has(sheet.relays(0).defaults(), "rx: polarisation vertical"));
    EXPECT_TRUE(has(sheet.pilots(0).defaults(), "second: loss_db 0.5"));
    EXPECT_FALSE(has(sheet.pilots(0).defaults(), "goggles"));
    EXPECT_FALSE(has(sheet.pilots(0).defaults(), "faces"));  // both say where they look
}

TEST(DayFile, SaysThatADirectionalAntennaFacesWhatItHears) {
    const auto sheet = sheet_of(changed(whole_day(), "facing_deg   = 10\n", ""));
    EXPECT_TRUE(std::ranges::any_of(sheet.pilots(0).defaults(), [](const std::string& text) {
        return text == "goggles: faces what it hears";
    }));
}

TEST(DayFile, CarriesTheGearThatIsUsedAndNoOther) {
    const auto sheet = sheet_of(whole_day());
    const auto names = [](const auto& list) {
        std::string all;
        for (const auto& one : list) all += one.name() + " ";
        return all;
    };
    EXPECT_EQ(names(sheet.emissions()), "fm-video my-video ");
    EXPECT_EQ(names(sheet.receiver_profiles()), "fm-video-1g3 fm-video-5g8 my-receiver ");
    EXPECT_EQ(names(sheet.antennas()), "circular-omni circular-patch wide-panel my-whip ");
    EXPECT_EQ(names(sheet.control_links()), "hopping-2g4 ");
}

// 1 dB in front of 15 dB of gain and a lossy 6 dB: 10 log10(1.2589 + (3.9811 - 1) / 31.623).
TEST(DayFile, TakesANoiseFigureFromACascade) {
    const auto sheet = sheet_of(whole_day());
    const auto mine =
        std::ranges::find(sheet.receiver_profiles(), "my-receiver", &v1::ReceiverProfile::name);
    EXPECT_NEAR(mine->noise_figure_db(), 1.314, 0.001);
}

TEST(DayFile, OverridesTheLibraryByName) {
    const auto sheet = sheet_of(whole_day());
    ASSERT_EQ(sheet.control_links_size(), 1);
    EXPECT_EQ(sheet.control_links(0).low_mhz(), 2405);  // the library has 2400
    EXPECT_EQ(sheet.control_links(0).provenance(0).kind(), v1::Provenance::declared);
    const auto own = sheet_of(std::string(whole_day()) +
                              "[antenna.circular-omni]\ngain_dbi = 0.5\nfloor_db = 9\n"
                              "polarisation = \"circular\"\naxial_ratio_db = 3\n");
    EXPECT_EQ(std::ranges::find(own.antennas(), "circular-omni", &v1::Antenna::name)->gain_dbi(),
              0.5);
}

constexpr std::string_view own_omni_in_capitals =
    "[antenna.CIRCULAR-OMNI]\ngain_dbi = 0.5\nfloor_db = 9\npolarisation = \"circular\"\n"
    "axial_ratio_db = 3\n";

// Names are the same but for case, here as everywhere.
TEST(DayFile, OverridesTheLibraryWhateverTheCase) {
    const auto sheet = sheet_of(std::string(whole_day()) + std::string(own_omni_in_capitals));
    for (const auto& antenna : sheet.antennas()) {
        if (antenna.name() == "circular-omni" || antenna.name() == "CIRCULAR-OMNI") {
            EXPECT_EQ(antenna.gain_dbi(), 0.5) << antenna.name();
        }
    }
}

TEST(DayFile, RefusesTwoDefinitionsOfOneName) {
    Problems problems;
    const auto text = std::string(whole_day()) +
                      changed(own_omni_in_capitals, "CIRCULAR-OMNI", "mine") +
                      changed(own_omni_in_capitals, "CIRCULAR-OMNI", "Mine");
    EXPECT_FALSE(read_day(text, "day.toml", problems))
        << "two antennas 'mine' and 'Mine' were both taken";
}

TEST(DayFile, KnowsGearPlacesAndPeopleInAnyCase) {
    auto text = changed(whole_day(), "emission       = \"fm-video\"", "emission = \"FM-Video\"");
    text = changed(text, "place                = \"line-1\"", "place = \"LINE-1\"");
    text = changed(text, "owner        = \"Dee\"", "owner = \"DEE\"");
    text = changed(text, "rules = \"club\"", "rules = \"Club\"");
    text = changed(text, "hears        = \"video\"", "hears = \"Video\"");
    const auto sheet = sheet_of(text);
    EXPECT_EQ(sheet.pilots(0).video().emission(), "fm-video");
    EXPECT_EQ(sheet.pilots(0).place(), "line-1");
    EXPECT_EQ(sheet.relays(0).owner(), "Dee");
    EXPECT_EQ(sheet.pilots(1).receivers(0).hears(), "Dee's tripod");
    EXPECT_EQ(sheet.pilots(0).receivers(1).hears(), "video");
}

TEST(DayFile, MayBeEmptyOfPeople) {
    const auto sheet = sheet_of("[day]\nname = \"x\"\ndate = 2026-01-01\n[field]\nname = \"y\"\n");
    EXPECT_EQ(sheet.pilots_size(), 0);
    EXPECT_FALSE(sheet.has_rules());
    EXPECT_FALSE(sheet.field().has_latitude_deg());
}

TEST(DayFile, TakesThePowerOfAClaimFromTheOnlyStep) {
    const auto text = changed(whole_day(), "channel   = 1280\npower_dbm = 29", "channel = 1280");
    EXPECT_EQ(sheet_of(text).pilots(1).claim().power_dbm(), 29);
}

TEST(DayFile, ComposesNamesAndFindsThemAgain) {
    const auto sheet = sheet_of(field_text() + text_of(testing::PilotText{.name = "Zoe\u0308"}) +
                                text_of(testing::RelayText{.name = "hill", .owner = "ZO\u00cb"}));
    EXPECT_EQ(sheet.pilots(0).name(), "Zo\u00eb");
    EXPECT_EQ(sheet.relays(0).owner(), "Zo\u00eb");
    EXPECT_EQ(sheet.pilots(0).receivers(0).hears(), "hill");
}

std::string two_relays(std::string_view hears) {
    return field_text() +
           text_of(testing::PilotText{.name = "Dee", .more_goggles = std::string(hears)}) +
           text_of(testing::RelayText{.name = "tripod", .owner = "Dee"}) +
           text_of(testing::RelayText{.name = "mast", .owner = "Dee", .channel = "R5"});
}

TEST(DayFile, AsksWhatIsHeardWhereThereAreTwoRelays) {
    Problems problems;
    EXPECT_FALSE(read_day(two_relays(""), "day.toml", problems));
    ASSERT_EQ(problems.size(), 1u);
    EXPECT_EQ(problems[0].what, "is missing, with two relays");
    EXPECT_EQ(problems[0].expected, "video or tripod or mast");
    EXPECT_EQ(sheet_of(two_relays("hears = \"mast\"")).pilots(0).receivers(0).hears(), "mast");
    EXPECT_EQ(sheet_of(two_relays("hears = \"video\"")).pilots(0).receivers(0).hears(), "video");
}

}  // namespace
}  // namespace fieldpeg::book
