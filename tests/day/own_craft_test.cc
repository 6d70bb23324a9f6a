#include "server/day/check.h"
#include "tests/support/control.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

/// What is said of satellite positioning and a pilot's own transmitters (docs/model.md, section
/// 14). Levels by hand, as in tests/spectrum/own_craft_test.cc: 25 mW is 13.98 dBm.
namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;

/// Every caution on somebody's positioning that is made of levels.
std::string positioning(std::string_view text) {
    std::string all;
    const auto reply = check(sheet_of(text), v1::Basis::held, 0);
    for (const auto& caution : reply.cautions())
        if (caution.find("'s positioning: ") != std::string::npos) all += caution + "\n";
    return all;
}
bool has(const std::string& text, std::string_view phrase) {
    return text.find(phrase) != std::string::npos;
}

const std::string upper = "positioning_receiver = \"satellite-l1\"";
const std::string both = "positioning_receiver = \"satellite-l1-l2\"";

std::string ann(const std::string& mhz, const std::string& receiver,
                const std::string& more_video = "", const std::string& power_mw = "25") {
    return field_text() + text_of(PilotText{.name = "Ann",
                                            .channel = mhz,
                                            .power_mw = power_mw,
                                            .more = receiver,
                                            .more_video = more_video});
}

// 2 x 787.5 MHz: 13.979 - 20 - 40 - 6.021 + 97.965 = 45.9 dB.
TEST(PositioningCaution, NamesTheHarmonicItsFrequencyAndItsLevel) {
    const auto said = positioning(ann("787.5", upper));
    EXPECT_TRUE(has(said,
                    "Ann's positioning: a harmonic of Ann at 1575 MHz lies 46 dB above its "
                    "noise"))
        << said;
    EXPECT_TRUE(has(said, "(assumed)")) << said;
    EXPECT_TRUE(has(said, "before flying")) << said;
    EXPECT_EQ(std::ranges::count(said, '\n'), 1);
}

// 3 x 525 MHz: 13.979 - 20 - 50 - 9.542 + 97.965 = 32.4 dB. 3 x 433 MHz lies in the lower band
// only.
TEST(PositioningCaution, IsOnThirdHarmonicsToo) {
    EXPECT_TRUE(has(positioning(ann("525", upper)), "at 1575 MHz lies 32 dB above"));
    EXPECT_EQ(positioning(ann("433", upper)), "");
    EXPECT_TRUE(has(positioning(ann("433", both)), "at 1299 MHz lies 32 dB above"));
}

// 45.9 dB less 48 are 2 dB below the noise, less 52 are 6 dB below: noise rises by less than 1 dB.
TEST(PositioningCaution, GoesAwayWithAFilterOrHarmonicsThatAreLow) {
    EXPECT_TRUE(has(positioning(ann("787.5", upper, "harmonic_filter_db = 48\n")),
                    "lies 2 dB below its noise"));
    EXPECT_EQ(positioning(ann("787.5", upper, "harmonic_filter_db = 52\n")), "");
    EXPECT_EQ(positioning(ann("787.5", upper, "harmonics_db = [92, 50]\n")), "");
    EXPECT_TRUE(has(positioning(ann("787.5", upper, "harmonics_db = [60, 92]\n")),
                    "lies 26 dB above its noise"));
}

// Its own 1.3 GHz video: 29 - 20 = 9 dBm in the lower band, against -24.6 dBm.
TEST(PositioningCaution, SaysThatItsOwnVideoDrownsIt) {
    EXPECT_TRUE(has(positioning(ann("1280", both, "", "800")), "its own video drowns it"));
    EXPECT_EQ(positioning(ann("1280", upper, "", "800")), "");
}

TEST(PositioningCaution, IsNotGivenOnUsualGear) {
    for (const auto& receiver : {upper, both})
        EXPECT_EQ(positioning(ann("R3", receiver) + std::string(testing::steered)), "");
}

TEST(PositioningCaution, IsNotGivenWhereNobodyDeclaredAReceiver) {
    EXPECT_EQ(positioning(ann("787.5", "")), "");
}

// Whoever else is on the air is too far for that, and unknown to it.
TEST(PositioningCaution, CountsThePilotsOwnOnly) {
    EXPECT_EQ(positioning(ann("R3", upper) +
                          text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "787.5"})),
              "");
    EXPECT_EQ(positioning(field_text() + unclaimed(PilotText{.name = "Ann", .more = upper}) +
                          text_of(RelayText{.name = "mast", .owner = "Ann", .channel = "R8"})),
              "");
}

// What hops is in no band long enough; its power is, but 20 dB would take 15 W of it.
TEST(PositioningCaution, IsNotGivenOnAHandsetThatHops) {
    const auto handset = [](const std::string& mw) {
        return "[pilot.handset]\nhop_mhz = [780, 800]\npower_mw = " + mw + "\n";
    };
    EXPECT_EQ(positioning(ann("R3", upper) + handset("1000")), "");
}

}  // namespace
}  // namespace fieldpeg::day
