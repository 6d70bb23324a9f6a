#include "server/day/check.h"
#include "server/day/explain.h"

#include "server/day/words.h"
#include "tests/support/days.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

constexpr std::size_t terms = 1000;

const v1::PilotResult& pilot(const v1::CheckReply& reply, std::string_view name) {
    return *std::ranges::find(reply.pilots(), name, &v1::PilotResult::pilot);
}
const v1::ReceiverResult& receiver(const v1::CheckReply& reply, std::string_view owner,
                                   std::string_view name = "goggles") {
    return *std::ranges::find_if(reply.receivers(), [&](const v1::ReceiverResult& r) {
        return r.owner() == owner && r.receiver() == name;
    });
}

const std::string second_goggles = R"toml(
[[pilot.receiver]]
receiver = "fm-video-5g8-sharp"
antenna = "circular-patch"
polarisation = "rhcp"
)toml";

/// Ann, and Ben with two receivers; Dee far out on 1.3 GHz with a relay to her chair.
std::string club(const std::string& ben_channel = "R4", const std::string& relay_mw = "25") {
    auto ben = text_of(PilotText{.name = "Ben", .place = "line-2", .channel = ben_channel});
    ben = changed(ben, "[pilot.claim]", second_goggles + "[pilot.claim]");
    auto dee = text_of(PilotText{
        .name = "Dee", .place = "chair", .channel = "1280", .power_mw = "800", .area = "valley"});
    dee = changed(dee, "circular-omni\"\npolarisation = \"rhcp\"", "vertical-omni-1g3\"");
    const std::string first_hop =
        "[[relay.receiver]]\nreceiver = \"fm-video-1g3\"\nantenna = \"wide-panel\"\n";
    return field_text() + text_of(PilotText{.name = "Ann"}) + ben + dee +
           text_of(RelayText{
               .name = "mast", .owner = "Dee", .power_mw = relay_mw, .tables = first_hop});
}

// The reply says what the radio model says of the same situation, rounded to 0.001.
TEST(Check, SaysWhatTheRadioModelSays) {
    const auto sheet = sheet_of(club());
    const auto reply = check(sheet, v1::Basis::held, terms);
    const auto s = situation(sheet, v1::Basis::held);
    const spectrum::LinkTable links(s.scene);
    spectrum::RejectionTables rejection(s.scene);
    const auto receptions = spectrum::assess(s.scene, links, rejection);
    ASSERT_EQ(reply.receivers_size(), static_cast<int>(receptions.size()));
    for (std::size_t v = 0; v < receptions.size(); ++v) {
        const auto& r = reply.receivers(static_cast<int>(v));
        ASSERT_TRUE(receptions[v]) << r.owner();
        const auto& reception = *receptions[v];
        const auto standing = spectrum::standing(reception);
        const auto& ref = reception.budget(spectrum::Geometry::usual);
        EXPECT_EQ(r.margin_ref_db(), milli(standing.good.count()));
        EXPECT_EQ(r.margin_worst_db(), milli(std::min(standing.good, standing.closest).count()));
        EXPECT_EQ(r.margin_usable_db(), milli(standing.usable.count()));
        EXPECT_EQ(r.margin_closest_db(), milli(standing.closest.count()));
        EXPECT_EQ(r.others_cost_db(), milli((standing.alone_good - standing.good).count()));
        EXPECT_EQ(r.verdict(), word(spectrum::verdict(standing)));
        EXPECT_EQ(r.range(), word(spectrum::range(standing)));
        EXPECT_EQ(r.interference(), word(spectrum::interference(standing)));
        EXPECT_EQ(r.picture(), grade(spectrum::picture(standing)));
        EXPECT_EQ(r.share(), milli(spectrum::share(reception, spectrum::Demand::watchable,
                                                   spectrum::Air::usual)));
        EXPECT_EQ(r.share_alone(), milli(spectrum::share(reception, spectrum::Demand::watchable,
                                                         spectrum::Air::alone)));
        EXPECT_EQ(r.share_sharp(),
                  milli(spectrum::share(reception, spectrum::Demand::sharp, spectrum::Air::usual)));
        EXPECT_EQ(r.wanted_dbm(), milli(reception.wanted(0.98).count()));
        EXPECT_EQ(r.wanted_usable_dbm(), milli(reception.wanted(0.80).count()));
        EXPECT_EQ(r.desense_db(), milli(ref.desensitisation.count()));
        EXPECT_EQ(r.noise_dbm(), milli(reception.noise.count()));
        EXPECT_EQ(r.has_interference_dbm(), ref.interference_mw() > 0);
        EXPECT_EQ(r.blocker_dbm(), milli(ref.blockers->count()));
        double sum_mw = 0;
        for (const auto& c : r.contributions())
            sum_mw += spectrum::milliwatts(spectrum::Dbm(c.level_dbm()));
        EXPECT_NEAR(sum_mw / std::max(ref.interference_mw(), 1e-30), sum_mw > 0 ? 1 : 0, 5e-4);
        if (r.has_interference_dbm()) {
            EXPECT_EQ(r.interference_dbm(), milli(spectrum::dbm(ref.interference_mw()).count()));
        }
        EXPECT_TRUE(std::ranges::is_sorted(r.contributions(), std::greater<>{},
                                           &v1::Contribution::level_dbm));
    }
}

