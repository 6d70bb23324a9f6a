#include "server/book/day_file.h"
#include "server/book/parts.h"
#include "tests/book/mistakes.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <string_view>

/// What radiates beside video and relays, and what hears it, in a day file.
namespace fieldpeg::book {
namespace {

using testing::changed;
using testing::expect_each_said;
using testing::field_text;
using testing::listed;
using testing::PilotText;
using testing::problems_of;
using testing::sheet_of;
using testing::text_of;

constexpr double mw400_dbm = 26.020599913279625;

/// Everything said.
const std::string_view tables = R"toml(
[pilot.uplink]
emission       = "ofdm-20"
antenna        = "circular-patch"
polarisation   = "lhcp"
loss_db        = 1
power_mw       = 400
place          = "tripod"
duty           = 0.25
measured = ['power']
[pilot.handset]
antenna    = "vertical-omni-1g3"
power_dbm  = 14
hop_mhz    = [2410, 2470]
duty       = 0.4
place      = "line-2"
[pilot.control]
receiver  = "control-2g4"
antenna   = "vertical-omni-1g3"
loss_db   = 1.5
hop_mhz   = [2412, 2468]
step_mhz  = 2
)toml";

const std::string_view emitters = R"toml(
[[field.emitter]]
name               = "canteen"
wifi               = 6
width_mhz          = 20
antenna            = "dipole"
polarisation       = "horizontal"
power_mw           = 400
place              = "pits"
duty               = 0.7
harmonic_filter_db = 30
[[field.emitter]]
name     = "repeater"
channel  = 433.5
emission = "fm-video"
power_mw = 400
place    = "tripod"
)toml";

std::string full_day() {
    return field_text() + std::string(emitters) + text_of(PilotText{.name = "Ann"}) +
           std::string(tables);
}

/// Nothing said that has a default.
std::string bare_day() {
    return field_text() + "[[field.emitter]]\nname = \"canteen\"\nwifi = 36\nplace = \"pits\"\n" +
           text_of(PilotText{.name = "Ann"}) +
           "[pilot.uplink]\npower_mw = 100\n[pilot.handset]\n[pilot.control]\n";
}

bool is_said(const google::protobuf::RepeatedPtrField<std::string>& defaults,
             std::string_view text) {
    return std::ranges::find(defaults, text) != defaults.end();
}

TEST(Emitters, AreReadAsTheyAreWritten) {
    const auto sheet = sheet_of(full_day());
    ASSERT_EQ(sheet.field().emitters_size(), 2);
    const auto& canteen = sheet.field().emitters(0);
    EXPECT_EQ(canteen.name(), "canteen");
    EXPECT_EQ(canteen.channel().mhz(), 2437);  // IEEE 802.11 [from memory]
    EXPECT_EQ(canteen.transmitter().emission(), "ofdm-20");
    EXPECT_EQ(canteen.transmitter().mounting().polarisation(), v1::Polarisation::horizontal);
    EXPECT_NEAR(canteen.power_dbm(), mw400_dbm, 1e-9);
    EXPECT_EQ(canteen.place(), "pits");
    EXPECT_EQ(canteen.duty(), 0.7);
    EXPECT_EQ(canteen.transmitter().harmonic_filter_db(), 30);
    EXPECT_FALSE(canteen.has_hops());
    const auto& repeater = sheet.field().emitters(1);
    EXPECT_EQ(repeater.channel().mhz(), 433.5);
    EXPECT_EQ(repeater.transmitter().emission(), "fm-video");
}

TEST(Emitters, OfAPilotAreReadAsTheyAreWritten) {
    const auto ann = sheet_of(full_day()).pilots(0);
    const auto& uplink = ann.uplink();
    EXPECT_EQ(uplink.transmitter().emission(), "ofdm-20");
    EXPECT_EQ(uplink.transmitter().mounting().antenna(), "circular-patch");
    EXPECT_EQ(uplink.transmitter().mounting().loss_db(), 1);
    EXPECT_NEAR(uplink.power_dbm(), mw400_dbm, 1e-9);
    EXPECT_EQ(uplink.place(), "tripod");
    EXPECT_EQ(uplink.duty(), 0.25);
    EXPECT_EQ(uplink.transmitter().measured(0), "power");
    EXPECT_FALSE(uplink.has_channel());  // it goes where its pilot goes
    const auto& handset = ann.handset();
    EXPECT_EQ(handset.power_dbm(), 14);
    EXPECT_EQ(handset.hops().low_mhz(), 2410);
    EXPECT_EQ(handset.hops().high_mhz(), 2470);
    EXPECT_EQ(handset.channel().mhz(), 2440);
    EXPECT_EQ(handset.duty(), 0.4);
    EXPECT_EQ(handset.place(), "line-2");
    const auto& control = ann.control();
    EXPECT_EQ(control.receiver(), "control-2g4");
    EXPECT_EQ(control.mounting().loss_db(), 1.5);
    EXPECT_EQ(control.hops().low_mhz(), 2412);
    EXPECT_EQ(control.hops().high_mhz(), 2468);
    EXPECT_EQ(control.step_mhz(), 2);
}

