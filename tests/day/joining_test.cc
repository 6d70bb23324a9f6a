#include "server/day/board.h"
#include "server/day/sentences.h"
#include "tests/day/course.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

/// Who joins as whom, and who waits for the marshal's nod. People are invented; that a phone loses
/// what it was told, and that somebody comes without a ticket, is common practice, no published
/// source.
namespace fieldpeg::day {
namespace {

using testing::club_day;

const Actor marshal{0, v1::Role::marshal};

/// A day's people, as they come.
class Entrance {
public:
    Entrance() {
        std::uint32_t last_id = 0;
        keep(set_up(state_, with_ids(testing::sheet_of(club_day()), last_id), 1000));
    }

    Result<Decision> joins(const Joining& who) {
        auto decision = join(state_, who, 2000);
        if (decision) keep(*decision);
        return decision;
    }
    /// With the ticket for pilots that hangs on the wall, with one's own, or with none.
    bool with_ticket(const std::string& name) {
        return joins({name, v1::Role::pilot, false}).has_value();
    }
    bool with_own(const std::string& name) {
        return joins({name, v1::Role::pilot, true}).has_value();
    }
    bool with_none(const std::string& name) {
        return joins({name, v1::Role::pilot, false, false}).has_value();
    }

    v1::Reply nod(const std::string& name, bool refuse = false, const Actor& by = marshal) {
        v1::Nod asked;
        asked.set_name(name);
        asked.set_refuse(refuse);
        auto decision = decide(state_, by, asked, 3000);
        keep(decision);
        return decision.reply;
    }

    const v1::DayState& state() const { return state_; }
    std::vector<std::string> awaiting() const {
        std::vector<std::string> names;
        const auto now = board(state_);
        for (const auto& one : now.awaiting())
            names.push_back(one.name() + (one.is_known() ? ", known" : ""));
        return names;
    }

private:
    void keep(const Decision& decision) {
        for (const auto& event : decision.events) apply(state_, event);
    }