TEST(Explain, SaysWhatCheckSays) {
    const auto sheet = sheet_of(club());
    for (const auto basis : {v1::Basis::held, v1::Basis::on_air}) {
        const auto checked = check(sheet, basis, 5);
        int receivers = 0;
        for (const auto& p : sheet.pilots()) {
            const auto reply = explain(sheet, p, basis, 5);
            EXPECT_EQ(reply.basis(), basis);
            EXPECT_EQ(reply.pilot().SerializeAsString(),
                      pilot(checked, p.name()).SerializeAsString());
            for (const auto& e : reply.receivers()) {
                const auto& same =
                    *std::ranges::find_if(checked.receivers(), [&](const v1::ReceiverResult& r) {
                        return r.owner() == p.name() && r.receiver() == e.result().receiver();
                    });
                EXPECT_EQ(e.result().SerializeAsString(), same.SerializeAsString());
                EXPECT_EQ(e.ref().margin_db(), same.margin_ref_db());
                EXPECT_EQ(std::min(e.ref().margin_db(), e.worst().margin_db()),
                          same.margin_worst_db());
                ++receivers;
            }
        }
        EXPECT_EQ(receivers, checked.receivers_size());
    }
}

// The budget on the page adds up: sent and way; C/(N+I); the lesser of two margins.
TEST(Explain, AddsUp) {
    constexpr double rounding_db = 0.0025;  // a handful of values rounded to 0.001
    const auto sheet = sheet_of(club("R2", "600"));
    for (const auto& p : sheet.pilots()) {
        const auto reply = explain(sheet, p, v1::Basis::held, 3);
        for (const auto& e : reply.receivers()) {
            ASSERT_TRUE(e.has_ref() && e.has_worst()) << p.name();
            EXPECT_NEAR(e.sent_dbm() + e.link_gain_db(), e.ref().wanted_dbm(), rounding_db);
            for (const auto& b : {e.ref(), e.worst()}) {
                const auto mw = [](double level_dbm) {
                    return spectrum::milliwatts(spectrum::Dbm(level_dbm));
                };
                const double i_mw = b.has_interference_dbm() ? mw(b.interference_dbm()) : 0;
                const double ni_dbm = spectrum::dbm(mw(b.noise_dbm()) + i_mw).count();
                EXPECT_NEAR(b.wanted_dbm() - b.desensitisation_db() - ni_dbm, b.cni_db(),
                            rounding_db);
                EXPECT_NEAR(b.cni_db() - e.required_watchable_db(),
                            b.noise_and_interference_margin_db(), rounding_db);
                EXPECT_EQ(b.margin_db(), std::min(b.noise_and_interference_margin_db(),
                                                  b.own_too_strong_margin_db()));
                EXPECT_EQ(b.closeness_margin_db(), e.result().margin_closest_db());
            }
            EXPECT_NEAR(e.ref().wanted_dbm() - e.ref().noise_dbm() - e.required_watchable_db(),
                        e.alone_margin_db(), rounding_db);
        }
    }
}

// Their fading is independent: together they miss less than the best of them alone.
TEST(PilotResult, IsBetterThanTheBestOfSeveralReceivers) {
    const auto reply = check(sheet_of(club()), v1::Basis::held, 0);
    const auto& first = receiver(reply, "Ben");
    const auto& second = receiver(reply, "Ben", "goggles-2");
    EXPECT_NE(first.margin_ref_db(), second.margin_ref_db());
    EXPECT_GT(pilot(reply, "Ben").margin_ref_db(),
              std::max(first.margin_ref_db(), second.margin_ref_db()));
    EXPECT_GE(pilot(reply, "Ben").share(), std::max(first.share(), second.share()));
}

