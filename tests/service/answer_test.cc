#include "server/service/answer.h"

#include "server/day/check.h"
#include "server/day/explain.h"
#include "server/day/relay_check.h"
#include "tests/support/days.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace fieldpeg::service {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

const v1::DaySheet& day_of_three() {
    static const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{.name = "Zo\u00eb", .place = "line-2", .channel = "R4", .stage = ""}) +
        text_of(PilotText{.name = "Dee",
                          .place = "chair",
                          .channel = "R6",
                          .more_goggles = "hears = \"video\""}) +
        text_of(RelayText{.name = "mast", .owner = "Dee"}));
    return sheet;
}

v1::Query about_pilot(const std::string& name) {
    v1::Query query;
    query.mutable_explain()->set_pilot(name);
    return query;
}
v1::Query about_relay(const std::string& name) {
    v1::Query query;
    query.mutable_relay_check()->set_relay(name);
    return query;
}

void expect_refusal(const v1::Answer& answer, v1::Refusal::Kind kind, std::string_view why,
                    std::string_view next) {
    ASSERT_TRUE(answer.has_refusal());
    EXPECT_EQ(answer.refusal().kind(), kind);
    EXPECT_EQ(answer.refusal().why(), why);
    EXPECT_EQ(answer.refusal().next(), next);
}

TEST(Answer, ToNothingIsARefusal) {
    expect_refusal(answer({}, &day_of_three()), v1::Refusal::malformed, "nothing was asked", "");
}

TEST(Answer, WithoutADaySaysWhatIsMissing) {
    v1::Query check;
    check.mutable_check();
    for (const auto& query : {check, about_pilot("Ann"), about_relay("mast")})
        expect_refusal(answer(query, nullptr), v1::Refusal::malformed,
                       "there is no day to ask about", "name one: --day FILE");
}

// --- check and explain

TEST(AnswerToCheck, IsWhatTheDaySays) {
    v1::Query query;
    query.mutable_check()->set_contributions(4);
    query.mutable_check()->set_basis(v1::Basis::on_air);
    const auto reply = answer(query, &day_of_three()).check();
    EXPECT_EQ(reply.SerializeAsString(),
              day::check(day_of_three(), v1::Basis::on_air, 4).SerializeAsString());
    EXPECT_EQ(reply.model(), day::model_name);
}

TEST(AnswerToCheck, CountsWhatIsHeldUnlessToldOtherwise) {
    v1::Query query;
    query.mutable_check();
    EXPECT_EQ(answer(query, &day_of_three()).check().basis(), v1::Basis::held);
    query.mutable_check()->set_basis(v1::Basis::on_air);
    EXPECT_EQ(answer(query, &day_of_three()).check().basis(), v1::Basis::on_air);
}

TEST(AnswerToExplain, FindsAPilotWhateverTheCaseOrComposition) {
    for (const auto* name : {"Zo\u00eb", "zo\u00eb", "ZOE\u0308"}) {
        const auto reply = answer(about_pilot(name), &day_of_three());
        ASSERT_TRUE(reply.has_explain()) << name;
        EXPECT_EQ(reply.explain().pilot().pilot(), "Zo\u00eb");
    }
}

TEST(AnswerToExplain, AsksWhetherSomebodyElseWasMeant) {
    expect_refusal(answer(about_pilot("Anm"), &day_of_three()), v1::Refusal::not_found,
                   "nobody is called 'Anm'", "did you mean 'Ann'?");
    expect_refusal(answer(about_pilot("Wolfgang"), &day_of_three()), v1::Refusal::not_found,
                   "nobody is called 'Wolfgang'", "known: Ann, Zo\u00eb, Dee");
    expect_refusal(answer(about_pilot("A\x1bnn"), &day_of_three()), v1::Refusal::not_found,
                   "nobody is called 'A\\x1bnn'", "did you mean 'Ann'?");
    const v1::DaySheet nobody;
    expect_refusal(answer(about_pilot("Ann"), &nobody), v1::Refusal::not_found,
                   "nobody is called 'Ann'", "");
}

// --- relay check

TEST(AnswerToRelayCheck, IsWhatTheDaySays) {
    auto query = about_relay("MAST");
    query.mutable_relay_check()->set_power_dbm(20);
    v1::RelayCheckQuery same = query.relay_check();
    same.set_relay("mast");
    EXPECT_EQ(answer(query, &day_of_three()).relay_check().SerializeAsString(),
              day::relay_check(day_of_three(), same)->SerializeAsString());
}

TEST(AnswerToRelayCheck, AsksWhetherAnotherWasMeant) {
    expect_refusal(answer(about_relay("mats"), &day_of_three()), v1::Refusal::not_found,
                   "no relay is called 'mats'", "known: mast");
    expect_refusal(answer(about_relay("masts"), &day_of_three()), v1::Refusal::not_found,
                   "no relay is called 'masts'", "did you mean 'mast'?");
}

