#include "server/day/remarks.h"

#include "server/book/library.h"
#include "server/day/check.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <string>

namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::field_text;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;

const v1::RuleSet& rules(std::string_view name) {
    return *std::ranges::find(book::library().rule_sets(), name, &v1::RuleSet::name);
}

v1::Channel channel(double mhz) {
    v1::Channel c;
    c.set_mhz(mhz);
    c.set_name(std::to_string(static_cast<int>(mhz)));
    return c;
}

/// What a rule set alone remarks.
std::vector<v1::Remark> by(std::string_view name, double mhz, double width_mhz,
                           std::optional<double> eirp_dbm) {
    return remarks(Occupied{channel(mhz), width_mhz, eirp_dbm}, &rules(name), {});
}

std::string text_of_only(const std::vector<v1::Remark>& list) {
    EXPECT_EQ(list.size(), 1u);
    return list.empty() ? "" : list[0].text();
}

bool contains(const std::string& text, std::string_view part) {
    return text.find(part) != std::string::npos;
}

TEST(Remark, IsNoneInsideABandBelowItsLimit) {
    EXPECT_TRUE(by("cept-25mw", 5800, 18, 13.97).empty());
    EXPECT_TRUE(by("us-amateur", 5800, 18, 40).empty());  // a band without a limit
    EXPECT_TRUE(by("cept-25mw", 5800, 18, std::nullopt).empty());
}

// 25 mW into an antenna of 3 dBi is 50 mW e.i.r.p.: 3 dB too many.
TEST(Remark, IsMadeOnPowerByTheGainOfTheAntenna) {
    const auto text = text_of_only(by("cept-25mw", 5800, 18, 16.989));
    EXPECT_TRUE(contains(text, "50 mW e.i.r.p. exceeds 25 mW")) << text;
    EXPECT_TRUE(contains(text, "by 3.0 dB")) << text;
    EXPECT_FALSE(by("cept-25mw", 5800, 18, 14.0).empty());  // 25 mW is 13.979 dBm
}

// Not the channel's centre but what it occupies must lie inside: 5725 to 5875 MHz.
TEST(Remark, IsMadeOnTheOccupiedWidth) {
    EXPECT_TRUE(by("cept-25mw", 5734, 18, 10).empty());
    EXPECT_TRUE(contains(text_of_only(by("cept-25mw", 5733.9, 18, 10)), "not within a band"));
    EXPECT_TRUE(by("cept-25mw", 5866, 18, 10).empty());
    EXPECT_TRUE(contains(text_of_only(by("cept-25mw", 5866.1, 18, 10)), "occupied 5857.1-5875.1"));
    EXPECT_TRUE(contains(text_of_only(by("cept-25mw", 5658, 18, 10)), "not within a band"));
}

// 50 mV/m at 3 m is 0.75 mW e.i.r.p.: (0.05 x 3)^2 / 30 W.
TEST(Remark, IsMadeOnAFieldStrengthAsPower) {
    EXPECT_TRUE(by("us-unlicensed", 5800, 18, -1.26).empty());
    EXPECT_TRUE(contains(text_of_only(by("us-unlicensed", 5800, 18, 13.979)), "exceeds 0.75 mW"));
}

TEST(Remark, IsMadeByEveryRuleSetOnWhatLiesFarOff) {
    for (const auto& set : book::library().rule_sets())
        EXPECT_TRUE(contains(text_of_only(by(set.name(), 3300, 18, 10)), set.title()))
            << set.name();
}

TEST(Remark, IsMadeOnServicesToKeepClearOf) {
    const auto& services = book::library().services();
    const auto on = [&](double mhz, double width_mhz) {
        std::string all;
        for (const auto& r : remarks(Occupied{channel(mhz), width_mhz, 10}, nullptr, services))
            all += r.text() + "\n";
        return all;
    };
    EXPECT_EQ(on(5800, 18), "");
    EXPECT_TRUE(contains(on(5645, 18), "weather radar"));
    EXPECT_TRUE(contains(on(5658, 18), "weather radar"));  // 5649 MHz, one inside
    EXPECT_EQ(on(5659, 18), "");                           // 5650 MHz, just beside
    EXPECT_TRUE(contains(on(1280, 18), "satellite navigation"));
    EXPECT_TRUE(contains(on(1090, 18), "aeronautical radionavigation"));
    EXPECT_TRUE(contains(on(5905, 18), "road traffic"));
}