// What is lost on one hop and on the other adds up, as the noise of amplifiers in a row does.
TEST(PilotResult, AddsTheNoiseOfAnAnalogueChain) {
    constexpr double watchable_db = 10;  // of both receivers
    for (const auto* relay_mw : {"0.01", "25"}) {
        const auto reply = check(sheet_of(club("R4", relay_mw)), v1::Basis::held, 0);
        const auto& hop = receiver(reply, "Dee", "rx");
        const auto& goggles = receiver(reply, "Dee");
        EXPECT_EQ(hop.hears(), "Dee");
        EXPECT_EQ(hop.relay(), "mast");
        EXPECT_EQ(goggles.hears(), "mast");
        EXPECT_EQ(goggles.relay(), "");
        double noise = 0;
        for (const double margin_db : {hop.margin_ref_db(), goggles.margin_ref_db()})
            noise += std::pow(10, -(margin_db + watchable_db) / 10);
        EXPECT_NEAR(pilot(reply, "Dee").margin_ref_db(), -10 * std::log10(noise) - watchable_db,
                    0.002);
        EXPECT_EQ(hop.margin_ref_db() < goggles.margin_ref_db(), relay_mw == std::string("25"));
    }
}

// Both links must stand: a relay that is on shows nothing while its aircraft is not on the air.
TEST(PilotResult, HasNoPictureWhereTheChainIsBroken) {
    auto sheet = sheet_of(club());
    sheet.mutable_pilots(2)->clear_claim();
    auto reply = check(sheet, v1::Basis::held, 0);
    EXPECT_EQ(pilot(reply, "Dee").verdict(), v1::Verdict::no_picture);
    EXPECT_EQ(pilot(reply, "Dee").picture(), v1::Picture::broken);
    EXPECT_FALSE(pilot(reply, "Dee").has_margin_ref_db());
    EXPECT_NE(receiver(reply, "Dee").verdict(), v1::Verdict::no_picture);
    EXPECT_EQ(receiver(reply, "Dee", "rx").reason(), "Dee holds no channel");
    sheet = sheet_of(club());
    sheet.mutable_relays(0)->mutable_claim()->set_stage(v1::Claim::held);
    reply = check(sheet, v1::Basis::on_air, 0);
    EXPECT_EQ(pilot(reply, "Dee").verdict(), v1::Verdict::no_picture);
    EXPECT_EQ(receiver(reply, "Dee").reason(), "mast is not on the air");
}

TEST(Check, SaysWhyThereIsNoPicture) {
    const auto reply = check(
        sheet_of(field_text() + text_of(PilotText{.name = "Ann", .stage = ""}) +
                 text_of(PilotText{.name = "Ben", .channel = "R4", .stage = "on_bench = true"}) +
                 text_of(PilotText{
                     .name = "Cem", .channel = "R7", .more_goggles = "channels = [\"F1\"]"})),
        v1::Basis::on_air, 0);
    EXPECT_EQ(receiver(reply, "Ann").reason(), "Ann is not on the air");
    EXPECT_EQ(receiver(reply, "Ben").reason(), "Ben is on the bench");
    EXPECT_EQ(receiver(reply, "Cem").reason(), "cannot be tuned to R7 (5880 MHz)");
    for (const auto& r : reply.receivers()) {
        EXPECT_EQ(r.verdict(), v1::Verdict::no_picture);
        EXPECT_FALSE(r.has_margin_ref_db() || r.has_wanted_dbm() || r.has_interference_dbm());
    }
}

// Under the area somebody may usually pass nearer than the safety line lets them at worst.
TEST(Check, NeverReportsAWorstMarginAboveTheUsual) {
    auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann"}) +
                          text_of(PilotText{.name = "Ben", .channel = "R2"}));
    auto* under = sheet.mutable_field()->mutable_places(0);
    ASSERT_EQ(under->name(), "line-1");
    under->set_east_m(6);
    under->set_north_m(70);
    sheet.mutable_field()->mutable_areas(0)->set_high_m(4);  // so that nothing is gained by height
    const auto explained = explain(sheet, sheet.pilots(0), v1::Basis::held, 0);
    const auto& e = explained.receivers(0);
    ASSERT_GT(e.worst().margin_db(), e.ref().margin_db());
    EXPECT_EQ(e.result().margin_worst_db(), e.ref().margin_db());
    EXPECT_EQ(explained.pilot().margin_worst_db(), e.ref().margin_db());
}

