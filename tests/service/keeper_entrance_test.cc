#include "server/service/keeper.h"

#include "tests/support/kept_day.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <cctype>
#include <string>
#include <string_view>

/// Who is let in, as whom, and what they may do; and where their names are kept.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::club_day;
using testing::KeptDay;
using testing::on;
using testing::release;

constexpr auto not_permitted = v1::Refusal::not_permitted;

/// Whether a name stands in bytes with no letter or digit beside it.
bool holds_word(std::string_view bytes, std::string_view name) {
    const auto is_letter = [](char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; };
    for (auto at = bytes.find(name); at != std::string_view::npos; at = bytes.find(name, at + 1)) {
        const auto end = at + name.size();
        if ((at == 0 || !is_letter(bytes[at - 1])) &&
            (end == bytes.size() || !is_letter(bytes[end])))
            return true;
    }
    return false;
}

TEST(Entrance, IsClosedToAWrongSecret) {
    KeptDay day;
    auto secret = day.ticket(v1::Role::pilot);
    const auto version = day.keeper().state().version();
    EXPECT_EQ(day.enter(std::string(16, 'x'), "Cy", 'c').refusal().kind(), not_permitted);
    EXPECT_EQ(day.enter(secret.substr(1), "Cy", 'c').refusal().kind(), not_permitted);
    secret[0] ^= 1;
    EXPECT_EQ(day.enter(secret, "Cy", 'c').refusal().kind(), not_permitted);
    EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('c')), nullptr);
    EXPECT_EQ(day.keeper().state().version(), version);
}

TEST(Entrance, IsClosedToATicketThatWasRenewed) {
    KeptDay day;
    const auto old = day.ticket(v1::Role::pilot);
    const auto renewed = day.ticket(v1::Role::pilot);
    EXPECT_TRUE(day.enter(old, "Cy", 'c').has_refusal());
    day.reopen();
    EXPECT_TRUE(day.enter(old, "Cy", 'c').has_refusal());
    EXPECT_TRUE(day.enter(renewed, "Cy", 'c').has_done());
}

TEST(Entrance, GivesTheRoleOfTheTicket) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::marshal), "Max", 'm');
    day.enter(day.ticket(v1::Role::pilot), "Cy", 'c');
    day.enter(day.ticket(v1::Role::onlooker), "Olly", 'o');
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(day.actor('m').role, v1::Role::marshal);
        EXPECT_EQ(day.actor('c').role, v1::Role::pilot);
        EXPECT_EQ(day.actor('o').role, v1::Role::onlooker);
        day.reopen();
    }
}

TEST(Entrance, LetsANewPilotInWhoEntersTheirOwnGear) {
    KeptDay day;
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot), "Cy", 'c').has_done());
    v1::Command put;
    put.mutable_put()->set_toml(
        testing::unclaimed(testing::PilotText{.name = "Cy", .place = "line-3"}));
    const auto reply = day.take(put, day.actor('c'));
    ASSERT_FALSE(reply.has_refusal()) << reply.refusal().why();
    EXPECT_TRUE(day.take(claim("", "R3"), day.actor('c')).claim().claimed());
}

TEST(Entrance, MakesWhoNamesAListedPilotWaitForTheNod) {
    KeptDay day;
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot), "ann", 'a').has_done())
        << "in another spelling";
    EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('a'))->awaits_nod());
    for (int i = 0; i < 2; ++i) {
        for (const auto& command : {claim("", "R3"), claim("Ann", "R3"), on("Ann"), release("Ann")})
            EXPECT_EQ(day.take(command, day.actor('a')).refusal().kind(), not_permitted);
        day.reopen();
    }
    ASSERT_TRUE(day.take(testing::nod("Ann")).has_done());
    EXPECT_TRUE(day.take(claim("", "R3"), day.actor('a')).claim().claimed());
}

TEST(Entrance, IsNotOpenedByOneselfOrAnotherPilotNodding) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Bob"), "Bob", 'b');
    day.enter(day.ticket(v1::Role::pilot), "Ann", 'a');
    EXPECT_EQ(day.take(testing::nod("Ann"), day.actor('a')).refusal().kind(), not_permitted);
    EXPECT_EQ(day.take(testing::nod("Ann"), day.actor('b')).refusal().kind(), not_permitted);
    EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('a'))->awaits_nod());
}

