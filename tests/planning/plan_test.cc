#include "server/planning/plan.h"

#include "server/day/check.h"
#include "server/day/state.h"
#include "server/planning/plan_scene.h"
#include "server/service/answer.h"
#include "tests/planning/plans.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <vector>

/// Plans as they are asked for of a day. What a margin is the plain margin function says, through
/// `check`; the planner only has to agree.
namespace fieldpeg::planning {
namespace {

using testing::chance;
using testing::changed;
using testing::choice_of;
using testing::field_text;
using testing::for_all;
using testing::margins_by_check;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;
using testing::unclaimed;
using testing::whole;
using testing::with;

/// So many pilots on the line who hold nothing.
std::string line_of(int pilots, const std::string& more_video = "") {
    static const std::vector<std::string> names = {"Ann", "Ben", "Cem", "Dot"};
    std::string text;
    for (int i = 0; i < pilots; ++i)
        text += unclaimed(PilotText{.name = names[static_cast<std::size_t>(i)],
                                    .place = fmt::format("line-{}", i + 1),
                                    .more_video = more_video});
    return text;
}

v1::Query plan_query() {
    v1::Query query;
    query.mutable_plan();
    return query;
}

v1::PlanReply planned(const v1::DaySheet& sheet, const v1::Query& query = plan_query()) {
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_plan()) << answer.DebugString();
    return answer.plan();
}

/// A day of the club at random: who stands where, with which powers and channels, and who holds
/// what, on the air or not.
std::string random_day(std::mt19937_64& rng) {
    static const std::vector<std::string> rows = {"\"R1-R8\"", "\"F1-F4\", \"R2\"", "\"A1-A8\""};
    auto text = field_text();
    const int pilots = whole(rng, 1, 4);
    for (int i = 0; i < pilots; ++i) {
        const auto name = std::string(1, static_cast<char>('A' + i)) + "nn";
        PilotText pilot{.name = name, .place = fmt::format("line-{}", i + 1)};
        pilot.more_video =
            fmt::format("power_mw = [{}]\nchannels = [{}]\n", chance(rng, 30) ? "25, 200" : "25",
                        rows[static_cast<std::size_t>(whole(rng, 0, 2))]);
        text += unclaimed(pilot);
    }
    return text;
}

TEST(Plan, TellsTheMarginsThatCheckTellsOfThePlannedDay) {
    for_all(15, [](std::mt19937_64& rng) {
        const auto sheet = sheet_of(random_day(rng));
        const auto reply = planned(sheet);
        const auto margins = margins_by_check(with(sheet, reply.choices()));
        double worst = 1000;
        for (const auto& c : reply.choices()) {
            ASSERT_TRUE(margins.contains(c.owner()));
            EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01) << c.DebugString();
            worst = std::min(worst, margins.at(c.owner()));
        }
        EXPECT_NEAR(reply.worst_margin_db(), worst, 0.01);
        EXPECT_GE(reply.bound_db(), worst - 0.01);
    });
}

// For one newcomer `claim best` tries every channel there is: nothing is better, so the planner's
// is as good. One power each, as with several the two weigh powers differently.
TEST(Plan, IsForANewcomerAsGoodAsTryingEveryChannel) {
    const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R3", .stage = ""}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "F2", .stage = ""}) +
        unclaimed(PilotText{.name = "Cem",
                            .place = "line-3",
                            .more_video = "channels = [\"R1-R8\", \"A1-A8\"]\n"}));
    auto query = plan_query();
    query.mutable_plan()->mutable_planned()->add_who("Cem");
    const auto reply = planned(sheet, query);
    ASSERT_EQ(reply.choices_size(), 1);
    double best = -1000;
    std::uint32_t last_id = 0;
    for (const auto& channel : day::pilot(sheet, "Cem")->video().channels()) {
        auto tried = day::with_ids(sheet, last_id);
        auto& claim = day::claim_of(tried, day::pilot(tried, "Cem")->id());
        *claim.mutable_channel() = channel;
        claim.set_power_dbm(13.979400086720376);
        claim.set_stage(v1::Claim::held);
        double worst = 1000;
        for (const auto& [name, margin] : margins_by_check(tried)) worst = std::min(worst, margin);
        best = std::max(best, worst);
    }
    EXPECT_NEAR(reply.worst_margin_db(), best, 0.02);
    EXPECT_TRUE(reply.proved());
}