// docs/model.md, sections 6 and 14 [ours: assumed].
TEST(Emitters, AreTakenToBeOfTheUsualKindWhereNothingIsSaid) {
    const auto sheet = sheet_of(bare_day());
    const auto& ann = sheet.pilots(0);
    EXPECT_EQ(ann.uplink().duty(), 0.2);
    EXPECT_EQ(ann.uplink().place(), "");  // where the pilot stands
    EXPECT_EQ(ann.uplink().transmitter().emission(), "fm-video");
    EXPECT_EQ(ann.handset().transmitter().emission(), "hopping-2g4");
    EXPECT_EQ(ann.handset().power_dbm(), 20);
    EXPECT_EQ(ann.handset().hops().low_mhz(), 2402);
    EXPECT_EQ(ann.handset().hops().high_mhz(), 2480);
    EXPECT_EQ(ann.handset().duty(), 0.5);
    EXPECT_EQ(ann.control().receiver(), "control-2g4");
    EXPECT_EQ(ann.control().hops().low_mhz(), 2402);
    EXPECT_EQ(ann.control().step_mhz(), 1);
    EXPECT_EQ(sheet.field().emitters(0).transmitter().emission(), "ofdm-20");
    EXPECT_EQ(sheet.field().emitters(0).channel().mhz(), 5180);  // IEEE 802.11 [from memory]
}

TEST(Emitters, SayInWordsWhatWasTakenToBeSo) {
    const auto sheet = sheet_of(bare_day());
    const auto& ann = sheet.pilots(0).defaults();
    for (const auto* text :
         {"handset: dipole, loss 0.5 dB", "handset: 100 mW", "handset: hops from 2402 to 2480 MHz",
          "handset: sends 50 % of the time", "control receiver: dipole, loss 0.5 dB",
          "control receiver: control-2g4, in steps of 1 MHz",
          "control receiver: hops from 2402 to 2480 MHz", "ground side: circular-omni, loss 0.5 dB",
          "ground side: sends 20 % of the time"})
        EXPECT_TRUE(is_said(ann, text)) << text;
    const auto& field = sheet.field().defaults();
    for (const auto* text : {"canteen: 20 MHz wide", "canteen: dipole, loss 0.5 dB",
                             "canteen: 100 mW", "canteen: sends 30 % of the time"})
        EXPECT_TRUE(is_said(field, text)) << text;
}

TEST(Emitters, TakeNothingToBeSoThatIsSaid) {
    const auto sheet = sheet_of(full_day());
    for (const auto& text : sheet.field().defaults()) {
        EXPECT_EQ(text.find("canteen: sends"), std::string::npos) << text;
        EXPECT_EQ(text.find("canteen: 20 MHz"), std::string::npos) << text;
        EXPECT_EQ(text.find(" mW"), std::string::npos) << text;
    }
    for (const auto& text : sheet.pilots(0).defaults()) {
        EXPECT_EQ(text.find("sends"), std::string::npos) << text;
        EXPECT_EQ(text.find("hops"), std::string::npos) << text;
        EXPECT_EQ(text.find(" mW"), std::string::npos) << text;
    }
}

TEST(Emitters, LeaveTheControlReceiverHoppingWithItsHandset) {
    const auto sheet = sheet_of(
        changed(bare_day(), "[pilot.handset]\n", "[pilot.handset]\nhop_mhz = [2405, 2475]\n"));
    EXPECT_EQ(sheet.pilots(0).control().hops().low_mhz(), 2405);
    EXPECT_EQ(sheet.pilots(0).control().hops().high_mhz(), 2475);
}