TEST(Entrance, NeedsNoNodWithOnesOwnTicket) {
    KeptDay day;
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a').has_done());
    EXPECT_FALSE(day.keeper().person_of(KeptDay::key_of('a'))->awaits_nod());
    EXPECT_TRUE(day.take(claim("", "R3"), day.actor('a')).claim().claimed());
}

TEST(Entrance, IsClosedToAnothersTicket) {
    KeptDay day;
    const auto secret = day.ticket(v1::Role::pilot, "Ann");
    EXPECT_EQ(day.enter(secret, "Bob", 'b').refusal().kind(), not_permitted);
    EXPECT_EQ(day.enter(secret, "Cy", 'b').refusal().kind(), not_permitted);
}

TEST(Entrance, GivesAStrangerWhoWaitsNothingWhenTheRealPilotJoins) {
    KeptDay day;
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot), "Ann", 's').has_done());
    const auto stranger = day.actor('s');
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a').has_done());
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('s')), nullptr);
        ASSERT_NE(day.keeper().person_of(KeptDay::key_of('a')), nullptr);
        EXPECT_FALSE(day.keeper().person_of(KeptDay::key_of('a'))->awaits_nod());
        EXPECT_EQ(day.actor('a').id, stranger.id);
        day.reopen();
    }
}

TEST(Entrance, OfASecondDeviceWithOnesOwnTicketKeepsTheFirst) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'b').has_done());
    EXPECT_EQ(day.actor('a').id, day.actor('b').id);
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot), "Ann", 'c').has_done());
    EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('c'))->awaits_nod())
        << "with anybody's ticket";
    EXPECT_NE(day.keeper().person_of(KeptDay::key_of('a')), nullptr);
}

/// Says of one who waits who it is.
v1::Reply judged(KeptDay& day, const std::string& name, bool refuse) {
    auto command = testing::nod(name);
    command.mutable_nod()->set_refuse(refuse);
    return day.take(command);
}

TEST(Entrance, OfSomebodyWhoIsHereWaitsAndTheOldKeyGoesOn) {
    for (const bool with_ticket : {false, true}) {
        KeptDay day;
        day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
        const auto ann = day.actor('a');
        const auto secret = with_ticket ? day.ticket(v1::Role::pilot) : "";
        ASSERT_TRUE(day.enter(secret, "ANN", 'b').has_done());
        for (int i = 0; i < 2; ++i) {
            ASSERT_NE(day.keeper().person_of(KeptDay::key_of('b')), nullptr);
            EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('b'))->awaits_nod());
            EXPECT_EQ(day.take(claim("", "R3"), day.actor('b')).refusal().kind(), not_permitted);
            EXPECT_EQ(day.take(claim("Ann", "R3"), day.actor('b')).refusal().kind(), not_permitted);
            EXPECT_TRUE(day.take(claim("", "R3"), day.actor('a')).claim().claimed());
            day.reopen();
        }
        ASSERT_TRUE(judged(day, "ann", false).has_done());
        for (int i = 0; i < 2; ++i) {
            for (const char key : {'a', 'b'}) {
                EXPECT_EQ(day.actor(key).id, ann.id);
                EXPECT_TRUE(day.take(claim("", "R5"), day.actor(key)).claim().claimed());
            }
            day.reopen();
        }
    }
}

TEST(Entrance, OfSomebodyWhoIsHereAndIsRefusedDropsOnlyTheNewKey) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    day.enter("", "Ann", 'b');
    ASSERT_TRUE(judged(day, "Ann", true).has_done());
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('b')), nullptr);
        EXPECT_TRUE(day.take(claim("", "R3"), day.actor('a')).claim().claimed());
        day.reopen();
    }
}

TEST(Entrance, OfAStrangerWhoWasRefusedIsNotOpenedWhenTheRealPilotJoins) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot), "Bob", 's');
    ASSERT_TRUE(judged(day, "Bob", true).has_done());
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot, "Bob"), "Bob", 'b').has_done());
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('s')), nullptr);
        EXPECT_NE(day.keeper().person_of(KeptDay::key_of('b')), nullptr);
        day.reopen();
    }
}

