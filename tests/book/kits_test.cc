#include "server/book/kits.h"

#include "server/book/day_file.h"
#include "server/book/library.h"
#include "server/book/parts.h"
#include "server/book/writer.h"
#include "tests/book/mistakes.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <string_view>

/// Gear by one name (docs/formats.md, section 3). What a kit is to hold is common practice, no
/// published source; that nothing may be lost on the way into a pilot is a closed form: the same
/// day written out by hand.
namespace fieldpeg::book {
namespace {

using testing::changed;
using testing::expect_each_said;
using testing::field_text;
using testing::listed;
using testing::problems_of;
using testing::sheet_of;

constexpr double mw25_dbm = 13.979400086720376;

const std::string_view trainer = R"toml(
[kit.trainer]
title   = "The club's training quad"
look    = "a yellow frame"
drawing = ["quad", "mushroom"]
[kit.trainer.video]
emission     = "fm-video"
antenna      = "circular-omni"
polarisation = "rhcp"
power_mw     = [25, 200]
channels     = ["R1-R8"]
[[kit.trainer.receiver]]
receiver     = "fm-video-5g8"
antenna      = "circular-omni"
polarisation = "rhcp"
[[kit.trainer.receiver]]
receiver     = "fm-video-5g8"
antenna      = "circular-patch"
polarisation = "rhcp"
name         = "flat aerial"
[kit.trainer.handset]
[kit.trainer.control]
)toml";

const std::string_view mast = R"toml(
[kit.trainer.relay]
emission     = "fm-video"
antenna      = "circular-omni"
polarisation = "rhcp"
power_mw     = [25]
channels     = ["F1-F8"]
[[kit.trainer.relay.receiver]]
receiver     = "fm-video-5g8"
antenna      = "wide-panel"
polarisation = "vertical"
)toml";

/// Gil with a kit; `more` are further lines of his table.
std::string gil(std::string_view kit, std::string_view more = "") {
    return "[[pilot]]\nname = \"Gil\"\nplace = \"line-3\"\narea = \"circuit\"\nkit = \"" +
           std::string(kit) + "\"\n" + std::string(more);
}

/// Gil with a kit of the library, and the place that a relay of it needs.
std::string gil_with(const v1::Kit& kit) {
    const bool has_relay = kit.toml().find("[relay") != std::string::npos;
    return gil(kit.name(), has_relay ? "relay_place = \"tripod\"\n" : "");
}

std::string trainer_day(std::string_view more = "") {
    return field_text() + std::string(trainer) + gil("trainer", more);
}

std::string relay_day(std::string_view more = "relay_place = \"tripod\"\n") {
    return field_text() + std::string(trainer) + std::string(mast) + gil("trainer", more);
}

const v1::Pilot& gil_of(const v1::DaySheet& sheet) {
    return *std::ranges::find(sheet.pilots(), "Gil", &v1::Pilot::name);
}

// --- those of the library

TEST(Kits, OfTheLibraryAreTwentyOrMore) {
    EXPECT_GE(library().kits_size(), 20);
}

TEST(Kits, OfTheLibraryAreAllReadIntoAPilotWithoutAProblem) {
    for (const auto& kit : library().kits()) {
        const auto text = field_text() + gil_with(kit);
        EXPECT_EQ(listed(problems_of(text)), "") << kit.name();
    }
}

TEST(Kits, OfTheLibrarySayWhatTheyAreAndWhatTheyLookLike) {
    for (const auto& kit : library().kits()) {
        EXPECT_FALSE(kit.title().empty()) << kit.name();
        EXPECT_FALSE(kit.look().empty()) << kit.name();
        EXPECT_EQ(kit.drawing_size(), 3)
            << kit.name();  // what flies, its aerial, what its pilot has
    }
}

/// The receivers of a day that are meant for one of its transmitters.
std::vector<const v1::Receiver*> listening(const v1::DaySheet& sheet, const std::string& name) {
    std::vector<const v1::Receiver*> all;
    const auto add = [&](const auto& receivers, const std::string& owner) {
        for (const auto& r : receivers)
            if (r.hears() == name || (r.hears() == "video" && owner == name)) all.push_back(&r);
    };
    for (const auto& p : sheet.pilots()) add(p.receivers(), p.name());
    for (const auto& r : sheet.relays()) add(r.receivers(), r.owner());
    return all;
}