TEST(Emitters, HaveTheWidthThatIsSaid) {
    const auto canteen = [](std::string_view width) {
        return sheet_of(changed(bare_day(), "wifi = 36\n", width)).field().emitters(0);
    };
    EXPECT_EQ(canteen("wifi = 36\nwidth_mhz = 10\n").transmitter().emission(), "ofdm-10");
    const auto wide = canteen("wifi = 36\nwidth_mhz = 40\n");
    EXPECT_EQ(wide.transmitter().emission(), "ofdm-40");
    EXPECT_EQ(wide.channel().mhz(), 5190);  // 36 and 40 together, IEEE 802.11 [from memory]
    EXPECT_EQ(canteen("channel = \"5745\"\nwidth_mhz = 40\n").channel().mhz(), 5745);
}

TEST(Emitters, BringTheirGearAlong) {
    const auto sheet = sheet_of(full_day());
    const auto has = [](const auto& list, std::string_view name) {
        return std::ranges::any_of(list, [&](const auto& one) { return one.name() == name; });
    };
    EXPECT_TRUE(has(sheet.emissions(), "ofdm-20"));
    EXPECT_TRUE(has(sheet.emissions(), "hopping-2g4"));
    EXPECT_TRUE(has(sheet.receiver_profiles(), "control-2g4"));
    EXPECT_TRUE(has(sheet.antennas(), "vertical-omni-1g3"));
    EXPECT_TRUE(has(sheet.antennas(), "circular-patch"));
}

TEST(Emitters, MayHaveAnyDutyThatThereIs) {
    for (const auto* duty : {"duty               = 1", "duty               = 0.001"})
        EXPECT_TRUE(problems_of(changed(full_day(), "duty               = 0.7", duty)).empty())
            << duty;
}

// --- what is wrong is said, with file, line and key

TEST(EmitterProblem, IsADutyThatCannotBe) {
    expect_each_said(
        full_day(),
        {{"duty           = 0.25", "duty = 0", "pilot 'Ann', ground side, duty: 0 is"},
         {"duty           = 0.25", "duty = 1.2", "duty: 1.2 is out of range"},
         {"duty       = 0.4", "duty = -0.4", "pilot 'Ann', handset, duty: -0.4 is"},
         {"duty       = 0.4", "duty = nan", "nan is out of range"},
         {"duty               = 0.7", "duty = 1.0001",
          "field, emitter 'canteen', duty: 1.0001 is out of range"},
         {"duty               = 0.7", "duty = \"often\"", "emitter 'canteen', duty: "}});
}

TEST(EmitterProblem, IsAHopBandThatIsNone) {
    expect_each_said(
        full_day(),
        {{"hop_mhz    = [2410, 2470]", "hop_mhz = [2470, 2410]",
          "pilot 'Ann', handset, hop_mhz: has its ends the wrong way round"},
         {"hop_mhz    = [2410, 2470]", "hop_mhz = [2470, 2470]", "the wrong way round"},
         {"hop_mhz    = [2410, 2470]", "hop_mhz = [2410]", "handset, hop_mhz: has 1 entries"},
         {"hop_mhz    = [2410, 2470]", "hop_mhz = [2410, inf]", "inf is out of range"},
         {"hop_mhz   = [2412, 2468]", "hop_mhz = [2468, 2412]",
          "pilot 'Ann', control, hop_mhz: has its ends the wrong way round"}});
}

TEST(EmitterProblem, IsAStepThatDoesNotFitIntoItsBand) {
    expect_each_said(full_day(),
                     {{"step_mhz  = 2", "step_mhz = 57",
                       "pilot 'Ann', control, step_mhz: is wider than the band of 56 MHz"},
                      {"step_mhz  = 2", "step_mhz = 0", "control, step_mhz: 0 is out of range"},
                      {"step_mhz  = 2", "step_mhz = -1", "-1 is out of range"},
                      {"step_mhz  = 2", "step_mhz = nan", "nan is out of range"}});
    EXPECT_TRUE(problems_of(changed(full_day(), "step_mhz  = 2", "step_mhz = 56")).empty());
}