// Withdrawn because the phone was lost; the one who waits with another is nodded in afterwards.
TEST(Entrance, OfOneWhoseOldKeyIsWithdrawnMeanwhileIsByTheNewOne) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    const auto ann = day.actor('a');
    day.enter("", "Ann", 'b');
    ASSERT_TRUE(day.take(testing::withdraw_key("Ann")).has_done());
    ASSERT_TRUE(judged(day, "Ann", false).has_done());
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('a')), nullptr);
        EXPECT_EQ(day.actor('b').id, ann.id);
        EXPECT_TRUE(day.take(claim("", "R3"), day.actor('b')).claim().claimed());
        day.reopen();
    }
}

TEST(Entrance, WithoutATicketWaitsUnderAnyNameThatIsFree) {
    KeptDay day;
    ASSERT_TRUE(day.enter("", "Zoe", 'z').has_done());
    for (int i = 0; i < 2; ++i) {
        EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('z'))->awaits_nod());
        v1::Command see;
        *see.mutable_see()->mutable_channel() = testing::channel("R3");
        const auto why = day.take(see, day.actor('z')).refusal();
        EXPECT_EQ(why.kind(), not_permitted);
        EXPECT_EQ(why.why(), "the marshal has not let you in yet");
        day.reopen();
    }
    EXPECT_TRUE(day.enter("", "zoe", 'y').has_refusal()) << "somebody waits under that name";
    EXPECT_TRUE(day.enter("", "mast", 'y').has_refusal());
    ASSERT_TRUE(judged(day, "Zoe", false).has_done());
    v1::Command put;
    put.mutable_put()->set_toml(
        testing::unclaimed(testing::PilotText{.name = "Zoe", .place = "line-3"}));
    EXPECT_FALSE(day.take(put, day.actor('z')).has_refusal());
}

TEST(Entrance, OfTheRealPilotLeavesWhoWaitsAsThemWaiting) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    day.enter("", "Ann", 's');
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'c').has_done());
    EXPECT_EQ(day.actor('c').id, day.actor('a').id);
    EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('s'))->awaits_nod());
    EXPECT_EQ(day.take(claim("Ann", "R3"), day.actor('s')).refusal().kind(), not_permitted);
}

TEST(Entrance, AskedForAgainGivesTheSamePerson) {
    KeptDay day;
    const auto secret = day.ticket(v1::Role::pilot);
    const auto first = day.enter(secret, "Cy", 'c');
    const auto version = day.keeper().state().version();
    const auto again = day.enter(secret, "Cy", 'c');
    EXPECT_EQ(again.done().id(), first.done().id());
    EXPECT_EQ(day.keeper().state().version(), version);
}

TEST(Entrance, UnderTheNameOfAnotherRoleOrARelayIsRefused) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::marshal), "Max", 'm');
    EXPECT_TRUE(day.enter(day.ticket(v1::Role::pilot), "Max", 'x').has_refusal());
    EXPECT_TRUE(day.enter(day.ticket(v1::Role::pilot), "MAX", 'x').has_refusal());
    EXPECT_TRUE(day.enter(day.ticket(v1::Role::marshal), "Ann", 'x').has_refusal());
    EXPECT_TRUE(day.enter(day.ticket(v1::Role::pilot), "Mast", 'x').has_refusal());
    EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('x')), nullptr);
}

/// Whom one who waits looks like, as the board says; "nobody waits so" if nobody does.
std::string resembles(KeptDay& day, const std::string& name) {
    const auto answer = day.keeper().answer(testing::board(), day.now_ms());
    for (const auto& one : answer.board().awaiting())
        if (one.name() == name) {
            std::string all;
            for (const auto& like : one.resembles()) all += (all.empty() ? "" : ", ") + like;
            return all;
        }
    return "nobody waits so";
}

// The letters are of Unicode's charts: Cyrillic and Greek capital A, full-width, small n with a
// tail is none of them. That m looks like rn is of its confusables.txt (Technical Standard #39).
TEST(Entrance, OfWhoLooksLikeSomebodyOfTheDayWaitsWhateverTheTicket) {
    for (const std::string name : {"\u0410nn", "\u0391nn", "\uff21\uff4e\uff4e"})
        for (const auto role : {v1::Role::pilot, v1::Role::onlooker, v1::Role::marshal}) {
            KeptDay day;
            ASSERT_TRUE(day.enter(day.ticket(role), name, 'x').has_done()) << name;
            EXPECT_TRUE(day.keeper().person_of(KeptDay::key_of('x'))->awaits_nod()) << name;
            EXPECT_EQ(resembles(day, name), "Ann");
            EXPECT_EQ(day.take(claim("", "R3"), day.actor('x')).refusal().kind(), not_permitted);
            EXPECT_EQ(day.keeper().change({}, {}).board().awaiting(0).resembles_size(), 1);
            ASSERT_TRUE(day.take(testing::nod(name)).has_done());
            EXPECT_FALSE(day.keeper().person_of(KeptDay::key_of('x'))->awaits_nod());
        }
}