// Common practice, no published source: what is sold together works together.
TEST(Kits, OfTheLibraryBringReceiversThatShowWhatTheirTransmittersSend) {
    for (const auto& kit : library().kits()) {
        const auto sheet = sheet_of(field_text() + gil_with(kit));
        const auto expect_shown = [&](const std::string& name, const v1::Transmitter& sends) {
            const auto receivers = listening(sheet, name);
            EXPECT_FALSE(receivers.empty()) << kit.name() << ": " << name;
            for (const auto* r : receivers) {
                const auto& profile = *std::ranges::find(sheet.receiver_profiles(), r->receiver(),
                                                         &v1::ReceiverProfile::name);
                EXPECT_TRUE(profile.shows().empty() ||
                            std::ranges::find(profile.shows(), sends.emission()) !=
                                profile.shows().end())
                    << kit.name();
                for (const auto& c : sends.channels()) {
                    EXPECT_GE(c.mhz(), profile.front_end_low_mhz()) << kit.name();
                    EXPECT_LE(c.mhz(), profile.front_end_high_mhz()) << kit.name();
                }
            }
        };
        if (gil_of(sheet).has_video()) expect_shown("Gil", gil_of(sheet).video());
        for (const auto& r : sheet.relays()) expect_shown(r.name(), r.transmitter());
    }
}

// An aerial that turns the other way shows next to nothing (docs/model.md, section 4): within a kit
// nobody has that.
TEST(Kits, OfTheLibraryTurnTheSameWayAtBothEnds) {
    const auto turns_against = [](v1::Polarisation::Kind a, v1::Polarisation::Kind b) {
        return (a == v1::Polarisation::rhcp && b == v1::Polarisation::lhcp) ||
               (a == v1::Polarisation::lhcp && b == v1::Polarisation::rhcp);
    };
    for (const auto& kit : library().kits()) {
        const auto sheet = sheet_of(field_text() + gil_with(kit));
        if (!gil_of(sheet).has_video()) continue;
        for (const auto* r : listening(sheet, "Gil"))
            EXPECT_FALSE(turns_against(r->mounting().polarisation(),
                                       gil_of(sheet).video().mounting().polarisation()))
                << kit.name();
    }
}

// --- into a pilot

/// What is the same whichever way it was written.
std::string gear_of(v1::DaySheet sheet) {
    sheet.clear_kits();
    for (auto& p : *sheet.mutable_pilots()) {
        p.clear_kit();
        p.clear_defaults();
    }
    for (auto& r : *sheet.mutable_relays()) r.clear_defaults();
    return sheet.DebugString();
}

/// The tables of the trainer as those of a pilot.
std::string written_out(std::string_view tables) {
    std::string all(tables.substr(tables.find("[kit.trainer.video]")));
    for (std::size_t at; (at = all.find("kit.trainer.")) != all.npos;)
        all.replace(at, std::string_view("kit.trainer.").size(), "pilot.");
    return all;
}

TEST(Kit, IsTheSameAsItsTablesWrittenOutInThePilot) {
    const auto by_hand =
        field_text() + changed(gil("x"), "kit = \"x\"\n", "") + written_out(trainer);
    EXPECT_EQ(gear_of(sheet_of(trainer_day())), gear_of(sheet_of(by_hand)));
}

TEST(Kit, LeavesItsNameOnThePilotAndItselfOnTheDay) {
    const auto sheet = sheet_of(trainer_day());
    EXPECT_EQ(gil_of(sheet).kit(), "trainer");
    ASSERT_EQ(sheet.kits_size(), 1);
    EXPECT_EQ(sheet.kits(0).title(), "The club's training quad");
    EXPECT_EQ(sheet.kits(0).look(), "a yellow frame");
    EXPECT_EQ(sheet.kits(0).drawing_size(), 2);
    EXPECT_TRUE(std::ranges::any_of(gil_of(sheet).defaults(), [](const std::string& said) {
        return said.find("trainer") != std::string::npos;
    }));
}

TEST(Kit, OfTheLibraryIsNoneOfTheDays) {
    EXPECT_EQ(sheet_of(field_text() + gil("usual-quad")).kits_size(), 0);
}

TEST(Kit, IsFoundHoweverItsNameIsSpelled) {
    const auto sheet = sheet_of(field_text() + std::string(trainer) + gil("TRAINER"));
    EXPECT_EQ(gil_of(sheet).video().channels_size(), 8);
}