TEST(Check, LeavesOutWhatDoesNotExist) {
    const auto reply =
        check(sheet_of(field_text() + text_of(PilotText{.name = "Ann"})), v1::Basis::held, terms);
    const auto& alone = receiver(reply, "Ann");
    EXPECT_TRUE(alone.has_margin_ref_db() && alone.has_noise_dbm());
    EXPECT_FALSE(alone.has_interference_dbm() || alone.has_blocker_dbm());
    EXPECT_TRUE(alone.contributions().empty());
    EXPECT_EQ(alone.reason(), "noise and range");
}

TEST(Check, GivesAtMostTheContributionsAskedFor) {
    const auto sheet = sheet_of(club());
    for (const std::size_t most : {std::size_t{0}, std::size_t{1}, std::size_t{3}}) {
        const auto reply = check(sheet, v1::Basis::held, most);
        for (const auto& r : reply.receivers())
            EXPECT_LE(static_cast<std::size_t>(r.contributions_size()), most);
    }
}

TEST(Check, NamesWhoIsOnTheSameChannel) {
    const auto reply = check(sheet_of(club("R1")), v1::Basis::held, 1);
    const auto& ann = receiver(reply, "Ann");
    EXPECT_EQ(ann.verdict(), v1::Verdict::clash);
    EXPECT_EQ(ann.reason(), "Ben on R1 is on the same channel");
    ASSERT_EQ(ann.contributions_size(), 1);
    EXPECT_EQ(ann.contributions(0).kind(), v1::Contribution::co_channel);
    EXPECT_EQ(ann.contributions(0).from(0), "Ben");
    EXPECT_EQ(ann.contributions(0).from_mhz(0), 5658);
    EXPECT_FALSE(ann.contributions(0).has_product_mhz());
}

// Nobody would know what to do about a word without its cause.
TEST(Check, NamesWhoPassesCloseToATightPilot) {
    auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann"}) +
                          text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R4"}));
    sheet.mutable_field()->mutable_areas(0)->set_standoff_m(1);
    for (auto& area : *sheet.mutable_field()->mutable_areas()) area.set_low_m(1);
    auto* under = sheet.mutable_field()->mutable_places(0);
    ASSERT_EQ(under->name(), "line-1");
    under->set_north_m(80);
    const auto reply = check(sheet, v1::Basis::held, 0);
    ASSERT_EQ(pilot(reply, "Ann").verdict(), v1::Verdict::tight);
    EXPECT_EQ(pilot(reply, "Ann").reason(), "Ben on R4 leaks across, passing close");
}

TEST(Check, SaysOfAPilotWhyThereIsNoPicture) {
    const auto reply =
        check(sheet_of(field_text() + text_of(PilotText{.name = "Ann", .stage = ""})),
              v1::Basis::on_air, 0);
    EXPECT_EQ(pilot(reply, "Ann").reason(), "Ann is not on the air");
}

// What a chain hangs on is its weaker hop.
TEST(PilotResult, IsReasonedByTheWeakerHop) {
    auto sheet = sheet_of(club("R4", "25"));
    for (auto& area : *sheet.mutable_field()->mutable_areas())
        if (area.name() == "valley") area.set_radius_m(50'000);
    const Assessment a(sheet, v1::Basis::held);
    const auto& dee = sheet.pilots(2);
    ASSERT_EQ(dee.name(), "Dee");
    const auto v = a.ruling_receiver(dee);
    ASSERT_TRUE(v);
    EXPECT_EQ(a.situation().receivers[*v].relay, "mast");
    EXPECT_EQ(pilot(check(sheet, v1::Basis::held, 0), "Dee").reason(),
              "the area is larger than power and antennas reach");
}

TEST(Check, SaysHowFarThePictureReaches) {
    const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .area = "valley"}));
    const auto reply = check(sheet, v1::Basis::held, 0);
    EXPECT_EQ(receiver(reply, "Ann").verdict(), v1::Verdict::too_far);
    ASSERT_EQ(reply.too_far_size(), 1);
    EXPECT_EQ(reply.too_far(0).owner(), "Ann");
    EXPECT_EQ(reply.too_far(0).lacking_db(), -receiver(reply, "Ann").margin_usable_db());
    EXPECT_FALSE(reply.too_far(0).has_others_db());
}

}  // namespace
}  // namespace fieldpeg::day