TEST(Entrance, OfWhoLooksLikeARelayOrSomebodyWhoIsHereWaits) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::marshal), "Max", 'm');
    day.enter(day.ticket(v1::Role::pilot), "Arnie", 'a');
    day.enter(day.ticket(v1::Role::pilot), "rnast", 'r');
    day.enter(day.ticket(v1::Role::pilot), "\u041c\u0430\u0445", 'x');
    day.enter(day.ticket(v1::Role::pilot), "Amie", 'b');
    EXPECT_FALSE(day.keeper().person_of(KeptDay::key_of('a'))->awaits_nod());
    EXPECT_EQ(resembles(day, "rnast"), "mast");
    EXPECT_EQ(resembles(day, "\u041c\u0430\u0445"), "Max");
    EXPECT_EQ(resembles(day, "Amie"), "Arnie");
}

// Who only waits is nobody yet: they make nobody else wait, and both are shown.
TEST(Entrance, OfWhoLooksLikeSomebodyWhoWaitsIsFree) {
    KeptDay day;
    day.enter("", "Cem", 's');
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot), "C\u0435m", 'c').has_done());
    EXPECT_FALSE(day.keeper().person_of(KeptDay::key_of('c'))->awaits_nod());
    EXPECT_EQ(resembles(day, "Cem"), "C\u0435m");
}

TEST(Entrance, WithOnesOwnTicketWaitsForNobody) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot), "\u0410nn", 'x');
    ASSERT_TRUE(day.take(testing::nod("\u0410nn")).has_done());
    ASSERT_TRUE(day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a').has_done());
    EXPECT_FALSE(day.keeper().person_of(KeptDay::key_of('a'))->awaits_nod());
}

TEST(Entrance, IsClosedToTheWordsOfTheProgram) {
    KeptDay day;
    const auto pilots = day.ticket(v1::Role::pilot);
    const auto marshals = day.ticket(v1::Role::marshal);
    const auto version = day.keeper().state().version();
    for (const std::string name : {"the server", "Person 4", "sighting 1", "s\u0456ghting 1",
                                   "somebody", "Ann's handset", "marshal", "number \uff11"})
        for (const auto& secret : {pilots, std::string()}) {
            const auto why = day.enter(secret, name, 'x').refusal();
            EXPECT_EQ(why.kind(), v1::Refusal::malformed) << name;
            EXPECT_EQ(why.where(), "name") << name;
        }
    EXPECT_TRUE(day.enter(marshals, "the server", 'x').has_refusal());
    EXPECT_EQ(day.keeper().state().version(), version);
    EXPECT_TRUE(day.enter(marshals, "Marshal", 'm').has_done()) << "that is what they are";
}

TEST(Parts, OfANewNameThatLooksLikeAnotherAreRefused) {
    KeptDay day;
    const auto put = [&](const std::string& toml, const day::Actor& by = {}) {
        v1::Command command;
        command.mutable_put()->set_toml(toml);
        return day.take(command, by);
    };
    const auto version = day.keeper().state().version();
    for (const auto& toml :
         {testing::unclaimed(testing::PilotText{.name = "\u0410nn", .place = "line-3"}),
          testing::unclaimed(testing::RelayText{.name = "rnast", .owner = "Ann"})}) {
        const auto why = put(toml).refusal();
        EXPECT_EQ(why.kind(), v1::Refusal::conflict) << why.DebugString();
        EXPECT_NE(why.why().find("looks like"), std::string::npos) << why.why();
    }
    EXPECT_EQ(day.keeper().state().version(), version);
    EXPECT_TRUE(put(testing::unclaimed(testing::PilotText{.name = "sighting 1", .place = "line-3"}))
                    .has_refusal());
    EXPECT_FALSE(
        put(testing::unclaimed(testing::PilotText{.name = "Ann", .place = "line-3"})).has_refusal())
        << "who is listed is changed";
    // Who has the marshal's nod has the name.
    day.enter(day.ticket(v1::Role::pilot), "\u0410nn", 'x');
    const auto gear = testing::unclaimed(testing::PilotText{.name = "\u0410nn", .place = "line-3"});
    EXPECT_TRUE(put(gear).has_refusal()) << "while they wait";
    ASSERT_TRUE(day.take(testing::nod("\u0410nn")).has_done());
    const auto reply = put(gear, day.actor('x'));
    EXPECT_TRUE(reply.has_done()) << reply.DebugString();
}