TEST(Kit, StandsBehindWhatThePilotWritesKeyByKey) {
    const auto sheet =
        sheet_of(trainer_day("video = {channels = [\"R6-R8\"], polarisation = \"lhcp\"}\n"));
    const auto& video = gil_of(sheet).video();
    EXPECT_EQ(video.channels_size(), 3);
    EXPECT_EQ(video.mounting().polarisation(), v1::Polarisation::lhcp);
    EXPECT_EQ(video.mounting().antenna(), "circular-omni");  // of the kit
    EXPECT_EQ(video.power_dbm_size(), 2);
}

// One power may be written in two ways, and only one of them.
TEST(Kit, StandsBehindAPowerThatThePilotWritesInTheOtherUnit) {
    const auto in_dbm = gil_of(sheet_of(trainer_day("video = {power_dbm = 10}\n"))).video();
    ASSERT_EQ(in_dbm.power_dbm_size(), 1);
    EXPECT_EQ(in_dbm.power_dbm(0), 10);
    const auto kit_in_dbm = changed(trainer_day("video = {power_mw = 25}\n"),
                                    "power_mw     = [25, 200]", "power_dbm = [20, 23]");
    const auto in_mw = gil_of(sheet_of(kit_in_dbm)).video();
    ASSERT_EQ(in_mw.power_dbm_size(), 1);
    EXPECT_NEAR(in_mw.power_dbm(0), mw25_dbm, 1e-9);
}

TEST(Kit, KeepsItsBenchPowerBesideAnotherPower) {
    const auto text = changed(trainer_day("video = {power_dbm = 10}\n"), "power_mw     = [25, 200]",
                              "power_mw = 25\nbench_power_mw = 1");
    EXPECT_EQ(gil_of(sheet_of(text)).video().bench_power_dbm(), 0);
}

TEST(Kit, BringsNoReceiverToOneWhoHasTheirOwn) {
    const auto own = trainer_day(
        "[[pilot.receiver]]\nreceiver = \"fm-video-5g8-wide\"\nantenna = \"circular-omni\"\n"
        "polarisation = \"rhcp\"\n");
    const auto sheet = sheet_of(own);
    EXPECT_EQ(gil_of(sheet_of(trainer_day())).receivers_size(), 2);
    ASSERT_EQ(gil_of(sheet).receivers_size(), 1);
    EXPECT_EQ(gil_of(sheet).receivers(0).receiver(), "fm-video-5g8-wide");
}

TEST(Kit, OfTheFileTakesThePlaceOfTheLibrarysForThisDay) {
    const auto text = changed(changed(trainer_day(), "[kit.trainer]", "[kit.Usual-Quad]"),
                              "kit = \"trainer\"", "kit = \"usual-quad\"");
    std::string all = text;
    for (std::size_t at; (at = all.find("kit.trainer.")) != all.npos;)
        all.replace(at, std::string_view("kit.trainer.").size(), "kit.Usual-Quad.");
    const auto sheet = sheet_of(all);
    EXPECT_EQ(gil_of(sheet).receivers_size(), 2);  // the library's has one
    EXPECT_EQ(gil_of(sheet_of(field_text() + gil("usual-quad"))).receivers_size(), 1);
}

TEST(Kit, LeavesPilotsWithoutOneAlone) {
    const auto bob = "[[pilot]]\nname = \"Bob\"\nplace = \"line-1\"\narea = \"circuit\"\n";
    const auto sheet = sheet_of(trainer_day() + bob);
    const auto& found = *std::ranges::find(sheet.pilots(), "Bob", &v1::Pilot::name);
    EXPECT_FALSE(found.has_video());
    EXPECT_EQ(found.receivers_size(), 0);
}

// --- a relay of a kit

TEST(KitRelay, StandsWhereItsOwnerSaysAndIsCalledAfterThem) {
    const auto sheet = sheet_of(relay_day());
    ASSERT_EQ(sheet.relays_size(), 1);
    const auto& relay = sheet.relays(0);
    EXPECT_EQ(relay.name(), "Gil's relay");
    EXPECT_EQ(relay.owner(), "Gil");
    EXPECT_EQ(relay.place(), "tripod");
    EXPECT_EQ(relay.transmitter().channels_size(), 8);
    ASSERT_EQ(relay.receivers_size(), 1);
    EXPECT_EQ(relay.receivers(0).mounting().antenna(), "wide-panel");
}

