#include "server/day/relay_check.h"

#include "server/day/check.h"
#include "tests/support/control.h"
#include "tests/support/days.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace fieldpeg::day {
namespace {

using testing::changed;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::steered;
using testing::text_of;

/// Dee in the chair, 22 m from her mast; Ann flies on the line, 10 m from it.
std::string mast_and_ann(const RelayText& mast, const std::string& ann_place = "line-1") {
    return field_text() + text_of(PilotText{.name = "Ann", .place = ann_place}) +
           "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n[[pilot.receiver]]\n"
           "receiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n" +
           text_of(mast);
}

RelayText mast(const std::string& channel = "R8", const std::string& power_mw = "25") {
    return {.name = "mast",
            .owner = "Dee",
            .channel = channel,
            .power_mw = power_mw,
            .more = "power_mw = [0.01, 25, 200, 600]"};
}

v1::RelayCheckReply checked(const v1::DaySheet& sheet, std::optional<double> power_dbm = {},
                            std::optional<v1::Channel> channel = {}) {
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    if (power_dbm) query.set_power_dbm(*power_dbm);
    if (channel) *query.mutable_channel() = *channel;
    return relay_check(sheet, query).value();
}

bool has_caution(const v1::RelayCheckReply& reply, std::string_view part) {
    return std::ranges::any_of(reply.cautions(), [&](const std::string& text) {
        return text.find(part) != std::string::npos;
    });
}

TEST(RelayCheck, FitsBetweenWhatItsOwnerNeedsAndTheNeighboursStand) {
    const auto reply = checked(sheet_of(mast_and_ann(mast())));
    EXPECT_EQ(reply.answer(), v1::RelayCheckReply::fits);
    EXPECT_TRUE(reply.harmed().empty());
    EXPECT_TRUE(reply.advice().empty());
    EXPECT_LE(reply.ref().floor_dbm(), reply.asked_dbm());
    EXPECT_GE(reply.ref().ceiling_dbm(), reply.asked_dbm());
    EXPECT_EQ(reply.owner(), "Dee");
    EXPECT_EQ(reply.channel().name(), "R8");
    EXPECT_NEAR(reply.asked_dbm(), 13.979, 0.001);
    EXPECT_NE(reply.sentence().find("disturbs nobody"), std::string::npos) << reply.sentence();
}

// A second method: each of its powers asked about for itself; and what is radiated is the power and
// the antenna's gain.
TEST(RelayCheck, SaysOfAllItsPowersWhatItSaysOfEach) {
    for (const auto* on : {"R8", "R2"}) {
        auto sheet = sheet_of(mast_and_ann(mast(on)));
        auto& powers = *sheet.mutable_relays(0)->mutable_transmitter()->mutable_power_dbm();
        std::reverse(powers.begin(), powers.end());  // as a file may have them
        v1::RelayCheckQuery query;
        query.set_relay("mast");
        query.set_all_steps(true);
        const auto all = relay_check(sheet, query).value();
        EXPECT_EQ(checked(sheet).steps_size(), 0) << "only where it is asked for";
        ASSERT_EQ(all.steps_size(), 4);
        std::optional<double> best;
        for (int i = 0; i < all.steps_size(); ++i) {
            const auto& step = all.steps(i);
            if (i > 0) {
                EXPECT_GT(step.power_dbm(), all.steps(i - 1).power_dbm());
                EXPECT_NEAR(step.eirp_dbm() - step.power_dbm(),
                            all.steps(0).eirp_dbm() - all.steps(0).power_dbm(), 0.002);
                EXPECT_GE(step.swamps_within_m(), all.steps(i - 1).swamps_within_m());
            }
            const auto alone = checked(sheet, step.power_dbm());
            EXPECT_EQ(step.answer(), alone.answer());
            EXPECT_EQ(step.eirp_dbm(), alone.eirp_dbm());
            EXPECT_EQ(step.keep_away_m(), alone.keep_away_m());
            EXPECT_EQ(step.harmed().empty(), alone.harmed().empty());
            for (const auto& harm : alone.harmed())
                EXPECT_NE(std::ranges::find(step.harmed(), harm.pilot()), step.harmed().end());
            if (step.answer() == v1::RelayCheckReply::fits) best = step.power_dbm();
        }
        EXPECT_EQ(all.has_best_dbm(), best.has_value());
        if (best) {
            EXPECT_EQ(all.best_dbm(), *best);
        }
        EXPECT_EQ(all.asked_dbm(), checked(sheet).asked_dbm()) << "the rest is as ever";
    }
}

// [ITU-R P.525, free space]: a hundred times the power swamps ten times as far, once both are far
// enough for the aerials to look level at each other.
TEST(RelayCheck, SwampsTenTimesAsFarWithAHundredTimesThePower) {
    auto sheet = sheet_of(mast_and_ann(mast()));
    auto& powers = *sheet.mutable_relays(0)->mutable_transmitter()->mutable_power_dbm();
    powers.Clear();
    for (const double dbm : {36.0, 56.0}) *powers.Add() = dbm;
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_all_steps(true);
    const auto all = relay_check(sheet, query).value();
    ASSERT_TRUE(all.steps(0).has_swamps_within_m() && all.steps(1).has_swamps_within_m());
    EXPECT_NEAR(all.steps(1).swamps_within_m() / all.steps(0).swamps_within_m(), 10, 0.5);

    sheet.mutable_pilots()->erase(sheet.pilots().begin());
    ASSERT_EQ(sheet.pilots(0).name(), "Dee");
    const auto alone = relay_check(sheet, query).value();
    for (const auto& step : alone.steps())
        EXPECT_FALSE(step.has_swamps_within_m()) << "its owner chose the place";
}

TEST(RelayCheck, KeepsTheBestOfItsPowersWithinTheClubsLimit) {
    auto sheet = sheet_of(changed(mast_and_ann(mast()), "[0.01, 25, 200, 600]", "[10, 25, 600]"));
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_all_steps(true);
    ASSERT_NEAR(relay_check(sheet, query).value().best_dbm(), 13.979, 0.001);
    sheet.set_power_limit_dbm(10);
    EXPECT_NEAR(relay_check(sheet, query).value().best_dbm(), 10, 0.001);
    sheet.set_power_limit_dbm(9);
    EXPECT_FALSE(relay_check(sheet, query).value().has_best_dbm());
}

TEST(RelayCheck, IsTooWeakBelowTheFloor) {
    const auto reply = checked(sheet_of(mast_and_ann(mast("R8", "0.01"))));
    EXPECT_EQ(reply.answer(), v1::RelayCheckReply::too_weak);
    EXPECT_LT(reply.asked_dbm(), reply.ref().floor_dbm());
    ASSERT_EQ(reply.advice_size(), 1);
    EXPECT_EQ(reply.advice(0).kind(), v1::RelayAdvice::set_power);
    EXPECT_EQ(reply.advice(0).text(), "set 25 mW");
}

// 37 MHz from Ann and 10 m from her goggles, 600 mW is too much: docs/model.md, section 11 (c).
TEST(RelayCheck, IsTooStrongAboveTheCeiling) {
    const auto reply = checked(sheet_of(mast_and_ann(mast("R2", "600"))));
    EXPECT_EQ(reply.answer(), v1::RelayCheckReply::too_strong);
    EXPECT_GT(reply.asked_dbm(), reply.ref().ceiling_dbm());
    EXPECT_EQ(reply.ref().limited_by().owner(), "Ann");
    EXPECT_EQ(reply.ref().limited_by().receiver(), "goggles");
    ASSERT_EQ(reply.harmed_size(), 1);
    EXPECT_EQ(reply.harmed(0).pilot(), "Ann");
    EXPECT_EQ(reply.harmed(0).kind(), v1::PowerWindow::adjacent);
    EXPECT_GE(reply.harmed(0).margin_before_db(), 0);
    EXPECT_LT(reply.harmed(0).margin_after_db(), 0);
    EXPECT_NE(reply.sentence().find("Ann loses the picture"), std::string::npos)
        << reply.sentence();
}

/// What is advised to the mast of a day that asks for too much and has the steps given.
std::vector<v1::RelayAdvice> advice_with_steps(v1::DaySheet sheet,
                                               const std::vector<double>& steps_dbm, double asked) {
    auto* t = sheet.mutable_relays(0)->mutable_transmitter();
    t->mutable_power_dbm()->Assign(steps_dbm.begin(), steps_dbm.end());
    std::vector<v1::RelayAdvice> list;
    const auto reply = checked(sheet, asked);
    for (const auto& advice : reply.advice())
        if (advice.kind() == v1::RelayAdvice::set_power ||
            advice.kind() == v1::RelayAdvice::add_attenuator)
            list.push_back(advice);
    return list;
}

// The lowest step inside the window; outside it none, but an attenuator behind the lowest.
TEST(RelayCheck, AdvisesTheLowestStepThatFits) {
    const auto sheet = sheet_of(mast_and_ann(mast("R2", "600")));
    const auto window = checked(sheet);
    const double low = window.ref().floor_dbm(), high = window.worst().ceiling_dbm();
    ASSERT_GT(high, low + 2);
    const auto fits =
        advice_with_steps(sheet, {low - 1, low + 0.5, high - 0.5, high + 1}, high + 1);
    ASSERT_EQ(fits.size(), 1u);
    EXPECT_EQ(fits[0].kind(), v1::RelayAdvice::set_power);
    EXPECT_NEAR(fits[0].power_dbm(), low + 0.5, 0.001);
    EXPECT_TRUE(advice_with_steps(sheet, {low - 1, high + 0.5, high + 1}, high + 1).empty());
    const auto loud = advice_with_steps(sheet, {high + 1.4, high + 9}, high + 9);
    ASSERT_EQ(loud.size(), 1u);
    EXPECT_EQ(loud[0].kind(), v1::RelayAdvice::add_attenuator);
    EXPECT_EQ(loud[0].attenuator_db(), 2);
}

// With a third aircraft in the air the worst geometry allows less than the usual one: between the
// two there would be drop-outs when somebody passes close, and that is not advised either.
TEST(RelayCheck, DoesNotAdviseWhatOnlyTheUsualGeometryAllows) {
    v1::DaySheet sheet;
    double usual = 0, worst = 0;
    // Ben may fly round Ann's head, two metres off: at some power that is what rules.
    for (double power_mw = 45; usual <= worst + 0.05; power_mw += 0.5) {
        ASSERT_LT(power_mw, 60);
        sheet = sheet_of(mast_and_ann(mast("R2", "600")) +
                         text_of(PilotText{.name = "Ben",
                                           .place = "line-2",
                                           .channel = "R6",
                                           .power_mw = fmt::format("{}", power_mw)}));
        auto& area = *sheet.mutable_field()->mutable_areas(0);
        area.set_north_m(0);
        area.set_low_m(1);
        area.set_standoff_m(2);
        const auto window = checked(sheet);
        usual = window.ref().ceiling_dbm();
        worst = window.worst().ceiling_dbm();
    }
    const auto between = advice_with_steps(sheet, {(usual + worst) / 2}, usual + 1);
    ASSERT_EQ(between.size(), 1u);
    EXPECT_EQ(between[0].kind(), v1::RelayAdvice::add_attenuator);
}

TEST(RelayCheck, HasNoWindowOnANeighboursChannel) {
    const auto reply = checked(sheet_of(mast_and_ann(mast("R1"))));
    EXPECT_EQ(reply.answer(), v1::RelayCheckReply::no_window);
    EXPECT_FALSE(reply.ref().has_ceiling_dbm() &&
                 reply.ref().ceiling_dbm() >= reply.ref().floor_dbm());
    EXPECT_FALSE(reply.ref().reason().empty());
    EXPECT_EQ(reply.harmed_size(), 1);
    EXPECT_TRUE(std::ranges::any_of(reply.advice(), [](const v1::RelayAdvice& a) {
        return a.kind() == v1::RelayAdvice::change_channel;
    }));
}

// Alone on the field nobody suffers up to the end of the range.
TEST(RelayCheck, HasTheWholeRangeWhereNobodyElseIs) {
    auto sheet = sheet_of(mast_and_ann(mast()));
    sheet.mutable_pilots(0)->clear_claim();
    const auto reply = checked(sheet);
    EXPECT_EQ(reply.ref().limited_by().kind(), v1::PowerWindow::range_end);
    EXPECT_EQ(reply.ref().ceiling_dbm(), 36);
    EXPECT_FALSE(reply.ref().limited_by().owner().size());
}

TEST(RelayCheck, TakesOutItsOwnPresentClaimFirst) {
    const auto low = checked(sheet_of(mast_and_ann(mast("R2", "25"))), 27.782);
    const auto high = checked(sheet_of(mast_and_ann(mast("R2", "600"))), 27.782);
    EXPECT_EQ(low.SerializeAsString(), high.SerializeAsString());
    auto unclaimed = sheet_of(mast_and_ann(mast("R2", "600")));
    unclaimed.mutable_relays(0)->clear_claim();
    const auto r2 = sheet_of(mast_and_ann(mast("R2"))).relays(0).claim().channel();
    EXPECT_EQ(checked(unclaimed, 27.782, r2).SerializeAsString(), high.SerializeAsString());
}

TEST(RelayCheck, WithoutAClaimAsksForTheLowestStepOnTheFirstChannel) {
    auto sheet =
        sheet_of(mast_and_ann({.name = "mast",
                               .owner = "Dee",
                               .channel = "F4",
                               .power_mw = "25",
                               .more = "power_mw = [200, 25]\nchannels = [\"F1\", \"F4\"]"}));
    sheet.mutable_relays(0)->clear_claim();
    const auto reply = checked(sheet);
    EXPECT_EQ(reply.channel().name(), "F1");
    EXPECT_NEAR(reply.asked_dbm(), 13.979, 0.001);
}

TEST(RelayCheck, RefusesWhatNobodySaid) {
    auto sheet = sheet_of(mast_and_ann({.name = "mast", .owner = "Dee"}));
    sheet.mutable_relays(0)->clear_claim();
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    const auto no_channel = relay_check(sheet, query);
    ASSERT_FALSE(no_channel);
    EXPECT_EQ(no_channel.error().why, "holds no channel");
    EXPECT_FALSE(no_channel.error().next.empty());
    query.mutable_channel()->set_mhz(5800);
    const auto no_power = relay_check(sheet, query);
    ASSERT_FALSE(no_power);
    EXPECT_EQ(no_power.error().why, "holds no power");
    query.set_relay("pole");
    EXPECT_EQ(relay_check(sheet, query).error().kind, Refusal::Kind::not_found);
}

bool advises(const v1::RelayCheckReply& reply, v1::RelayAdvice::Kind kind) {
    return std::ranges::any_of(reply.advice(),
                               [&](const v1::RelayAdvice& a) { return a.kind() == kind; });
}

// Goggles that are deaf on F4 do not count there, however well they stand now.
TEST(RelayCheck, AdvisesOnlyChannelsThatItsGogglesTuneAndSee) {
    auto mast_on_r2 = mast("R2", "600");
    mast_on_r2.more += "\nchannels = [\"R2\", \"F4\"]";
    auto sheet = sheet_of(mast_and_ann(mast_on_r2));
    auto* dee = sheet.mutable_pilots(1);
    const auto r2 = sheet.relays(0).claim().channel();
    *dee->mutable_receivers(0)->add_channels() = r2;
    EXPECT_FALSE(advises(checked(sheet), v1::RelayAdvice::change_channel));
    auto* second = dee->add_receivers();
    *second = dee->receivers(0);
    second->set_name("goggles-2");
    second->clear_channels();
    EXPECT_TRUE(advises(checked(sheet), v1::RelayAdvice::change_channel));
    second->mutable_mounting()->set_loss_db(60);  // tunes F4, and shows nothing at any power
    EXPECT_FALSE(advises(checked(sheet), v1::RelayAdvice::change_channel));
}

// Goggles that hear F4 well and cannot show it do not count either, beside others that could and
// hear nothing.
TEST(RelayCheck, AdvisesNoChannelThatIsHeardOnlyByGogglesThatCannotShowIt) {
    auto mast_on_r2 = mast("R2", "600");
    mast_on_r2.more += "\nchannels = [\"R2\", \"F4\"]";
    auto sheet = sheet_of(mast_and_ann(mast_on_r2));
    auto* dee = sheet.mutable_pilots(1);
    auto* other = dee->add_receivers();
    *other = dee->receivers(0);
    other->set_name("other");
    dee->mutable_receivers(0)->mutable_mounting()->set_loss_db(60);
    EXPECT_TRUE(advises(checked(sheet), v1::RelayAdvice::change_channel));
    auto* digital = sheet.add_receiver_profiles();
    *digital = *std::ranges::find(sheet.receiver_profiles(), other->receiver(),
                                  &v1::ReceiverProfile::name);
    digital->set_name("digital");
    digital->clear_shows();
    digital->add_shows("ofdm-20");
    other->set_receiver("digital");
    EXPECT_FALSE(advises(checked(sheet), v1::RelayAdvice::change_channel));
}

// A relay for somebody who is not of this day still has neighbours to be spared.
TEST(RelayCheck, AdvisesAChannelWhereNobodyOfTheDayListens) {
    auto sheet = sheet_of(mast_and_ann(mast("R2", "600")));
    sheet.mutable_pilots(1)->clear_receivers();
    const auto reply = checked(sheet);
    EXPECT_EQ(reply.answer(), v1::RelayCheckReply::too_strong);
    EXPECT_TRUE(advises(reply, v1::RelayAdvice::set_power));
    EXPECT_TRUE(advises(reply, v1::RelayAdvice::change_channel));
}

TEST(RelayCheck, CautionsAgainstAPowerOrChannelItCannotBeSetTo) {
    const auto sheet =
        sheet_of(mast_and_ann({.name = "mast",
                               .owner = "Dee",
                               .channel = "R8",
                               .power_mw = "25",
                               .more = "power_mw = [25, 200]\nchannels = [\"R8\"]"}));
    EXPECT_FALSE(has_caution(checked(sheet), "none of"));
    EXPECT_FALSE(has_caution(checked(sheet, 23.01), "none of"));  // 200 mW, rounded
    EXPECT_TRUE(has_caution(checked(sheet, 20), "100 mW is none of the powers"));
    v1::Channel r5;
    r5.set_name("R5");
    r5.set_mhz(5806);
    EXPECT_TRUE(has_caution(checked(sheet, {}, r5), "R5 (5806 MHz) is none of its channels"));
}

TEST(RelayCheck, CautionsWithinADecibelOfAnEdge) {
    const auto sheet = sheet_of(mast_and_ann(mast("R2")));
    const auto window = checked(sheet).ref();
    EXPECT_TRUE(has_caution(checked(sheet, window.ceiling_dbm() - 0.5), "of the most"));
    EXPECT_FALSE(has_caution(checked(sheet, window.ceiling_dbm() - 1.5), "of the most"));
    EXPECT_TRUE(
        has_caution(checked(sheet, window.floor_dbm() + 0.5), "of the least its owner needs"));
    EXPECT_FALSE(has_caution(checked(sheet, window.floor_dbm() + 1.5), "of the least"));
}

TEST(RelayCheck, SaysWhoHadNoMarginBefore) {
    auto far = mast_and_ann(mast());
    far = testing::changed(far, "area = \"circuit\"", "area = \"valley\"");
    const auto reply = checked(sheet_of(far));
    ASSERT_EQ(reply.ref().below_before_size(), 1);
    EXPECT_EQ(reply.ref().below_before(0).owner(), "Ann");
    EXPECT_TRUE(has_caution(reply, "Ann, goggles: no margin even with the relay off"));
}

// e.i.r.p. and the distance to keep: 600 mW less 0.5 dB into 1.2 dBi, 10 W/m2, never below 0.2 m.
TEST(RelayCheck, SaysHowFarToKeepAway) {
    const auto reply = checked(sheet_of(mast_and_ann(mast("R8", "600"))));
    EXPECT_NEAR(reply.eirp_dbm(), 28.482, 0.001);
    EXPECT_EQ(reply.keep_away_m(), 0.2);
    EXPECT_GT(checked(sheet_of(mast_and_ann(mast())), 45).keep_away_m(), 0.5);
}

// The margins that `check` gives with the relay on are those after the harm.
TEST(RelayCheck, AgreesWithCheck) {
    auto sheet = sheet_of(mast_and_ann(mast("R2", "600")));
    const auto harmed = checked(sheet).harmed(0);
    EXPECT_EQ(check(sheet, v1::Basis::held, 0).receivers(0).margin_ref_db(),
              harmed.margin_after_db());
    sheet.mutable_relays(0)->clear_claim();
    EXPECT_EQ(check(sheet, v1::Basis::held, 0).receivers(0).margin_ref_db(),
              harmed.margin_before_db());
}

TEST(RelayCheck, CountsOnlyWhatIsOnTheAirIfAskedTo) {
    auto sheet = sheet_of(mast_and_ann(mast("R1")));
    sheet.mutable_pilots(0)->mutable_claim()->set_stage(v1::Claim::held);
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_basis(v1::Basis::on_air);
    EXPECT_EQ(relay_check(sheet, query)->answer(), v1::RelayCheckReply::fits);
    query.set_basis(v1::Basis::held);
    EXPECT_EQ(relay_check(sheet, query)->answer(), v1::RelayCheckReply::no_window);
}

// A digital relay to analogue goggles: no channel and no power cures that.
/// The mast on 2.4 GHz right under the far rim of the circuit, where Ann is steered on that band.
std::string mast_beside_control() {
    auto two = changed(mast_and_ann({.name = "mast",
                                     .owner = "Dee",
                                     .channel = "2440",
                                     .power_mw = "600",
                                     .more = "power_mw = [0.01, 25, 600]"}),
                       "place = \"tripod\"", "place = \"rim\"");
    two = changed(two, "[[pilot]]\nname = \"Dee\"",
                  std::string(steered) + "[[pilot]]\nname = \"Dee\"");
    return changed(two, "place = \"chair\"\n[[pilot.receiver]]\nreceiver = \"fm-video-5g8\"",
                   "place = \"chair\"\n[[pilot.receiver]]\nreceiver = \"fm-video-2g4\"") +
           testing::far_rim_text();
}

TEST(RelayCheck, HasNoPowerInItsWindowThatTakesControl) {
    const auto sheet = sheet_of(mast_beside_control());
    const auto reply = checked(sheet);
    ASSERT_FALSE(reply.harmed().empty());
    EXPECT_EQ(reply.harmed(0).after(), v1::Verdict::control_at_risk);
    EXPECT_NE(reply.sentence().find("Ann may lose control of the aircraft"), std::string::npos)
        << reply.sentence();
    for (const auto* window : {&reply.ref(), &reply.worst()}) {
        EXPECT_EQ(window->limited_by().kind(), v1::PowerWindow::control);
        EXPECT_EQ(window->limited_by().owner(), "Ann");
        const auto takes_control = [&](double power_dbm) {
            const auto at = checked(sheet, power_dbm);
            return std::ranges::any_of(at.harmed(), [](const auto& h) {
                return h.after() == v1::Verdict::control_at_risk;
            });
        };
        EXPECT_FALSE(takes_control(window->ceiling_dbm() - 0.01));
        EXPECT_TRUE(takes_control(window->ceiling_dbm() + 0.01));
    }
}

TEST(RelayCheck, IsNotHeldToAControlThatIsAtRiskWithoutIt) {
    const auto canteen =
        testing::emitter_text("canteen", "rim", "wifi = 6\nduty = 1\npower_mw = 1000");
    const auto without = sheet_of(
        changed(mast_beside_control(), "channel = \"2440\"", "channel = \"R8\"") + canteen);
    ASSERT_EQ(check(without, v1::Basis::held, 0).pilots(0).control().word(), v1::Control::at_risk);
    const auto reply = checked(sheet_of(mast_beside_control() + canteen));
    EXPECT_NE(reply.ref().limited_by().kind(), v1::PowerWindow::control);
    EXPECT_TRUE(std::ranges::none_of(
        reply.harmed(), [](const auto& h) { return h.after() == v1::Verdict::control_at_risk; }));
}

TEST(RelayCheck, HasNoWindowWhereTheLeastPowerTakesControl) {
    const auto text =
        changed(mast_beside_control(), std::string(steered),
                "[pilot.handset]\npower_mw = 1\n[pilot.control]\nhop_mhz = [2430, 2450]\n");
    const auto reply = checked(sheet_of(text));
    EXPECT_FALSE(reply.ref().has_ceiling_dbm());
    EXPECT_EQ(reply.answer(), v1::RelayCheckReply::no_window);
    EXPECT_NE(reply.ref().reason().find("Ann may lose control of the aircraft even from"),
              std::string::npos)
        << reply.ref().reason();
}

TEST(RelayCheck, SaysThatItsGogglesCannotShowWhatItSends) {
    const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{
            .name = "Dee", .place = "chair", .channel = "R1", .more_goggles = "hears = \"mast\""}) +
        testing::changed(text_of(RelayText{.name = "mast", .owner = "Dee"}), "\"fm-video\"",
                         "\"ofdm-20\""));
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    const auto reply = relay_check(sheet, query).value();
    EXPECT_NE(reply.ref().reason().find("cannot show what it sends (ofdm-20)"), std::string::npos)
        << reply.DebugString();
    for (const auto& advice : reply.advice())
        EXPECT_NE(advice.kind(), v1::RelayAdvice::change_channel) << advice.text();
}

}  // namespace
}  // namespace fieldpeg::day