    v1::DayState state_;
};

using Names = std::vector<std::string>;

TEST(Joining, AgainMakesTheNewKeyWaitAndThePersonGoOn) {
    Entrance gate;
    ASSERT_TRUE(gate.with_own("Ann"));
    const auto ann = person(gate.state(), "Ann")->id();
    ASSERT_TRUE(gate.with_ticket("Ann"));
    EXPECT_EQ(gate.awaiting(), Names{"Ann, known"});
    ASSERT_EQ(board(gate.state()).awaiting_nod_size(), 1);
    EXPECT_EQ(board(gate.state()).awaiting_nod(0), "Ann");
    EXPECT_EQ(person(gate.state(), "Ann")->id(), ann);
    EXPECT_FALSE(person(gate.state(), "Ann")->awaits_nod());
    EXPECT_FALSE(gate.with_ticket("Ann")) << "one at a time";

    EXPECT_TRUE(gate.nod("Ann").has_done());
    EXPECT_TRUE(gate.awaiting().empty());
    EXPECT_EQ(gate.state().people_size(), 1);
    EXPECT_EQ(person(gate.state(), "Ann")->id(), ann);
}

TEST(Joining, AgainAndRefusedLeavesThePersonAsTheyWere) {
    Entrance gate;
    ASSERT_TRUE(gate.with_own("Ann"));
    const auto before = *person(gate.state(), "Ann");
    ASSERT_TRUE(gate.with_none("Ann"));
    EXPECT_TRUE(gate.nod("Ann", true).has_done());
    EXPECT_TRUE(gate.awaiting().empty());
    ASSERT_EQ(gate.state().people_size(), 1);
    EXPECT_EQ(testing::bytes_of(gate.state().people(0)), testing::bytes_of(before));
}

TEST(Joining, WithoutATicketWaitsWhetherKnownOrNot) {
    Entrance gate;
    ASSERT_TRUE(gate.with_none("Zoe"));
    ASSERT_TRUE(gate.with_none("Bob"));
    EXPECT_EQ(gate.awaiting(), (Names{"Zoe", "Bob, known"}));
    EXPECT_EQ(gate.nod("Zoe").done().text(), "Zoe may take part");
    EXPECT_FALSE(person(gate.state(), "Zoe")->awaits_nod());
    EXPECT_EQ(person(gate.state(), "Zoe")->role(), v1::Role::pilot);
    EXPECT_EQ(gate.nod("Bob").done().text(), "Bob may act as that pilot");
}

TEST(Joining, OfOneWhoNeverWasAnybodyLeavesNothingOnceItIsRefused) {
    Entrance gate;
    ASSERT_TRUE(gate.with_none("Zoe"));
    ASSERT_TRUE(gate.with_ticket("Bob"));
    for (const auto* name : {"Zoe", "Bob"}) EXPECT_TRUE(gate.nod(name, true).has_done());
    EXPECT_TRUE(gate.state().people().empty());
    EXPECT_NE(pilot(gate.state().sheet(), "Bob"), nullptr) << "the day's list is another matter";
    EXPECT_TRUE(gate.with_none("Zoe")) << "may try again";
}

TEST(Joining, OfOneWhoseKeyWasWithdrawnIsRefusedToWhereItWas) {
    Entrance gate;
    ASSERT_TRUE(gate.with_ticket("Zoe"));
    v1::WithdrawKey withdraw;
    withdraw.set_name("Zoe");
    auto state = gate.state();
    for (const auto& event : decide(state, marshal, withdraw, 3000).events) apply(state, event);
    const auto again = join(state, {"Zoe", v1::Role::pilot, false, false}, 4000);
    ASSERT_TRUE(again);
    for (const auto& event : again->events) apply(state, event);
    EXPECT_TRUE(board(state).awaiting(0).is_known());
    v1::Nod refuse;
    refuse.set_name("Zoe");
    refuse.set_refuse(true);
    for (const auto& event : decide(state, marshal, refuse, 5000).events) apply(state, event);
    ASSERT_NE(person(state, "Zoe"), nullptr);
    EXPECT_TRUE(person(state, "Zoe")->withdrawn());
    EXPECT_FALSE(person(state, "Zoe")->awaits_nod());
}

TEST(Joining, UnderANameThatLooksLikeAnotherWaitsUnlessItIsOnesOwn) {
    for (const bool own : {false, true}) {
        Entrance gate;
        ASSERT_TRUE(gate.joins({"Zoe", v1::Role::pilot, own, true, true}));
        EXPECT_EQ(person(gate.state(), "Zoe")->awaits_nod(), !own);
    }
}

TEST(Joining, IsNotForAnotherRoleNorARelaysName) {
    Entrance gate;
    ASSERT_TRUE(gate.joins({"Max", v1::Role::marshal, false}));
    EXPECT_FALSE(gate.with_none("Max"));
    EXPECT_FALSE(gate.with_none("mast"));
    EXPECT_FALSE(gate.joins({"Ann", v1::Role::onlooker, false}));
}

TEST(Joining, WithoutATicketEndsWhenManyWaitAndWithOneGoesOn) {
    Entrance gate;
    for (int i = 0; i < waiting_max; ++i) ASSERT_TRUE(gate.with_none("guest " + std::to_string(i)));
    const auto one_more = gate.joins({"one more", v1::Role::pilot, false, false});
    ASSERT_FALSE(one_more);
    EXPECT_EQ(one_more.error().kind, Refusal::Kind::unavailable);
    EXPECT_TRUE(gate.with_ticket("Bob")) << "a ticket is no matter of patience";
    EXPECT_TRUE(gate.nod("guest 7", true).has_done());
    EXPECT_FALSE(gate.with_none("one more")) << "Bob waits as well";
    EXPECT_TRUE(gate.nod("Bob").has_done());
    EXPECT_TRUE(gate.with_none("one more"));
}

TEST(Joining, AfterTheKeyOfOneWhoWaitedWasWithdrawnIsFree) {
    Entrance gate;
    ASSERT_TRUE(gate.with_ticket("Bob"));
    v1::WithdrawKey withdraw;
    withdraw.set_name("Bob");
    auto state = gate.state();
    for (const auto& event : decide(state, marshal, withdraw, 3000).events) apply(state, event);
    EXPECT_TRUE(board(state).awaiting_nod().empty()) << "that key is dropped";
    EXPECT_TRUE(join(state, {"Bob", v1::Role::pilot, false}, 4000));
}

TEST(Nod, IsTheMarshalsInBothWays) {
    Entrance gate;
    ASSERT_TRUE(gate.with_none("Zoe"));
    const auto version = gate.state().version();
    for (const bool refuse : {false, true})
        EXPECT_EQ(gate.nod("Zoe", refuse, Actor{1, v1::Role::pilot}).refusal().kind(),
                  v1::Refusal::not_permitted);
    EXPECT_EQ(gate.state().version(), version);
    EXPECT_TRUE(gate.nod("Zoe").has_done());
    EXPECT_EQ(gate.nod("Zoe", true).done().text(), "Zoe is not waiting for a nod");
    EXPECT_FALSE(person(gate.state(), "Zoe")->withdrawn());
}

}  // namespace
}  // namespace fieldpeg::day