TEST(Plan, NeverMovesWhatRadiatesNorWhoIsToKeep) {
    const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R3"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R3", .stage = ""}) +
        text_of(PilotText{.name = "Cem", .place = "line-3", .channel = "R4", .stage = ""}));
    auto query = plan_query();
    query.mutable_plan()->mutable_planned()->add_keep("cem");
    const auto reply = planned(sheet, query);
    EXPECT_EQ(choice_of(reply, "Ann").channel(), "R3");
    EXPECT_TRUE(choice_of(reply, "Ann").stays());
    EXPECT_EQ(choice_of(reply, "Cem").channel(), "R4");
    EXPECT_TRUE(choice_of(reply, "Cem").stays());
    EXPECT_NE(choice_of(reply, "Ben").channel(), "R3");
    EXPECT_EQ(choice_of(reply, "Ben").held().name(), "R3");

    query.mutable_plan()->mutable_planned()->set_as_landed(true);
    EXPECT_FALSE(choice_of(planned(sheet, query), "Ann").stays());
}

// Two of three share a channel; the third is in nobody's way: one move mends it, and none does not.
TEST(Plan, MovesAsFewAsDo) {
    const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R1", .stage = ""}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R1", .stage = ""}) +
        text_of(PilotText{.name = "Cem", .place = "line-3", .channel = "R8", .stage = ""}));
    auto query = plan_query();
    query.mutable_plan()->set_moves(2);
    const auto reply = planned(sheet, query);
    EXPECT_EQ(reply.moves(), 1U);
    EXPECT_TRUE(reply.moves_proved());
    EXPECT_TRUE(reply.reached());
    EXPECT_EQ(std::ranges::count_if(reply.choices(), [](const auto& c) { return c.has_held(); }),
              1);

    query.mutable_plan()->set_moves(0);
    const auto none = plan(query, sheet, {});
    EXPECT_EQ(none.refusal().kind(), v1::Refusal::conflict);
    EXPECT_EQ(none.refusal().where(), "moves");
}

TEST(Plan, MovesNobodyForANewcomerWhereThereIsRoom) {
    const auto sheet =
        sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R1", .stage = ""}) +
                 unclaimed(PilotText{.name = "Ben", .place = "line-2"}));
    auto query = plan_query();
    query.mutable_plan()->set_moves(1);
    const auto reply = planned(sheet, query);
    EXPECT_EQ(reply.moves(), 0U);
    EXPECT_EQ(choice_of(reply, "Ann").channel(), "R1");
}

TEST(Plan, ChoosesTheLeastPowerThatIsSteadyAlone) {
    auto ann = PilotText{.name = "Ann", .more_video = "power_mw = [25, 200, 600]\n"};
    const auto sheet = sheet_of(field_text() + unclaimed(ann));
    const auto reply = planned(sheet);
    EXPECT_NEAR(choice_of(reply, "Ann").power_dbm(), 13.979, 0.001);
    EXPECT_EQ(day::check(with(sheet, reply.choices()), v1::Basis::held, 0).pilots(0).verdict(),
              v1::Verdict::steady);
    const auto far = sheet_of(field_text() + unclaimed([&] {
                                  ann.area = "valley";
                                  return ann;
                              }()));
    EXPECT_NEAR(choice_of(planned(far), "Ann").power_dbm(), 27.782, 0.001);
}

// Of two ways to a picture the one that needs less power does: spare goggles that look at the
// aircraft from the chair, too far for them or steady with more power, make nobody louder.
TEST(Plan, ChoosesTheLeastPowerOfTheWayThatNeedsLeast) {
    const auto power_dbm = [](const std::string& first_hop, const std::string& spare) {
        auto dee = text_of(PilotText{.name = "Dee",
                                     .place = "chair",
                                     .channel = "1280",
                                     .area = "valley",
                                     .more_video = "power_mw = [25, 200, 800]\n",
                                     .more_goggles = "hears = \"mast\""});
        dee = changed(dee, "circular-omni\"\npolarisation = \"rhcp\"", "vertical-omni-1g3\"");
        auto sheet =
            sheet_of(field_text() + dee + spare +
                     text_of(RelayText{.name = "mast", .owner = "Dee", .tables = first_hop}));
        sheet.mutable_pilots(0)->clear_claim();
        return choice_of(planned(sheet), "Dee").power_dbm();
    };
    const std::string first_hop =
        "[[relay.receiver]]\nreceiver = \"fm-video-1g3\"\nantenna = \"wide-panel\"\n";
    const std::string spare =
        "[[pilot.receiver]]\nname = \"spare\"\nreceiver = \"fm-video-1g3\"\n"
        "antenna = \"dipole\"\nhears = \"video\"\n";
    const double through_the_mast = power_dbm(first_hop, "");
    EXPECT_LT(through_the_mast, 29);
    EXPECT_EQ(power_dbm(first_hop, spare + "body_db = 40\n"), through_the_mast);
    const double by_the_spare = power_dbm(first_hop + "loss_db = 60\n", spare);
    EXPECT_GT(by_the_spare, through_the_mast);
    EXPECT_LT(by_the_spare, 29);  // below the highest: steady
    EXPECT_EQ(power_dbm(first_hop, spare), through_the_mast);
}

