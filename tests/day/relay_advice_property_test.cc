#include "server/day/assessment.h"
#include "server/day/check.h"
#include "server/day/relay_check.h"
#include "server/spectrum/relay_window.h"
#include "tests/support/days.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

/// Advice of relay check is taken and asked about once more.
namespace fieldpeg::day {
namespace {

using testing::chance;
using testing::field_text;
using testing::for_all;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

constexpr int days = 20;

/// Whether some pilots fly farther than their picture reaches anyway.
enum class Range { all_in, some_too_far };

/// Dee's mast on a loud or quiet setting beside one to three pilots; her picture comes from outside
/// the day, or on 1.3 GHz.
v1::DaySheet random_day(std::mt19937_64& rng, Range range) {
    std::string text = field_text();
    const char* const names[] = {"Ann", "Ben", "Cem"};
    const int pilots = testing::whole(rng, 1, 3);
    for (int i = 0; i < pilots; ++i)
        text += text_of(PilotText{
            .name = names[i],
            .place = "line-" + std::to_string(i + 1),
            .channel = one_of(rng, {"R1", "R2", "R3", "R5", "F2", "F4", "F7"}),
            .power_mw = one_of(rng, {"25", "25", "200"}),
            .area = range == Range::some_too_far && chance(rng, 50) ? "valley" : "circuit"});
    const bool first_hop = chance(rng, 40);
    text += "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\narea = \"valley\"\n";
    if (first_hop)
        text += "[pilot.video]\nemission = \"fm-video\"\nantenna = \"vertical-omni-1g3\"\n";
    text +=
        "[[pilot.receiver]]\nreceiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\n"
        "polarisation = \"rhcp\"\n";
    if (first_hop) text += "[pilot.claim]\nchannel = 1280\npower_mw = 800\n";
    text += text_of(RelayText{
        .name = "mast",
        .owner = "Dee",
        .channel = one_of(rng, {"R1", "R2", "R4", "R6", "F3", "F8"}),
        .power_mw = one_of(rng, {"25", "200", "600"}),
        .more =
            chance(rng, 50) ? "power_mw = [25, 200, 600]\nchannels = [\"R1-R8\", \"F1-F8\"]" : "",
        .tables = first_hop ? "[[relay.receiver]]\nreceiver = \"fm-video-1g3\"\n"
                              "antenna = \"wide-panel\"\n"
                            : ""});
    return sheet_of(text);
}

v1::RelayCheckReply checked(const v1::DaySheet& sheet) {
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    return relay_check(sheet, query).value();
}

/// Whom the mast harms as the day has it, receiver by receiver, each the only one of its link.
std::string harmed(const v1::DaySheet& with) {
    auto without = with;
    without.mutable_relays(0)->clear_claim();
    const Assessment on(with, v1::Basis::held);
    const Assessment off(without, v1::Basis::held);
    std::string all;
    for (std::size_t v = 0; v < on.situation().receivers.size(); ++v) {
        const auto& of = on.situation().receivers[v];
        const auto before = off.standing(v);
        const auto after = on.standing(v);
        if (of.hears == "mast" || !before || !after || !spectrum::harms(*before, *after)) continue;
        all += of.owner + "'s " + of.name + " from " + std::to_string(before->good.count()) +
               " to " + std::to_string(after->good.count()) + " dB; ";
    }
    return all;
}

/// The day with one piece of advice of one kind taken, for each there is.
template <class Take>
void for_each_advice(v1::RelayAdvice::Kind kind, Range range, Take take) {
    for_all(days, [&](std::mt19937_64& rng) {
        const auto sheet = random_day(rng, range);
        const auto reply = checked(sheet);
        for (const auto& advice : reply.advice())
            if (advice.kind() == kind) take(sheet, reply, advice);
    });
}

void expect_power_to_fit(v1::DaySheet sheet, const v1::RelayCheckReply&,
                         const v1::RelayAdvice& advice) {
    auto* relay = sheet.mutable_relays(0);
    const auto& steps = relay->transmitter().power_dbm();
    if (!steps.empty()) {
        EXPECT_TRUE(std::ranges::any_of(steps, [&](double step) {
            return std::abs(step - advice.power_dbm()) < 0.001;
        })) << advice.text();
    }
    relay->mutable_claim()->set_power_dbm(advice.power_dbm());
    EXPECT_EQ(harmed(sheet), "") << advice.text();
    EXPECT_EQ(checked(sheet).answer(), v1::RelayCheckReply::fits) << advice.text();
}

TEST(RelayAdvice, OfAPowerHarmsNobodyAndIsEnough) {
    for_each_advice(v1::RelayAdvice::set_power, Range::all_in, expect_power_to_fit);
}

// Costing one who is too far anyway more than 3 dB is harm, and no advice.
TEST(RelayAdvice, OfAPowerHarmsNobodyWhoIsTooFar) {
    for_each_advice(v1::RelayAdvice::set_power, Range::some_too_far, expect_power_to_fit);
}

TEST(RelayAdvice, OfAnAttenuatorHarmsNobody) {
    for_each_advice(v1::RelayAdvice::add_attenuator, Range::all_in,
                    [](v1::DaySheet sheet, const auto&, const auto& advice) {
                        sheet.mutable_relays(0)->mutable_claim()->set_power_dbm(
                            advice.power_dbm() - advice.attenuator_db());
                        EXPECT_EQ(harmed(sheet), "") << advice.text();
                    });
}

void expect_channel_to_do(v1::DaySheet sheet, const v1::RelayCheckReply& reply,
                          const v1::RelayAdvice& advice) {
    auto* relay = sheet.mutable_relays(0);
    const auto& steps = relay->transmitter().power_dbm();
    if (!steps.empty()) {
        EXPECT_TRUE(std::ranges::any_of(steps, [&](double step) {
            return std::abs(step - advice.power_dbm()) < 0.001;
        })) << advice.text();
        EXPECT_EQ(advice.text().find(" to "), std::string::npos) << advice.text();
    }
    *relay->mutable_claim()->mutable_channel() = advice.channel();
    relay->mutable_claim()->set_power_dbm(advice.power_dbm());
    EXPECT_EQ(harmed(sheet), "") << advice.text();
    EXPECT_EQ(checked(sheet).answer(), v1::RelayCheckReply::fits) << advice.text();
    // Another channel where less power would do as well is no help.
    const bool less_would_do = std::ranges::any_of(reply.advice(), [](const auto& other) {
        return other.kind() == v1::RelayAdvice::set_power;
    });
    if (less_would_do && !advice.text().ends_with("disturbs nobody")) {
        EXPECT_GE(advice.gained_db(), 1) << advice.text();
    }
}

// "600 mW on F8 disturbs nobody" is true when somebody moves there.
TEST(RelayAdvice, OfAChannelDoesWhatItSays) {
    for_each_advice(v1::RelayAdvice::change_channel, Range::all_in, expect_channel_to_do);
}

TEST(RelayAdvice, OfAChannelDoesWhatItSaysWhereSomebodyIsTooFar) {
    for_each_advice(v1::RelayAdvice::change_channel, Range::some_too_far, expect_channel_to_do);
}

// Straight away from whoever is named.
void expect_distance_to_do(v1::DaySheet sheet, const v1::RelayCheckReply&,
                           const v1::RelayAdvice& advice) {
    constexpr std::string_view from = "farther away from ";
    const auto name = advice.text().substr(advice.text().find(from) + from.size(), 3);
    const auto s = situation(sheet, v1::Basis::held);
    const auto relay = s.transmitter("mast");
    spectrum::Point victim;
    for (std::size_t v = 0; v < s.receivers.size(); ++v)
        if (s.receivers[v].owner == name && s.scene.receivers[v].hears != relay)
            victim = s.scene.receivers[v].at;
    for (auto& place : *sheet.mutable_field()->mutable_places()) {
        if (place.name() != "tripod") continue;
        const auto moved =
            spectrum::moved_away(point(place), victim, spectrum::Metres(advice.metres()));
        place.set_east_m(moved.x_m);
        place.set_north_m(moved.y_m);
    }
    EXPECT_EQ(harmed(sheet), "") << advice.text();
}

TEST(RelayAdvice, OfADistanceHarmsNobody) {
    for_each_advice(v1::RelayAdvice::move_away, Range::all_in, expect_distance_to_do);
}

TEST(RelayAdvice, OfADistanceHarmsNobodyWhoIsTooFar) {
    for_each_advice(v1::RelayAdvice::move_away, Range::some_too_far, expect_distance_to_do);
}

// The other hand on the relay and its owner's goggles gains as much as is said.
TEST(RelayAdvice, OfTheOtherHandGainsWhatItSays) {
    for_each_advice(
        v1::RelayAdvice::change_hand, Range::all_in,
        [](v1::DaySheet sheet, const auto& reply, const auto& advice) {
            const auto turn = [](v1::Mounting* m) { m->set_polarisation(v1::Polarisation::lhcp); };
            turn(sheet.mutable_relays(0)->mutable_transmitter()->mutable_mounting());
            auto* dee = sheet.mutable_pilots(sheet.pilots_size() - 1);
            turn(dee->mutable_receivers(0)->mutable_mounting());
            const auto again = checked(sheet);
            ASSERT_TRUE(again.ref().has_ceiling_dbm());
            const double before = reply.ref().has_ceiling_dbm() ? reply.ref().ceiling_dbm() : -10;
            EXPECT_NEAR(again.ref().ceiling_dbm() - before, advice.gained_db(), 0.003);
        });
}

// Whatever the day: the answer, the window, the harm and the margins of `check` tell one story.
TEST(RelayCheck, IsOneStory) {
    for_all(days, [](std::mt19937_64& rng) {
        const auto sheet = random_day(rng, Range::some_too_far);
        const auto reply = checked(sheet);
        const auto& window = reply.ref();
        const double asked = reply.asked_dbm();
        if (reply.answer() == v1::RelayCheckReply::fits) {
            EXPECT_TRUE(reply.harmed().empty());
            EXPECT_TRUE(window.has_ceiling_dbm() && asked <= window.ceiling_dbm() + 0.002);
            EXPECT_TRUE(!window.has_floor_dbm() || asked >= window.floor_dbm() - 0.002);
        } else {
            EXPECT_FALSE(reply.advice().empty() && reply.cautions().empty() &&
                         window.reason().empty());
        }
        const auto now = check(sheet, v1::Basis::held, 0);
        EXPECT_EQ(reply.harmed().empty(), harmed(sheet).empty()) << reply.sentence();
        for (const auto& h : reply.harmed()) {
            EXPECT_TRUE(std::ranges::any_of(now.receivers(),
                                            [&](const v1::ReceiverResult& r) {
                                                return r.owner() == h.pilot() &&
                                                       r.margin_ref_db() == h.margin_after_db() &&
                                                       r.verdict() == h.after();
                                            }))
                << h.pilot() << ", " << reply.sentence();
        }
    });
}

}  // namespace
}  // namespace fieldpeg::day