TEST(EmitterProblem, IsANumberThatNoWirelessNetworkHas) {
    expect_each_said(full_day(),
                     {{"wifi               = 6", "wifi = 15",
                       "field, emitter 'canteen', wifi: there is no channel 15"},
                      {"wifi               = 6", "wifi = 37", "wifi: there is no channel 37"},
                      {"wifi               = 6", "wifi = 200", "wifi: there is no channel 200"},
                      {"wifi               = 6", "wifi = 0", "wifi: 0 is out of range"},
                      {"wifi               = 6", "wifi = 201", "wifi: 201 is out of range"},
                      {"wifi               = 6", "wifi = 6.5", "wifi: is no whole number"},
                      {"wifi               = 6", "wifi = \"six\"", "emitter 'canteen', wifi: "},
                      {"wifi               = 6", "wifi = 6\nchannel = 2437",
                       "wifi: is given beside channel; expected one of the two", "wifi = 6"},
                      {"width_mhz          = 20", "width_mhz = 40",
                       "width_mhz: on 2.4 GHz a number does not tell where 40 MHz lie"}});
}

TEST(EmitterProblem, IsAWidthThatThereIsNot) {
    const auto mhz = changed(full_day(), "wifi               = 6", "channel = 5745");
    expect_each_said(mhz, {{"width_mhz          = 20", "width_mhz = 80",
                            "canteen', width_mhz: is 80 MHz; expected 10, 20 or 40"},
                           {"width_mhz          = 20", "width_mhz = 21", "is 21 MHz"},
                           {"width_mhz          = 20", "width_mhz = 0", "0 is out of range"},
                           {"width_mhz          = 20", "width_mhz = 20\nemission = \"ofdm-40\"",
                            "width_mhz: is given beside emission", "width_mhz = 20"}});
}

TEST(EmitterProblem, IsAnEmitterWithoutWhatItNeeds) {
    expect_each_said(
        full_day(),
        {{"place              = \"pits\"", "", "emitter 'canteen', place: is missing",
          "[[field.emitter]]\nname               = \"canteen\""},
         {"name               = \"canteen\"", "", "name: is missing", "[[field.emitter]]"},
         {"channel  = 433.5", "", "emitter 'repeater', channel: is missing",
          "[[field.emitter]]\nname     = \"repeater\""},
         {"channel  = 433.5", "channel = 99", "lies outside 100 to 10000 MHz"},
         {"channel  = 433.5", "channel = \"Q1\"", "is no channel"},
         {"place              = \"pits\"", "place = \"pit\"", "did you mean 'pits'?"},
         {"name               = \"canteen\"", "name = \"Ann\"", "'Ann' is used twice",
          "name = \"Ann\"\nplace"}});
}

TEST(EmitterProblem, IsAGroundSideWithoutWhatItNeeds) {
    expect_each_said(
        full_day(),
        {{"power_mw       = 400\nplace          = \"tripod\"", "place = \"tripod\"",
          "pilot 'Ann', ground side, power_mw: is missing", "[pilot.uplink]"},
         {"power_mw       = 400", "power_mw = -1", "ground side, power_mw: -1 is out"},
         {"power_mw       = 400", "power_mw = [100, 400]", "ground side, power_mw"},
         {"emission       = \"ofdm-20\"", "emission = \"ofdm-21\"", "did you mean 'ofdm-20'?"}});
    const auto watcher = field_text() +
                         "[[pilot]]\nname = \"Ben\"\nplace = \"line-2\"\n[pilot.uplink]\n"
                         "power_mw = 100\nantenna = \"dipole\"\n";
    const auto problems = problems_of(watcher);
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_NE(to_string(problems[0]).find("pilot 'Ben', ground side: belongs to no video"),
              std::string::npos)
        << to_string(problems[0]);
}

TEST(EmitterProblem, IsAControlReceiverThatHearsNobody) {
    const auto text = field_text() + text_of(PilotText{.name = "Ann"}) + "[pilot.control]\n";
    const auto problems = problems_of(text);
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_NE(to_string(problems[0])
                  .find("pilot 'Ann', control: hears nobody; expected a "
                        "[pilot.handset]"),
              std::string::npos)
        << to_string(problems[0]);
    expect_each_said(full_day(), {{"receiver  = \"control-2g4\"", "receiver = \"control-2g5\"",
                                   "did you mean 'control-2g4'?"}});
}

TEST(EmitterProblem, IsAControlReceiverThatFliesNowhere) {
    const auto problems = problems_of(field_text() +
                                      "[[pilot]]\nname = \"Ben\"\nplace = \"line-2\"\n"
                                      "[pilot.handset]\n[pilot.control]\n");
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_NE(to_string(problems[0]).find("pilot 'Ben', control: flies nowhere"), std::string::npos)
        << to_string(problems[0]);
}