TEST(Entrance, IsClosedToAWithdrawnKey) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    const auto ann = day.actor('a');
    ASSERT_TRUE(day.take(testing::withdraw_key("Ann")).has_done());
    for (int i = 0; i < 2; ++i) {
        EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('a')), nullptr);
        EXPECT_EQ(day.take(claim("Ann", "R3"), ann).refusal().kind(), not_permitted);
        day.reopen();
    }
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'b');
    EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('a')), nullptr)
        << "a new key does not bring the old one back";
    EXPECT_TRUE(day.take(claim("Ann", "R3"), day.actor('b')).claim().claimed());
}

TEST(Entrance, RefusesNamesThatAreNone) {
    KeptDay day;
    const auto secret = day.ticket(v1::Role::pilot);
    for (const auto& name :
         {std::string(), std::string(" Cy"), std::string("C\ny"), std::string("C\0y", 3),
          std::string("\x1b[2JCy"),
          std::string("\x02"
                      "1\x03"),
          std::string("\xff\xfe"), std::string(10'000, 'a'), std::string(41, 'a')}) {
        const auto reply = day.enter(secret, name, 'c');
        EXPECT_EQ(reply.refusal().kind(), v1::Refusal::malformed) << name;
        EXPECT_FALSE(reply.refusal().why().empty());
        EXPECT_LT(reply.refusal().why().size(), 200U);
    }
    EXPECT_EQ(day.keeper().person_of(KeptDay::key_of('c')), nullptr);
    EXPECT_TRUE(day.enter(secret, std::string(40, 'a'), 'c').has_done());
}

TEST(Entrance, RefusesAKeyThatIsNone) {
    KeptDay day;
    Entrance entrance;
    entrance.secret = day.ticket(v1::Role::pilot);
    entrance.name = "Cy";
    for (const auto& hash : {std::string(), std::string(31, 'k'), std::string(33, 'k')}) {
        entrance.key_hash = hash;
        EXPECT_TRUE(day.keeper().enter(entrance, day.now_ms()).has_refusal());
    }
}

TEST(Permission, OfAPilotIsForOneselfOnly) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    ASSERT_TRUE(day.take(claim("Bob", "R7")).claim().claimed());
    v1::Command gear;
    gear.mutable_put()->set_toml(
        testing::unclaimed(testing::PilotText{.name = "Bob", .place = "line-3"}));
    v1::Command gone;
    gone.mutable_remove()->set_name("Bob");
    v1::Command ticket;
    ticket.mutable_renew_ticket()->set_role(v1::Role::marshal);
    v1::Command rules;
    rules.mutable_set_rules();
    const auto version = day.keeper().state().version();
    for (const auto& command :
         {claim("Bob", "R3"), claim("mast", "R3"), on("Bob"), release("Bob"), testing::off("Bob"),
          gear, gone, ticket, rules, testing::withdraw_key("Ann"),
          testing::on_already("Bob", "R3", 14)}) {
        const auto reply = day.take(command, day.actor('a'));
        EXPECT_EQ(reply.refusal().kind(), not_permitted)
            << command.DebugString() << reply.DebugString();
    }
    EXPECT_EQ(day.keeper().state().version(), version);
}

TEST(Permission, OfAnOnlookerIsForNothing) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::onlooker), "Olly", 'o');
    const auto version = day.keeper().state().version();
    v1::Command see;
    *see.mutable_see()->mutable_channel() = testing::channel("R3");
    for (const auto& command :
         {claim("Ann", "R3"), on("Ann"), release("Ann"), testing::nod("Olly"), see})
        EXPECT_EQ(day.take(command, day.actor('o')).refusal().kind(), not_permitted);
    EXPECT_EQ(day.keeper().state().version(), version);
}

