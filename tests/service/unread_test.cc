#include "server/book/day_file.h"
#include "server/service/keeper.h"
#include "tests/support/kept_day.h"

#include <google/protobuf/message.h>
#include <gtest/gtest.h>

#include <string>

/// What comes from outside is looked at no further than whoever sent it may ask, and what only the
/// service fills in is taken from nobody else.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::KeptDay;

constexpr auto not_permitted = v1::Refusal::not_permitted;

v1::Command put_words(const std::string& toml) {
    v1::Command command;
    command.mutable_put()->set_toml(toml);
    return command;
}

/// Adds a field under a number that the message once had, or never.
void add_unknown(google::protobuf::Message& to, int number, const google::protobuf::Message& what) {
    to.GetReflection()->MutableUnknownFields(&to)->AddLengthDelimited(number,
                                                                      what.SerializeAsString());
}

v1::Command assign(const std::string& transmitter, int times) {
    v1::Command command;
    for (int i = 0; i < times; ++i) {
        auto& one = *command.mutable_assign()->add_all();
        one.set_transmitter(transmitter);
        *one.mutable_channel() = testing::channel("R3");
        one.set_power_dbm(14);
    }
    return command;
}

/// Max is the marshal, Ann a pilot, and Olly looks on.
class Unread : public ::testing::Test {
protected:
    Unread() {
        day_.enter(day_.ticket(v1::Role::marshal), "Max", 'm');
        day_.enter(day_.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
        day_.enter(day_.ticket(v1::Role::onlooker), "Olly", 'o');
    }

    v1::Reply take(const v1::Command& command, char key) {
        return day_.take(command, day_.actor(key));
    }

    KeptDay day_;
};

TEST_F(Unread, IsWhatAnOnlookerPuts) {
    std::string deep;
    for (int i = 0; i < 50'000; ++i) deep += "a.";
    for (const auto& toml : {std::string("no TOML at all"), deep + "a = 1", std::string()}) {
        const auto reply = take(put_words(toml), 'o');
        EXPECT_EQ(reply.refusal().kind(), not_permitted) << reply.DebugString();
        EXPECT_NE(reply.refusal().why().find("onlookers"), std::string::npos);
    }
}

TEST_F(Unread, IsWhatAPilotAssigns) {
    EXPECT_EQ(take(assign("nobody", 3), 'a').refusal().kind(), not_permitted);
    EXPECT_EQ(take(assign("nobody", 3), 'o').refusal().kind(), not_permitted);
    EXPECT_EQ(take(assign("nobody", 3), 'm').refusal().kind(), v1::Refusal::not_found);
}

TEST_F(Unread, AreMoreAssignmentsThanADayHasTransmitters) {
    const auto most = static_cast<int>(book::pilots_max + book::relays_max);
    const auto reply = take(assign("nobody", most + 1), 'm');
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::out_of_range) << reply.DebugString();
    EXPECT_NE(reply.refusal().next().find(std::to_string(most)), std::string::npos);
    EXPECT_EQ(take(assign("Ann", most), 'm').refusal().kind(), v1::Refusal::conflict)
        << "named twice";
}

TEST_F(Unread, StaysWhatAMayPutWhoseTextIsWrong) {
    for (const char key : {'a', 'm'}) {
        const auto reply = take(put_words("[[pilot]]\nname = \"Ann\"\nplace = \"nowhere\"\n"), key);
        EXPECT_EQ(reply.refusal().kind(), v1::Refusal::malformed) << reply.DebugString();
        EXPECT_NE(reply.refusal().why().find("parts:3: "), std::string::npos);
    }
}

TEST_F(Unread, IsWhatGoesTooDeepWhoeverPutsIt) {
    std::string deep = "# of a key\n";
    for (int i = 0; i < 50'000; ++i) deep += "a.";
    for (const char key : {'a', 'm'}) {
        const auto reply = take(put_words(deep + "a = 1"), key);
        EXPECT_EQ(reply.refusal().kind(), v1::Refusal::malformed) << reply.DebugString();
        EXPECT_NE(reply.refusal().why().find("parts:2: "), std::string::npos);
        EXPECT_NE(reply.refusal().why().find("at most "), std::string::npos);
    }
}

TEST_F(Unread, AreThePartsThatSomebodySendsWithAPut) {
    auto command = put_words("");
    v1::PartsPut parts;
    parts.add_pilots()->set_name("Eve");
    add_unknown(*command.mutable_put(), 2, parts);
    const auto reply = take(command, 'm');
    EXPECT_EQ(reply.refusal().kind(), v1::Refusal::malformed) << reply.DebugString();
    EXPECT_NE(reply.refusal().why().find("nothing in it"), std::string::npos);
}

TEST_F(Unread, AreTheRulesThatSomebodySendsWithAName) {
    v1::Command command;
    v1::RuleSet mine;
    mine.set_name("mine");
    add_unknown(*command.mutable_set_rules(), 2, mine);
    ASSERT_TRUE(take(command, 'm').has_done());
    EXPECT_FALSE(day_.keeper().state().sheet().has_rules()) << "no name is no rule set";
}

// A pilot who says that the emission "fm-video", which the day knows, is 1 Hz wide and harms
// nobody.
TEST_F(Unread, IsTheGearThatAPilotSendsWithASighting) {
    const auto known = day_.keeper().state().sheet();
    v1::Command command;
    auto& see = *command.mutable_see();
    *see.mutable_channel() = testing::channel("R3");
    v1::Gear gear;
    for (const auto* name : {"fm-video", "circular-omni", "mine"}) {
        gear.add_emissions()->set_name(name);
        gear.add_antennas()->set_name(name);
        gear.add_receiver_profiles()->set_name(name);
    }
    add_unknown(see, 7, gear);
    ASSERT_TRUE(take(command, 'a').has_done());
    const auto& sheet = day_.keeper().state().sheet();
    ASSERT_EQ(sheet.sightings_size(), 1);
    for (const auto& e : sheet.emissions()) {
        EXPECT_NE(e.name(), "mine");
        EXPECT_GT(e.occupied_mhz(), 0) << e.name();
    }
    for (const auto& a : sheet.antennas()) EXPECT_NE(a.name(), "mine");
    EXPECT_EQ(sheet.receiver_profiles_size(), known.receiver_profiles_size());
}

// As it would be with the library's gear, whoever says what of it.
TEST_F(Unread, IsTheGearOfASightingWhoseEmissionTheDayDoesNotKnow) {
    v1::Command command;
    auto& see = *command.mutable_see();
    *see.mutable_channel() = testing::channel("R3");
    see.set_emission("ofdm-40");
    v1::Gear gear;
    auto& false_one = *gear.add_emissions();
    false_one.set_name("ofdm-40");
    false_one.set_occupied_mhz(0.001);
    add_unknown(see, 7, gear);
    const auto reply = take(command, 'a');
    ASSERT_TRUE(reply.has_done()) << reply.DebugString();
    int found = 0;
    for (const auto& e : day_.keeper().state().sheet().emissions()) {
        if (e.name() != "ofdm-40") continue;
        ++found;
        EXPECT_GT(e.occupied_mhz(), 1);
    }
    EXPECT_EQ(found, 1);
}

TEST_F(Unread, IsACommandThatAsksForNothingKnown) {
    EXPECT_EQ(take(v1::Command(), 'm').refusal().kind(), v1::Refusal::malformed);
}

}  // namespace
}  // namespace fieldpeg::service