TEST(Plan, HasNoWorstMarginWhereNobodyHasAGoodFlight) {
    const auto reply =
        planned(sheet_of(field_text() + unclaimed(PilotText{.name = "Lou", .area = "valley"})));
    EXPECT_FALSE(reply.has_worst_margin_db());
    EXPECT_FALSE(reply.has_bound_db());
    ASSERT_FALSE(reply.said().empty());
}

// The European short-range set allows 5725-5875 MHz [ERC Recommendation 70-03, annex 1]: an
// occupied band below it is remarked on, and there are channels above.
TEST(Plan, TakesChannelsWithoutARemarkWhereThereAreSome) {
    const auto date = "date = 2026-06-12\n";
    const auto sheet =
        sheet_of(changed(field_text(), date, date + std::string("rules = \"cept-25mw\"\n")) +
                 line_of(3, "power_mw = [10]\n"));
    const auto reply = planned(sheet);
    EXPECT_TRUE(reply.remarks().empty()) << reply.DebugString();
    for (const auto& c : reply.choices()) {
        EXPECT_GT(c.channel_mhz(), 5725);
        EXPECT_LT(c.channel_mhz(), 5875);
    }
}

TEST(Plan, SaysWhatStandsInTheWayAndWhatWouldHelp) {
    auto on_r1 = [](const std::string& name, const std::string& place) {
        return PilotText{.name = name, .place = place, .more_video = "channels = [\"R1\"]\n"};
    };
    const auto reply = planned(sheet_of(field_text() + unclaimed(on_r1("Ann", "line-1")) +
                                        unclaimed(on_r1("Ben", "line-2"))));
    EXPECT_FALSE(reply.reached());
    EXPECT_TRUE(reply.proved());
    EXPECT_NE(reply.obstacle().find("on the same channel"), std::string::npos) << reply.obstacle();
    EXPECT_NE(reply.obstacle().find("cannot both"), std::string::npos) << reply.obstacle();
    ASSERT_FALSE(reply.advice().empty());
    EXPECT_GT(reply.advice(0).worst_margin_db(), reply.worst_margin_db());
}

TEST(Plan, CountsSightings) {
    auto sheet = sheet_of(field_text() + line_of(1));
    const auto alone = planned(sheet);
    auto& sighting = *sheet.add_sightings();
    sighting.set_id(77);
    sighting.mutable_channel()->set_name(alone.choices(0).channel());
    sighting.mutable_channel()->set_mhz(alone.choices(0).channel_mhz());
    sighting.set_power_dbm(23);
    *sighting.mutable_transmitter() = sheet.pilots(0).video();
    sighting.set_area("circuit");
    const auto reply = planned(sheet);
    ASSERT_EQ(reply.choices_size(), 1);
    EXPECT_GT(std::abs(reply.choices(0).channel_mhz() - alone.choices(0).channel_mhz()), 20);
}

TEST(Plan, RefusesWhatMakesNoSense) {
    const auto sheet = sheet_of(field_text() + line_of(2));
    const auto refusal = [&](auto change) {
        auto query = plan_query();
        change(*query.mutable_plan());
        return plan(query, sheet, {}).refusal();
    };
    EXPECT_EQ(refusal([](auto& q) { q.mutable_planned()->add_who("Anne"); }).next(),
              "did you mean 'Ann'?");
    EXPECT_EQ(refusal([](auto& q) { q.mutable_planned()->add_keep("Ann"); }).kind(),
              v1::Refusal::conflict);
    EXPECT_EQ(refusal([](auto& q) { q.set_margin_db(NAN); }).kind(), v1::Refusal::out_of_range);
    EXPECT_EQ(refusal([](auto& q) { q.mutable_planned()->set_seconds(-1); }).kind(),
              v1::Refusal::out_of_range);
    EXPECT_EQ(refusal([](auto& q) { q.set_group(3); }).why(), "there is nobody to plan for");
    EXPECT_EQ(plan(plan_query(), sheet_of(field_text()), {}).refusal().why(),
              "there is nobody to plan for");
    EXPECT_TRUE(service::answer(plan_query(), nullptr).has_refusal());
}