TEST(FreeText, WithControlCharactersOrTooLongIsRefused) {
    KeptDay day;
    ASSERT_TRUE(day.take(claim("Ann", "R3")).claim().claimed());
    const auto version = day.keeper().state().version();
    for (const auto& text :
         {std::string("\x02"
                      "1\x03"),
          std::string("a\nb"), std::string("a\0b", 3), std::string("\x1b[2J"), std::string("\x7f"),
          std::string("\xff"), std::string(401, 'a'), std::string("\u009b2J"),
          std::string("a\u202eb"), std::string("a\u2028b"), std::string("a\u200bb"),
          std::string("\U000e0041"), std::string("\u2066a\u2069")}) {
        v1::Command see;
        *see.mutable_see()->mutable_channel() = testing::channel("R3");
        see.mutable_see()->set_note(text);
        auto allowed = claim("Bob", "R3");
        allowed.mutable_claim()->set_allowed_because(text);
        auto allowed_on = on("Ann");
        allowed_on.mutable_on()->set_allowed_because(text);
        for (const auto& command : {see, allowed, allowed_on, release("Ann", text)})
            EXPECT_TRUE(day.take(command).has_refusal()) << command.DebugString();
    }
    EXPECT_EQ(day.keeper().state().version(), version);
}

// Nobody may put words into the log as the name of a channel.
TEST(FreeText, IsNotAChannelsName) {
    KeptDay day;
    auto command = claim("Ann", "R3");
    command.mutable_claim()->mutable_channel()->set_name("Bob is a fool");
    const auto reply = day.take(command);
    ASSERT_TRUE(reply.claim().claimed());
    EXPECT_EQ(reply.DebugString().find("fool"), std::string::npos);
    EXPECT_EQ(day.keeper().state().DebugString().find("fool"), std::string::npos);
}

TEST(Names, AreNotInTheRecordsOfTheLog) {
    KeptDay day;
    day.enter(day.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
    day.enter(day.ticket(v1::Role::pilot), "Cy", 'c');
    day.enter("", "Ann", 'n');
    day.enter("", "Fay", 'f');
    day.take(testing::nod("Fay"));
    day.take(testing::nod("Ann"));
    day.take(claim("", "R3"), day.actor('a'));
    day.take(on("Ann"), day.actor('a'));
    day.take(testing::on_already("mast", "R2", 27.78));
    v1::Command see;
    *see.mutable_see()->mutable_channel() = testing::channel("E5");
    see.mutable_see()->set_note("Ann says it is Bob's, not Cy's");
    day.take(see);
    v1::Command put;
    put.mutable_put()->set_toml(
        testing::unclaimed(testing::PilotText{.name = "Eve", .place = "line-3"}) +
        testing::unclaimed(testing::RelayText{.name = "hilltop", .owner = "Eve"}));
    ASSERT_FALSE(day.take(put).has_refusal());
    day.take(testing::off("Ann"), day.actor('a'));
    day.take(release("Ann", "Eve asked Ann for it"));
    const auto state = testing::bytes_of(day.keeper().state());

    SQLite::Database db(day.files().log, SQLite::OPEN_READONLY);
    SQLite::Statement select(db, "SELECT version, record FROM event");
    int records = 0;
    for (; select.executeStep(); ++records) {
        const std::string record(static_cast<const char*>(select.getColumn(1).getBlob()),
                                 static_cast<std::size_t>(select.getColumn(1).getBytes()));
        for (const auto* name : {"Ann", "Bob", "Cy", "Dee", "Eve", "Fay", "mast", "hilltop"})
            EXPECT_FALSE(holds_word(record, name))
                << name << " in entry " << select.getColumn(0).getInt();
    }
    EXPECT_GE(records, 9);
    day.reopen();
    EXPECT_EQ(testing::bytes_of(day.keeper().state()), state);
}

TEST(Names, CanBeRemovedFromADayThatStillVerifies) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    const auto ann = day.keeper().state().sheet().pilots(0).id();
    day.close();
    SQLite::Database(day.files().log, SQLite::OPEN_READWRITE)
        .exec("DELETE FROM name WHERE name = 'Ann'");
    day.reopen();
    EXPECT_EQ(day.keeper().state().sheet().pilots(0).name(), "person " + std::to_string(ann));
    const auto log = day.keeper().answer(testing::log_of(""), day.now_ms()).log();
    EXPECT_TRUE(log.verified());
    EXPECT_FALSE(holds_word(log.DebugString(), "Ann")) << log.DebugString();
}

}  // namespace
}  // namespace fieldpeg::service
