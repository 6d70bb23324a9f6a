#include "server/service/answer.h"
#include "tests/support/days.h"

#include <google/protobuf/util/json_util.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <functional>
#include <iostream>
#include <limits>
#include <string>

/// Questions as nobody at the keyboard may write them, but a program may: they are refused, or
/// answered in finite numbers, and never end the program.
namespace fieldpeg::service {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double inf = std::numeric_limits<double>::infinity();

const v1::DaySheet& ann_and_a_mast() {
    static const auto sheet = sheet_of(field_text() + text_of(PilotText{.name = "Ann"}) +
                                       text_of(PilotText{.name = "Dee",
                                                         .place = "chair",
                                                         .channel = "R6",
                                                         .more_goggles = "hears = \"video\""}) +
                                       text_of(RelayText{.name = "mast", .owner = "Dee"}));
    return sheet;
}

v1::Query bare_with(const std::function<void(v1::BareRelayCheckQuery&)>& change) {
    v1::Query query;
    auto* ask = query.mutable_bare_relay_check();
    ask->mutable_channel()->set_mhz(5800);
    ask->set_power_dbm(14);
    ask->set_owner_distance_m(22);
    ask->mutable_neighbour_channel()->set_mhz(5843);
    ask->set_neighbour_distance_m(8);
    ask->set_neighbour_power_dbm(14);
    ask->set_neighbour_range_m(130);
    change(*ask);
    return query;
}

v1::Query relay_with(const std::function<void(v1::RelayCheckQuery&)>& change) {
    v1::Query query;
    query.mutable_relay_check()->set_relay("mast");
    change(*query.mutable_relay_check());
    return query;
}

v1::Query channels_with(double mhz, double reach_mhz) {
    v1::Query query;
    for (const double f : {5'732.0, mhz}) query.mutable_channels()->add_channels()->set_mhz(f);
    query.mutable_channels()->set_reach_mhz(reach_mhz);
    return query;
}

/// Leaves with 0 if the question was refused or answered in numbers.
[[noreturn]] void ask_and_leave(const v1::Query& query) {
    const auto reply = answer(query, &ann_and_a_mast());
    std::string json;
    if (!google::protobuf::util::MessageToJsonString(reply, &json).ok()) std::exit(3);
    for (const auto* word : {"NaN", "Infinity"})
        if (json.find(word) != std::string::npos) {
            std::cerr << json;
            std::exit(2);
        }
    std::exit(0);
}

void expect_survived(const char* what, const v1::Query& query) {
    SCOPED_TRACE(what);
    EXPECT_EXIT(ask_and_leave(query), ::testing::ExitedWithCode(0), "");
}

TEST(AbsurdBareRelayCheck, NeitherEndsTheProgramNorIsAnsweredWithoutNumbers) {
    using Query = v1::BareRelayCheckQuery;
    const std::pair<const char*, std::function<void(Query&)>> changes[] = {
        {"a neighbour who flies no farther than 30 m",
         [](Query& q) { q.set_neighbour_range_m(30); }},
        {"a neighbour without a range", [](Query& q) { q.clear_neighbour_range_m(); }},
        {"a range that is no number", [](Query& q) { q.set_neighbour_range_m(nan); }},
        {"an endless range", [](Query& q) { q.set_neighbour_range_m(inf); }},
        {"no channel", [](Query& q) { q.clear_channel(); }},
        {"a channel that is no number", [](Query& q) { q.mutable_channel()->set_mhz(nan); }},
        {"a channel below zero", [](Query& q) { q.mutable_neighbour_channel()->set_mhz(-5800); }},
        {"a channel beyond all bands",
         [](Query& q) { q.mutable_neighbour_channel()->set_mhz(1e300); }},
        {"a power that is no number", [](Query& q) { q.set_power_dbm(nan); }},
        {"an endless power", [](Query& q) { q.set_neighbour_power_dbm(inf); }},
        {"an absurd power", [](Query& q) { q.set_power_dbm(1e6); }},
        {"an endless distance", [](Query& q) { q.set_owner_distance_m(inf); }},
        {"a distance that is no number", [](Query& q) { q.set_neighbour_distance_m(nan); }},
    };
    for (const auto& [what, change] : changes) expect_survived(what, bare_with(change));
}

TEST(AbsurdRelayCheck, NeitherEndsTheProgramNorIsAnsweredWithoutNumbers) {
    using Query = v1::RelayCheckQuery;
    const std::pair<const char*, std::function<void(Query&)>> changes[] = {
        {"a power that is no number", [](Query& q) { q.set_power_dbm(nan); }},
        {"an absurd power", [](Query& q) { q.set_power_dbm(1e6); }},
        {"no power to speak of", [](Query& q) { q.set_power_dbm(-inf); }},
        {"a channel of 0 MHz", [](Query& q) { q.mutable_channel(); }},
        {"a channel that is no number", [](Query& q) { q.mutable_channel()->set_mhz(nan); }},
        {"a channel beyond all bands", [](Query& q) { q.mutable_channel()->set_mhz(1e300); }},
    };
    for (const auto& [what, change] : changes) expect_survived(what, relay_with(change));
}

TEST(AbsurdChannels, NeitherEndTheProgramNorAreAnsweredWithoutNumbers) {
    expect_survived("a channel that is no number", channels_with(nan, 10));
    expect_survived("a channel beyond all bands", channels_with(1e300, 10));
    expect_survived("a channel of 0 MHz", channels_with(0, 10));
    expect_survived("a reach that is no number", channels_with(5'800, nan));
    expect_survived("an endless reach", channels_with(5'800, inf));
    expect_survived("a reach below zero", channels_with(5'800, -1));
}

// An absurd power is refused, not worked out to the last decimal.
TEST(AbsurdRelayCheck, IsRefused) {
    const auto reply = answer(relay_with([](auto& q) { q.set_power_dbm(200); }), &ann_and_a_mast());
    EXPECT_TRUE(reply.has_refusal()) << "200 dBm was answered: " << reply.relay_check().sentence();
}

TEST(AnswerToCheck, KnowsOnlyItsTwoBases) {
    v1::Query query;
    query.mutable_check()->set_basis(static_cast<v1::Basis::Kind>(77));
    const auto reply = answer(query, &ann_and_a_mast());
    EXPECT_TRUE(reply.has_refusal() || reply.check().basis() == v1::Basis::held ||
                reply.check().basis() == v1::Basis::on_air)
        << "basis " << reply.check().basis();
}

TEST(AnswerToCheck, GivesNoMoreContributionsThanItMay) {
    std::string text = field_text();
    for (int i = 0; i < 16; ++i)  // close together: over a thousand products within reach
        text += text_of(PilotText{.name = "Pilot " + std::to_string(i),
                                  .channel = std::to_string(5'700 + 5 * i)});
    const auto sheet = sheet_of(text);
    v1::Query query;
    query.mutable_check()->set_contributions(std::numeric_limits<std::uint32_t>::max());
    const auto reply = answer(query, &sheet);
    ASSERT_TRUE(reply.has_check());
    EXPECT_EQ(static_cast<std::size_t>(reply.check().receivers(8).contributions_size()),
              contributions_max);
}

}  // namespace
}  // namespace fieldpeg::service