v1::Query bare() {
    v1::Query query;
    auto* ask = query.mutable_bare_relay_check();
    ask->mutable_channel()->set_name("F4");
    ask->mutable_channel()->set_mhz(5800);
    ask->set_power_dbm(23.01);
    ask->set_owner_distance_m(22);
    ask->mutable_neighbour_channel()->set_name("R6");
    ask->mutable_neighbour_channel()->set_mhz(5843);
    ask->set_neighbour_distance_m(8);
    ask->set_neighbour_power_dbm(13.979);
    ask->set_neighbour_range_m(130);
    return query;
}

TEST(AnswerToABareRelayCheck, NeedsNoDayAndSaysWhatItAssumed) {
    const auto reply = answer(bare(), nullptr);
    ASSERT_TRUE(reply.has_relay_check()) << reply.ShortDebugString();
    EXPECT_EQ(reply.relay_check().assumed_size(), 4);
    EXPECT_NEAR(reply.relay_check().asked_dbm(), 23.01, 0.001);
    EXPECT_TRUE(reply.relay_check().ref().has_floor_dbm());
    EXPECT_TRUE(reply.relay_check().ref().has_ceiling_dbm());
    EXPECT_EQ(answer(bare(), &day_of_three()).SerializeAsString(), reply.SerializeAsString());
}

// The ceiling rises with the neighbour's distance, and the floor with the owner's.
TEST(AnswerToABareRelayCheck, FollowsTheDistances) {
    auto query = bare();
    const auto window = [&] { return answer(query, nullptr).relay_check().ref(); };
    const auto near = window();
    query.mutable_bare_relay_check()->set_neighbour_distance_m(20);
    EXPECT_GT(window().ceiling_dbm(), near.ceiling_dbm() + 6);
    query.mutable_bare_relay_check()->set_owner_distance_m(44);
    EXPECT_NEAR(window().floor_dbm(), near.floor_dbm() + 6, 0.5);
}

TEST(AnswerToABareRelayCheck, KnowsGearInAnyCaseAndNoOther) {
    auto query = bare();
    query.mutable_bare_relay_check()->set_antenna("Circular-Patch");
    EXPECT_TRUE(answer(query, nullptr).has_relay_check());
    query.mutable_bare_relay_check()->set_antenna("circular-pach");
    expect_refusal(answer(query, nullptr), v1::Refusal::not_found,
                   "no antenna is called 'circular-pach'", "did you mean 'circular-patch'?");
    query = bare();
    query.mutable_bare_relay_check()->set_neighbour_receiver("fm-video-5g9");
    EXPECT_EQ(answer(query, nullptr).refusal().where(), "receiver");
    query = bare();
    query.mutable_bare_relay_check()->set_emission("zzzzzzzzzz");
    EXPECT_EQ(answer(query, nullptr).refusal().where(), "emission");
}

// --- gear

TEST(AnswerToGear, HasOneDefinitionOrEverything) {
    v1::Query query;
    query.mutable_gear();
    const auto all = answer(query, nullptr).gear().library();
    EXPECT_GT(all.emissions_size(), 3);
    EXPECT_FALSE(all.rows().empty() || all.services().empty() || all.rule_sets().empty());
    query.mutable_gear()->set_name("FM-Video");
    const auto one = answer(query, nullptr).gear().library();
    ASSERT_EQ(one.emissions_size(), 1);
    EXPECT_EQ(one.emissions(0).name(), "fm-video");
    EXPECT_TRUE(one.receivers().empty() && one.antennas().empty() && one.rows().empty());
    query.mutable_gear()->set_name("fm-vidio");
    expect_refusal(answer(query, nullptr), v1::Refusal::not_found, "nothing is called 'fm-vidio'",
                   "did you mean 'fm-video'?");
}

TEST(AnswerToGear, PutsTheDaysOwnGearInTheLibrarysPlace) {
    const auto sheet = sheet_of(testing::whole_day());
    v1::Query query;
    query.mutable_gear()->set_name("hopping-2g4");
    const auto own = answer(query, &sheet).gear().library();
    ASSERT_EQ(own.control_links_size(), 1);
    EXPECT_EQ(own.control_links(0).low_mhz(), 2405);
    EXPECT_EQ(answer(query, nullptr).gear().library().control_links(0).low_mhz(), 2400);
    query.mutable_gear()->set_name("my-whip");
    EXPECT_EQ(answer(query, &sheet).gear().library().antennas_size(), 1);
    query.mutable_gear()->set_name("club");
    EXPECT_EQ(answer(query, &sheet).gear().library().rule_sets_size(), 1);
}

