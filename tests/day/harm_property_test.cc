#include "server/day/relay_check.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>
#include <string>

/// Whether somebody would be harmed has one answer, whoever is asked: relay check, claim, on,
/// assign, and the warnings after it.
namespace fieldpeg::day {
namespace {

using testing::asks_on;
using testing::chance;
using testing::claims;
using testing::Course;
using testing::field_text;
using testing::for_all;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

constexpr int days = 40;

using Names = std::set<std::string>;

const std::vector<v1::Channel>& channels() {
    static const std::vector<v1::Channel> all = {testing::channel("R1"), testing::channel("R2"),
                                                 testing::channel("R3"), testing::channel("F2"),
                                                 testing::channel("R5"), testing::channel("F8")};
    return all;
}

std::string goggles(const std::string& name, const std::string& hears) {
    return "[[pilot.receiver]]\nname = \"" + name +
           "\"\nreceiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n"
           "hears = \"" +
           hears + "\"\n";
}

/// Two to four pilots in flight groups or in none, some with goggles on two ways to their picture,
/// and Dee in the chair beside her mast, which holds nothing yet.
v1::DaySheet random_day(std::mt19937_64& rng) {
    std::string text = field_text(), relays;
    const char* const names[] = {"Ann", "Ben", "Cem", "Edi"};
    const int pilots = testing::whole(rng, 2, 4);
    for (int i = 0; i < pilots; ++i) {
        const std::string name = names[i];
        PilotText pilot{.name = name,
                        .place = "line-" + std::to_string(i + 1),
                        .channel = one_of(rng, {"R1", "R2", "R3", "R5", "F2", "F8"}),
                        .power_mw = one_of(rng, {"25", "25", "200"}),
                        .stage = one_of(rng, {"on_air = true", ""}),
                        .area = chance(rng, 25) ? "valley" : "circuit"};
        const bool own_relay = chance(rng, 40);
        if (own_relay) pilot.more_goggles = "hears = \"video\"";
        text += text_of(pilot);
        if (own_relay) {
            text += goggles("goggles-2", name + "'s pole");
            relays += text_of(RelayText{.name = name + "'s pole",
                                        .owner = name,
                                        .channel = one_of(rng, {"R1", "R4", "R6", "F4"}),
                                        .place = "pits"});
        } else if (chance(rng, 30)) {
            text += goggles("goggles-2", "video");
        }
    }
    text += "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n" + goggles("goggles", "mast");
    auto sheet =
        sheet_of(text + testing::unclaimed(RelayText{.name = "mast", .owner = "Dee"}) + relays);
    for (auto& pilot : *sheet.mutable_pilots())
        if (pilot.has_claim() && chance(rng, 50))
            pilot.mutable_claim()->set_group(static_cast<std::uint32_t>(testing::whole(rng, 1, 2)));
    return sheet;
}

template <class Harms>
Names pilots_of(const Harms& harms) {
    Names names;
    for (const auto& h : harms) names.insert(h.pilot());
    return names;
}

Names neighbours_harmed(const v1::DaySheet& sheet, const v1::Claim& claim, v1::Basis::Kind basis) {
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_power_dbm(claim.power_dbm());
    *query.mutable_channel() = claim.channel();
    query.set_basis(basis);
    const auto reply = relay_check(sheet, query).value();
    auto names = pilots_of(reply.harmed());
    EXPECT_EQ(reply.answer() == v1::RelayCheckReply::too_strong ||
                  reply.answer() == v1::RelayCheckReply::no_window,
              !names.empty())
        << v1::RelayCheckReply::Answer_Name(reply.answer());
    names.erase("Dee");
    return names;
}

v1::Claim random_claim(std::mt19937_64& rng) {
    v1::Claim claim;
    *claim.mutable_channel() = channels()[static_cast<std::size_t>(testing::whole(rng, 0, 5))];
    claim.set_power_dbm(one_of(rng, {0.0, 13.98, 23.01, 27.78}));
    return claim;
}

v1::Command only_tries(const v1::Claim& claim) {
    auto command = claims("mast", claim.channel(), claim.power_dbm());
    command.mutable_claim()->set_only_try(true);
    return command;
}

v1::Command only_assigns(const v1::Claim& claim) {
    v1::Command command;
    command.mutable_assign()->set_only_try(true);
    auto& one = *command.mutable_assign()->add_all();
    one.set_transmitter("mast");
    *one.mutable_channel() = claim.channel();
    one.set_power_dbm(claim.power_dbm());
    return command;
}

TEST(Harm, IsTheSameForRelayCheckClaimAndAssign) {
    int harmful = 0, harmless = 0;
    for_all(days, [&](std::mt19937_64& rng) {
        Course course(random_day(rng));
        const auto claim = random_claim(rng);
        const auto harmed = neighbours_harmed(course.state().sheet(), claim, v1::Basis::held);
        const auto claimed = course.send(only_tries(claim)).claim();
        EXPECT_EQ(pilots_of(claimed.harms()), harmed);
        EXPECT_EQ(claimed.refusal().why().find("would harm") != std::string::npos, !harmed.empty())
            << claimed.refusal().why();
        const auto assigned = course.send(only_assigns(claim)).assigned();
        EXPECT_EQ(pilots_of(assigned.harms()), harmed);
        ++(harmed.empty() ? harmless : harmful);
    });
    EXPECT_TRUE(std::getenv("FIELDPEG_SEED") || (harmful > days / 8 && harmless > days / 8))
        << harmful << " harmful, " << harmless << " harmless";
}

TEST(Harm, IsTheSameForRelayCheckOnAndTheWarnings) {
    int harmful = 0, harmless = 0;
    for_all(days, [&](std::mt19937_64& rng) {
        Course course(random_day(rng));
        const auto claim = random_claim(rng);
        const auto harmed = neighbours_harmed(course.state().sheet(), claim, v1::Basis::on_air);
        auto allowed = claims("mast", claim.channel(), claim.power_dbm());
        allowed.mutable_claim()->set_allowed_because("to be asked about");
        ASSERT_TRUE(course.send(allowed).claim().claimed());
        const auto answer = course.send(asks_on("mast")).switched();
        EXPECT_EQ(pilots_of(answer.harms()), harmed);
        EXPECT_EQ(answer.answer() == v1::SwitchReply::wait, !harmed.empty());
        auto fact = asks_on("mast");
        fact.mutable_on()->set_already(true);
        const auto noted = course.send(fact);
        Names warned;
        for (const auto& w : noted.warnings())
            warned.insert(pilot(course.state().sheet(), w.pilot())->name());
        EXPECT_TRUE(std::ranges::includes(warned, harmed));
        ++(harmed.empty() ? harmless : harmful);
    });
    EXPECT_TRUE(std::getenv("FIELDPEG_SEED") || (harmful > days / 8 && harmless > days / 8))
        << harmful << " harmful, " << harmless << " harmless";
}

/// Ben sees his aircraft with one pair of goggles; another is on his own relay, on R1.
std::string ben_with_two_goggles() {
    return field_text() +
           text_of(PilotText{.name = "Ben",
                             .channel = "F8",
                             .power_mw = "200",
                             .more_goggles = "hears = \"video\""}) +
           goggles("goggles-2", "Ben's pole") + "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n" +
           goggles("goggles", "mast") +
           testing::unclaimed(RelayText{.name = "mast", .owner = "Dee"}) +
           text_of(RelayText{.name = "Ben's pole", .owner = "Ben", .channel = "R1"});
}

// By pilot: a link that its pilot does not need is a remark.
TEST(Harm, IsNotThatOfALinkThatItsPilotDoesNotNeed) {
    Course course(ben_with_two_goggles());
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_power_dbm(23.01);
    *query.mutable_channel() = testing::channel("R1");
    const auto reply = relay_check(course.state().sheet(), query).value();
    EXPECT_TRUE(reply.harmed().empty()) << reply.sentence();
    EXPECT_EQ(reply.sentence().find("Ben loses"), std::string::npos) << reply.sentence();
    ASSERT_EQ(reply.links_lost_size(), 1);
    EXPECT_EQ(reply.links_lost(0).pilot(), "Ben");
    EXPECT_EQ(reply.links_lost(0).receiver(), "goggles-2");
    const auto claimed = course.send(claims("mast", query.channel(), 23.01)).claim();
    EXPECT_TRUE(claimed.harms().empty());
    ASSERT_EQ(claimed.links_lost_size(), 1);
    EXPECT_EQ(claimed.links_lost(0).SerializeAsString(), reply.links_lost(0).SerializeAsString());
}

}  // namespace
}  // namespace fieldpeg::day