TEST(EmitterProblem, IsAnUnknownKey) {
    expect_each_said(
        full_day(),
        {{"harmonic_filter_db = 30", "harmonic_filter = 30",
          "harmonic_filter: is an unknown key; did you mean 'harmonic_filter_db'?"},
         {"measured = ['power']", "hop_mhz = [5700, 5900]", "hop_mhz: is an unknown key"},
         {"duty       = 0.4", "dutty = 0.4", "dutty: is an unknown key; did you mean 'duty'?"},
         {"step_mhz  = 2", "stepp_mhz = 2", "did you mean 'step_mhz'?"},
         {"[[field.emitter]]", "[[field.emiter]]", "did you mean 'emitter'?"},
         {"[pilot.uplink]", "[pilot.uplnk]", "did you mean 'uplink'?"}});
}

TEST(EmitterProblem, IsAnAbsurdNumber) {
    expect_each_said(full_day(),
                     {{"harmonic_filter_db = 30", "harmonic_filter_db = -1", "-1 is out of range"},
                      {"harmonic_filter_db = 30", "harmonic_filter_db = 1000", "is out of range"},
                      {"power_dbm  = 14", "power_dbm = 51", "handset, power_dbm: 51 is out"},
                      {"power_dbm  = 14", "power_dbm = nan", "nan is out of range"},
                      {"loss_db   = 1.5", "loss_db = -1", "control, loss_db: -1 is out of range"},
                      {"measured = ['power']", "measured = 1", "measured"}});
}

TEST(EmitterProblem, IsOneTooMany) {
    std::string text = field_text();
    for (std::size_t i = 0; i <= emitters_max; ++i)
        text += "[[field.emitter]]\nname = \"e" + std::to_string(i) +
                "\"\nwifi = 6\nplace = \"pits\"\n";
    const auto problems = problems_of(text);
    ASSERT_EQ(problems.size(), 1u) << listed(problems);
    EXPECT_NE(to_string(problems[0]).find("at most 50"), std::string::npos)
        << to_string(problems[0]);
}

// --- parts that are entered while a day goes on

TEST(EmitterParts, AreReadByThemselves) {
    Problems problems;
    const auto parts = read_parts(emitters, "parts", sheet_of(field_text()), problems);
    ASSERT_TRUE(parts) << listed(problems);
    ASSERT_EQ(parts->sheet.field().emitters_size(), 2);
    EXPECT_EQ(parts->sheet.field().emitters(0).name(), "canteen");
    EXPECT_TRUE(parts->sheet.field().places().empty());  // only referred to
    EXPECT_TRUE(parts->sheet.pilots().empty());
}

TEST(EmitterParts, LeaveOutThoseThatWereThereBefore) {
    const auto base = sheet_of(field_text() + std::string(emitters));
    Problems problems;
    const auto parts =
        read_parts("[[field.emitter]]\nname = \"kiosk\"\nwifi = 1\nplace = \"pits\"\n", "parts",
                   base, problems);
    ASSERT_TRUE(parts) << listed(problems);
    ASSERT_EQ(parts->sheet.field().emitters_size(), 1);
    EXPECT_EQ(parts->sheet.field().emitters(0).name(), "kiosk");
}

TEST(EmitterParts, AreNotReadByHalves) {
    Problems problems;
    const auto wrong = changed(emitters, "place    = \"tripod\"", "place = \"nowhere\"");
    EXPECT_FALSE(read_parts(wrong, "parts", sheet_of(field_text()), problems));
    EXPECT_EQ(problems.size(), 1u) << listed(problems);
}

TEST(EmitterParts, BringAPilotsOwnAlong) {
    auto pilot = text_of(PilotText{.name = "Ann", .stage = ""}) + std::string(tables);
    const auto claim = pilot.find("[pilot.claim]");
    pilot.erase(claim, pilot.find("[pilot.uplink]") - claim);
    Problems problems;
    const auto parts = read_parts(pilot, "parts", sheet_of(field_text()), problems);
    ASSERT_TRUE(parts) << listed(problems);
    ASSERT_EQ(parts->sheet.pilots_size(), 1);
    EXPECT_TRUE(parts->sheet.pilots(0).has_uplink());
    EXPECT_TRUE(parts->sheet.pilots(0).has_handset());
    EXPECT_TRUE(parts->sheet.pilots(0).has_control());
}

}  // namespace
}  // namespace fieldpeg::book