// --- channels

v1::Query set_of(const std::vector<double>& mhz, double reach_mhz = 10) {
    v1::Query query;
    query.mutable_channels()->set_reach_mhz(reach_mhz);
    for (const double f : mhz) {
        auto* channel = query.mutable_channels()->add_channels();
        channel->set_mhz(f);
        channel->set_name(std::to_string(std::lround(f)));
    }
    return query;
}

TEST(AnswerToChannels, ListsTheRowsUnlessASetIsNamed) {
    const auto rows = answer(set_of({}), nullptr).channels();
    EXPECT_EQ(rows.rows_size(), 7);
    EXPECT_TRUE(rows.channels().empty() && rows.hits().empty());
}

TEST(AnswerToChannels, GivesDistancesAndProductsNearestFirst) {
    const auto reply = answer(set_of({5658, 5695, 5740}), nullptr).channels();
    EXPECT_TRUE(reply.rows().empty());
    ASSERT_EQ(reply.distances_size(), 3);
    EXPECT_EQ(reply.distances(0).mhz(), 37);
    EXPECT_EQ(reply.distances(2).mhz(), 82);
    ASSERT_EQ(reply.hits_size(), 2);  // 2 x 5695 - 5658 = 5732, and 2 x 5695 - 5740 = 5650
    for (const auto& hit : reply.hits()) EXPECT_EQ(hit.offset_mhz(), 8);
    EXPECT_EQ(reply.exact_two_signal(), 0u);
    EXPECT_TRUE(answer(set_of({5658, 5695, 5740}, 7.9), nullptr).channels().hits().empty());
}

// Three equally spaced channels: two products of two signals, on both ends.
TEST(AnswerToChannels, CountsWhatFallsExactlyOnAChannel) {
    const auto three = answer(set_of({5658, 5695, 5732}), nullptr).channels();
    EXPECT_EQ(three.exact_two_signal(), 2u);
    EXPECT_EQ(three.exact_three_signal(), 0u);
    const auto four = answer(set_of({5658, 5695, 5732, 5769}), nullptr).channels();
    EXPECT_EQ(four.exact_two_signal(), 4u);
    EXPECT_EQ(four.exact_three_signal(), 4u);
}

TEST(AnswerToChannels, TakesEachChannelOnceAndNoMoreThanItMay) {
    expect_refusal(answer(set_of({5658, 5695, 5658}), nullptr), v1::Refusal::malformed,
                   "5658 MHz is in the set twice", "each channel once");
    std::vector<double> many;
    for (int i = 0; i <= channel_set_max; ++i) many.push_back(5'000 + i * i / 2.0);
    const auto refused = answer(set_of(many, 0), nullptr);
    ASSERT_TRUE(refused.has_refusal());
    EXPECT_EQ(refused.refusal().kind(), v1::Refusal::out_of_range);
    EXPECT_EQ(refused.refusal().where(), "channels");
    EXPECT_EQ(refused.refusal().next(), fmt::format("at most {}", channel_set_max));
    many.pop_back();
    EXPECT_EQ(answer(set_of(many, 0), nullptr).channels().channels_size(), channel_set_max);
}

// Channels in a row make hundreds of products; all are counted, the nearest are listed.
TEST(AnswerToChannels, ListsNoMoreProductsThanItMay) {
    std::vector<double> row;
    for (int i = 0; i < 12; ++i) row.push_back(5'650 + 20 * i);
    const auto reply = answer(set_of(row, 60), nullptr).channels();
    EXPECT_EQ(reply.hits_size(), hits_max);
    EXPECT_GT(reply.hits_within_reach(), static_cast<unsigned>(hits_max));
    EXPECT_TRUE(std::ranges::is_sorted(reply.hits(), {}, &v1::ChannelHit::offset_mhz));
    // 2a - b, and a + b - c without order in a and b, on one of the twelve.
    unsigned two = 0, three = 0;
    for (int a = 0; a < 12; ++a)
        for (int b = 0; b < 12; ++b)
            for (int on = 0; on < 12; ++on) {
                if (a != b && on == 2 * a - b) ++two;
                const int c = a + b - on;
                if (a < b && 0 <= c && c < 12 && on != a && on != b && c != on) ++three;
            }
    EXPECT_EQ(reply.exact_two_signal(), two);
    EXPECT_EQ(reply.exact_three_signal(), three);
}

TEST(AnswerToChannels, RemarksOnServices) {
    const auto reply = answer(set_of({5800, 5645}), nullptr).channels();
    ASSERT_EQ(reply.remarks_size(), 1);
    EXPECT_NE(reply.remarks(0).text().find("weather radar"), std::string::npos);
}

}  // namespace
}  // namespace fieldpeg::service