TEST(Plan, EndsWhenItIsEnough) {
    const auto sheet = sheet_of(field_text() + line_of(4));
    auto query = plan_query();
    query.mutable_plan()->mutable_planned()->set_seconds(0);
    const auto reply = planned(sheet, query);  // the first choice, without a proof
    EXPECT_EQ(reply.choices_size(), 4);
    EXPECT_GE(reply.bound_db(), reply.worst_margin_db());
}

v1::RotaReply rota(const v1::DaySheet& sheet, const v1::RotaQuery& asked) {
    v1::Query query;
    *query.mutable_rota() = asked;
    const auto answer = plan(query, sheet, {});
    EXPECT_TRUE(answer.has_rota()) << answer.DebugString();
    return answer.rota();
}

std::map<std::string, std::uint32_t> groups_of(const v1::RotaReply& reply) {
    std::map<std::string, std::uint32_t> groups;
    for (const auto& group : reply.groups())
        for (const auto& c : group.choices()) {
            EXPECT_EQ(c.group(), group.group());
            EXPECT_TRUE(groups.emplace(c.transmitter(), c.group()).second) << c.transmitter();
        }
    return groups;
}

TEST(Rota, FliesEverybodyOnceAndTellsTheMarginsOfCheck) {
    for_all(8, [](std::mt19937_64& rng) {
        const auto sheet = sheet_of(random_day(rng));
        v1::RotaQuery asked;
        asked.set_margin_db(-3);
        const auto reply = rota(sheet, asked);
        EXPECT_EQ(groups_of(reply).size(), static_cast<std::size_t>(sheet.pilots_size()));
        EXPECT_GE(reply.groups_size(), static_cast<int>(reply.groups_at_least()));
        google::protobuf::RepeatedPtrField<v1::PlanChoice> all;
        for (const auto& group : reply.groups()) all.MergeFrom(group.choices());
        const auto flown = with(sheet, all);
        for (const auto& group : reply.groups()) {
            const auto margins = margins_by_check(day::of_group(flown, group.group()));
            for (const auto& c : group.choices()) {
                EXPECT_NEAR(c.margin_db(), margins.at(c.owner()), 0.01);
                EXPECT_GE(margins.at(c.owner()), -3.001);
            }
        }
    });
}

TEST(Rota, HoldsToWhoFliesWithWhom) {
    const auto sheet =
        sheet_of(field_text() + line_of(3) + unclaimed(PilotText{.name = "Dee", .place = "chair"}) +
                 unclaimed(RelayText{.name = "mast", .owner = "Dee"}));
    v1::RotaQuery asked;
    asked.set_margin_db(-10);
    auto& apart = *asked.add_apart();
    apart.set_a("ann");
    apart.set_b("Ben");
    auto& together = *asked.add_together();
    together.set_a("Ann");
    together.set_b("Cem");
    const auto groups = groups_of(rota(sheet, asked));
    EXPECT_NE(groups.at("Ann"), groups.at("Ben"));
    EXPECT_EQ(groups.at("Ann"), groups.at("Cem"));
    EXPECT_EQ(groups.at("Dee"), groups.at("mast"));

    *asked.add_apart() = together;  // and never
    v1::Query query;
    *query.mutable_rota() = asked;
    EXPECT_EQ(plan(query, sheet, {}).refusal().kind(), v1::Refusal::conflict);
}

TEST(Rota, BeginsEachRoundWithAnotherGroup) {
    auto only_r1 = [](const std::string& name, const std::string& place) {
        return PilotText{.name = name, .place = place, .more_video = "channels = [\"R1\"]\n"};
    };
    const auto sheet =
        sheet_of(field_text() + unclaimed(only_r1("Ann", "line-1")) +
                 unclaimed(only_r1("Ben", "line-2")) + unclaimed(only_r1("Cem", "line-3")));
    v1::RotaQuery asked;
    std::set<std::string> first;
    std::map<std::string, std::uint32_t> groups;
    for (std::uint32_t round = 0; round < 3; ++round) {
        asked.set_round(round);
        const auto reply = rota(sheet, asked);
        ASSERT_EQ(reply.groups_size(), 3);  // one channel for three side by side
        EXPECT_TRUE(reply.groups_proved());
        first.insert(reply.groups(0).choices(0).owner());
        if (round > 0) {
            EXPECT_EQ(groups_of(reply), groups);
        }
        groups = groups_of(reply);
    }
    EXPECT_EQ(first.size(), 3U);
}