TEST(KitRelay, NeedsAPlace) {
    const auto problems = problems_of(relay_day(""));
    ASSERT_EQ(problems.size(), 1U) << listed(problems);
    EXPECT_NE(problems[0].what.find("brings a relay, and nobody says where it stands"),
              std::string::npos);
    EXPECT_NE(problems[0].expected.find("relay_place"), std::string::npos);
    EXPECT_EQ(problems[0].key, "pilot 'Gil', kit");
    const auto text = relay_day("");
    const auto line = std::ranges::count(text.substr(0, text.find("kit = \"trainer\"")), '\n') + 1;
    EXPECT_EQ(problems[0].line, static_cast<unsigned>(line));
}

TEST(KitRelay, DoesNotComeBesideOneThatTheOwnerHas) {
    const auto own = std::string(
        "[[relay]]\nname = \"pole\"\nowner = \"Gil\"\nplace = \"tripod\"\nemission = "
        "\"fm-video\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n");
    for (const auto* place : {"", "relay_place = \"tripod\"\n"}) {
        const auto sheet = sheet_of(relay_day(place) + own);
        ASSERT_EQ(sheet.relays_size(), 1);
        EXPECT_EQ(sheet.relays(0).name(), "pole");
    }
}

TEST(KitRelay, ComesToEachWhoTakesTheKit) {
    const auto two = relay_day() + changed(gil("trainer", "relay_place = \"chair\"\n"),
                                           "name = \"Gil\"", "name = \"Una\"");
    const auto sheet = sheet_of(two);
    ASSERT_EQ(sheet.relays_size(), 2);
    EXPECT_EQ(sheet.relays(1).name(), "Una's relay");
    EXPECT_EQ(sheet.relays(1).place(), "chair");
}

// --- what may be wrong

TEST(KitProblem, IsSaidWhereItIs) {
    expect_each_said(trainer_day(),
                     {{"kit = \"trainer\"", "kit = \"trainr\"", "did you mean 'trainer'?"},
                      {"kit = \"trainer\"", "kit = \"usual-quat\"", "did you mean 'usual-quad'?"},
                      {"kit = \"trainer\"", "kit = \"zeppelin\"", "no kit is called 'zeppelin'"},
                      {"look    = ", "looks   = ", "looks"}});
}

TEST(KitProblem, IsATitleOnlyOrNoTitle) {
    const auto said = [](const std::string& kit) {
        return listed(problems_of(field_text() + kit));
    };
    EXPECT_NE(said("[kit.bare]\ntitle = \"Nothing\"\n").find("brings nothing"), std::string::npos);
    EXPECT_NE(said("[kit.bare]\n[kit.bare.handset]\n").find("title"), std::string::npos);
    EXPECT_EQ(said("[kit.bare]\ntitle = \"A handset\"\n[kit.bare.handset]\n"), "");
}

TEST(KitProblem, HasThePilotsNameIfTheKitBringsWhatIsWrong) {
    const auto problems = problems_of(
        changed(trainer_day(), "emission     = \"fm-video\"", "emission = \"fm-vidio\""));
    ASSERT_FALSE(problems.empty());
    EXPECT_NE(to_string(problems[0]).find("Gil"), std::string::npos) << listed(problems);
    EXPECT_NE(to_string(problems[0]).find("fm-video"), std::string::npos) << listed(problems);
}

TEST(KitProblem, NeverThrowsWhateverThePilotWritesInItsPlace) {
    for (const auto* kit : {"5", "true", "[\"trainer\"]", "{name = \"trainer\"}", "2026-06-12",
                            "\"\"", "\"\\u0007\""})
        EXPECT_FALSE(problems_of(changed(trainer_day(), "\"trainer\"", kit)).empty()) << kit;
    for (const auto* video : {"5", "\"R1\"", "[1]"})
        EXPECT_FALSE(problems_of(trainer_day("video = " + std::string(video) + "\n")).empty())
            << video;
}

// --- what many bring at once

/// A kit whose gear takes so many bytes more than it must.
std::string padded(std::size_t more) {
    return "[kit.long]\ntitle = \"Long\"\ncontrol_link = \"" + std::string(1 + more, 'x') + "\"\n";
}

// A kit is copied into everybody who has it: a short file with long kits would be a long one.
TEST(KitProblem, IsMoreGearThanAKitMayBring) {
    const auto size = sheet_of(field_text() + padded(0)).kits(0).toml().size();
    const auto most = sheet_of(field_text() + padded(kit_bytes_max - size));
    EXPECT_EQ(most.kits(0).toml().size(), kit_bytes_max);
    const auto problems = problems_of(field_text() + padded(kit_bytes_max - size + 1));
    ASSERT_EQ(problems.size(), 1U) << listed(problems);
    EXPECT_NE(problems[0].what.find("4097 bytes"), std::string::npos) << listed(problems);
}