// Advice with its source, never clearance.
TEST(Remark, NamesItsSourceAndClearsNothing) {
    for (const auto& set : book::library().rule_sets()) {
        for (double mhz = 900; mhz < 6000; mhz += 27) {
            for (const auto& r :
                 remarks(Occupied{channel(mhz), 18, 30}, &set, book::library().services())) {
                EXPECT_FALSE(r.source().empty()) << r.text();
                std::string text = r.text();
                std::ranges::transform(text, text.begin(), [](unsigned char c) {
                    return static_cast<char>(std::tolower(c));
                });
                for (const auto* word : {"legal", "safe", "allowed", "cleared"})
                    EXPECT_FALSE(contains(text, word)) << text;
            }
        }
    }
}

TEST(Remark, OfADayNamesWhomItConcerns) {
    auto text = field_text() + text_of(PilotText{.name = "Ann", .channel = "F4"}) +
                text_of(PilotText{.name = "Ben", .channel = "R1"});
    text = changed(text, "[field]", "rules = \"cept-25mw\"\n[field]");
    const auto reply = check(sheet_of(text), v1::Basis::held, 0);
    // 25 mW less 0.5 dB of cable into 1.2 dBi: 0.7 dB more than 25 mW, for both.
    const auto of = [&](std::string_view name) {
        std::string all;
        for (const auto& r : reply.remarks())
            if (r.transmitter() == name) all += r.text() + "\n";
        return all;
    };
    EXPECT_TRUE(contains(of("Ann"), "F4 (5800 MHz)")) << of("Ann");
    EXPECT_TRUE(contains(of("Ann"), "by 0.7 dB")) << of("Ann");
    EXPECT_TRUE(contains(of("Ben"), "not within a band")) << of("Ben");
    EXPECT_TRUE(contains(of("Ben"), "weather radar")) << of("Ben");
}

// --- what the model does not cover

std::string cautions_of(std::string_view text) {
    const auto reply = check(sheet_of(text), v1::Basis::held, 0);
    std::string all;
    for (const auto& caution : reply.cautions()) all += caution + "\n";
    return all;
}

TEST(Caution, IsGivenOnVideoInTheBandOfAControlLink) {
    const auto ann = [](const std::string& more, const std::string& mhz) {
        return cautions_of(field_text() + text_of(PilotText{.name = "Ann", .more = more}) +
                           text_of(PilotText{.name = "Ben", .channel = mhz}));
    };
    const std::string link = "control_link = \"hopping-2g4\"";
    EXPECT_TRUE(
        contains(ann(link, "2432"), "Ben on 2432 MHz lies in the band of Ann's control link"));
    EXPECT_FALSE(contains(ann("", "2432"), "control link"));
    EXPECT_FALSE(contains(ann(link, "2370"), "control link"));
}

// 2 x 1215 MHz is 2430 MHz. Only the harmonics of the same aircraft count.
TEST(Caution, IsGivenOnAHarmonicOfTheOwnVideo) {
    const std::string link = "control_link = \"hopping-2g4\"";
    const auto own = cautions_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "1215", .more = link}));
    EXPECT_TRUE(contains(own, "has a harmonic in the band of Ann's control link")) << own;
    const auto other = cautions_of(field_text() + text_of(PilotText{.name = "Ann", .more = link}) +
                                   text_of(PilotText{.name = "Ben", .channel = "1215"}));
    EXPECT_FALSE(contains(other, "harmonic")) << other;
}

TEST(Caution, IsGivenOnAReceiverOutsideItsBand) {
    const auto text =
        cautions_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "1280"}));
    EXPECT_TRUE(contains(text, "Ann's goggles is a fm-video-5g8: 1280 MHz lies outside its band"))
        << text;
}

TEST(Caution, IsGivenOnAntennasInOnePlace) {
    const auto relay_at = [](const std::string& place) {
        return cautions_of(
            field_text() + text_of(PilotText{.name = "Ann"}) +
            text_of(PilotText{.name = "Dee", .place = "line-4", .channel = "R4"}) +
            text_of(testing::RelayText{.name = "mast", .owner = "Dee", .place = place}));
    };
    EXPECT_TRUE(contains(relay_at("line-1"), "mast and Ann's goggles stand in the same place"));
    EXPECT_FALSE(contains(relay_at("tripod"), "same place"));
}

}  // namespace
}  // namespace fieldpeg::day