// A transmitter on the bench, on the very channel on which somebody flies and beside their
// goggles, takes the picture; far from them and at pit power it does not.
TEST(Rota, SaysWhoMustBeUnpluggedWhileOthersFly) {
    auto shares_r1 = [](const std::string& name, const std::string& place) {
        return PilotText{.name = name, .place = place, .more_video = "channels = [\"R1\"]\n"};
    };
    const auto text = field_text() + unclaimed(shares_r1("Ann", "line-1")) +
                      unclaimed(shares_r1("Ben", "line-2"));
    v1::RotaQuery asked;
    const auto loud = rota(sheet_of(text), asked);
    ASSERT_EQ(loud.groups_size(), 2);
    for (const auto& group : loud.groups()) {
        EXPECT_EQ(group.unplugged_size(), 1);
        EXPECT_NE(group.changeover().find("everybody unplugged"), std::string::npos);
    }
    auto quiet = sheet_of(text);
    for (auto& pilot : *quiet.mutable_pilots()) pilot.mutable_video()->set_bench_power_dbm(-100);
    const auto reply = rota(quiet, asked);
    for (const auto& group : reply.groups()) EXPECT_TRUE(group.unplugged().empty());
}

// Lou, far out and on the air on Ben's channel, has no good flight whatever others do: that forbids
// nobody else theirs.
TEST(Rota, IsNotForbiddenByOneWhomNothingHelps) {
    const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Lou", .channel = "R3", .area = "valley"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R3"}) +
        unclaimed(PilotText{.name = "Cyd", .place = "line-3"}));
    v1::Query room;
    room.mutable_room()->set_like("Cyd");
    const auto found = plan(room, sheet, {});
    ASSERT_TRUE(found.has_room()) << found.DebugString();
    EXPECT_GT(found.room().more(), 0U);
    for (const auto& text : found.room().said()) EXPECT_EQ(text.find("inf"), std::string::npos);
    v1::RotaQuery asked;
    asked.mutable_planned()->add_who("Cyd");
    EXPECT_EQ(groups_of(rota(sheet, asked)).at("Cyd"), 1U);
}

TEST(Room, IsWhatFitsAndSaysWhere) {
    auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann",
                                         .channel = "R2",
                                         .stage = "",
                                         .more_video = "channels = [\"R2\", \"R4\", \"R6\"]\n"}));
    v1::Query query;
    query.mutable_room()->set_like("ann");
    query.mutable_room()->set_margin_db(-3);
    const auto found = plan(query, sheet, {});
    ASSERT_TRUE(found.has_room()) << found.DebugString();
    EXPECT_EQ(found.room().more(), 2U);  // three channels, one is held
    EXPECT_TRUE(found.room().proved());
    std::set<std::string> channels;
    for (const auto& c : found.room().channels()) channels.insert(c.name());
    EXPECT_EQ(channels, (std::set<std::string>{"R4", "R6"}));

    query.mutable_room()->set_like("Zoe");
    EXPECT_EQ(plan(query, sheet, {}).refusal().kind(), v1::Refusal::not_found);
}

TEST(PlanUnderALimit, ChoosesNoStepAboveItAndSaysWhoHasNone) {
    const auto day = [](const std::string& limit) {
        return sheet_of(
            changed(field_text(), "date = 2026-06-12", "date = 2026-06-12\n" + limit) +
            unclaimed(PilotText{
                .name = "Ann", .area = "valley", .more_video = "power_mw = [25, 200, 600]"}) +
            unclaimed(
                PilotText{.name = "Ben", .place = "line-4", .more_video = "power_mw = [400]"}));
    };
    const auto dbm = [](double mw) { return 10 * std::log10(mw); };
    const auto free = planned(day(""));
    EXPECT_NEAR(choice_of(free, "Ann").power_dbm(), dbm(600), 0.001);
    const std::string none =
        "Ben: has no step within the limit: 400 mW is above the club's limit of 200 mW; only the "
        "marshal allows it";
    EXPECT_EQ(std::ranges::count(free.said(), none), 0);
    const auto limited = planned(day("power_limit_mw = 200"));
    EXPECT_NEAR(choice_of(limited, "Ann").power_dbm(), dbm(200), 0.001);
    EXPECT_EQ(std::ranges::count(limited.said(), none), 1);
}

}  // namespace
}  // namespace fieldpeg::planning