TEST(KitProblem, IsNotSaidOfEachOfMorePilotsThanThereMayBe) {
    std::string text = relay_day();
    for (std::size_t i = 0; i < pilots_max; ++i) text += gil("trainer");
    const auto problems = problems_of(text);
    ASSERT_EQ(problems.size(), 1U) << listed(problems);
    EXPECT_EQ(problems[0].what, "has 501 entries");
}

// --- on a live day

TEST(KitOnALiveDay, IsKnownToPartsThatAreEnteredLater) {
    const auto base = sheet_of(trainer_day());
    Problems problems;
    const auto una = changed(gil("trainer"), "name = \"Gil\"", "name = \"Una\"");
    const auto parts = read_parts(una, "una.toml", base, problems);
    ASSERT_TRUE(parts) << listed(problems);
    ASSERT_EQ(parts->sheet.pilots_size(), 1);
    EXPECT_EQ(parts->sheet.pilots(0).kit(), "trainer");
    EXPECT_EQ(parts->sheet.pilots(0).receivers_size(), 2);
    EXPECT_EQ(parts->sheet.pilots(0).video().channels_size(), 8);
}

TEST(KitOnALiveDay, IsNotKnownToADayThatNeverHadIt) {
    Problems problems;
    EXPECT_FALSE(read_parts(gil("trainer"), "gil.toml", sheet_of(field_text()), problems));
    EXPECT_NE(listed(problems).find("no kit is called 'trainer'"), std::string::npos);
}

TEST(KitOnALiveDay, ComesWithThePartsThatDefineIt) {
    Problems problems;
    const auto parts = read_parts(std::string(trainer) + gil("trainer"), "gil.toml",
                                  sheet_of(field_text()), problems);
    ASSERT_TRUE(parts) << listed(problems);
    ASSERT_EQ(parts->sheet.kits_size(), 1);
    EXPECT_EQ(parts->sheet.kits(0).name(), "trainer");
}

TEST(KitOnALiveDay, BringsItsRelay) {
    const auto base = sheet_of(relay_day());
    Problems problems;
    const auto una =
        changed(gil("trainer", "relay_place = \"chair\"\n"), "name = \"Gil\"", "name = \"Una\"");
    const auto parts = read_parts(una, "una.toml", base, problems);
    ASSERT_TRUE(parts) << listed(problems);
    ASSERT_EQ(parts->sheet.relays_size(), 1);
    EXPECT_EQ(parts->sheet.relays(0).name(), "Una's relay");
}

TEST(KitProblem, IsARelayThatIsNoTable) {
    for (const auto* relay : {"relay = 5\n", "relay = \"mast\"\n"})
        EXPECT_FALSE(problems_of(field_text() + "[kit.odd]\ntitle = \"Odd\"\n" + relay +
                                 "[kit.odd.handset]\n" + gil("odd", "relay_place = \"tripod\"\n"))
                         .empty())
            << relay;
    EXPECT_FALSE(problems_of(field_text() + std::string(trainer) +
                             changed(mast.substr(0, mast.find("[[kit")), "[kit.trainer.relay]",
                                     "[[kit.trainer.relay]]") +
                             gil("trainer", "relay_place = \"tripod\"\n"))
                     .empty());
}
TEST(KitProblem, IsAPlaceForARelayThatTheKitDoesNotBring) {
    EXPECT_FALSE(problems_of(trainer_day("relay_place = \"tripod\"\n")).empty());
}
TEST(KitProblem, IsAPlaceForARelayThatIsNoText) {
    EXPECT_FALSE(problems_of(relay_day("relay_place = 5\n")).empty());
}
TEST(KitRelay, ComesToAPilotWithALongName) {
    const auto text = changed(relay_day(), "name = \"Gil\"",
                              "name = \"Gilbertine of the Farther Long Meadow\"");  // 38 characters
    EXPECT_EQ(listed(problems_of(text)), "");
}
TEST(KitRelay, DoesNotMeetAnotherPilotsRelayOfThatName) {
    const auto text = relay_day() + "[[pilot]]\nname = \"Gil's relay\"\nplace = \"line-1\"\n";
    EXPECT_EQ(listed(problems_of(text)), "");
}

}  // namespace
}  // namespace fieldpeg::book
