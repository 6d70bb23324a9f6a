#include "server/service/empty_day.h"
#include "server/service/keeper.h"
#include "tests/support/kept_day.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

/// A day begins whole or not at all, and its secrets are renewed so.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::club_day;
using testing::KeptDay;
using testing::TemporaryFolder;
using testing::write_file;
using Tickets = std::vector<v1::TicketReply>;

const Refusal no_room{Refusal::Kind::unavailable, "tickets", "cannot be written", ""};

class FirstStart : public ::testing::Test {
protected:
    FirstStart() { write_file(files_.sheet, club_day()); }

    std::unique_ptr<Keeper> opened(Begins begins = Begins::with_tickets) {
        std::vector<std::string> differences;
        return Keeper::open(files_, log::DayLog::Access::write, 1'800'000'000'000, differences,
                            begins)
            .value();
    }

    TemporaryFolder folder_;
    const DayFiles files_ = files_of(folder_.at("saturday.toml"));
};

TEST_F(FirstStart, BeginsWithTicketsThatAreFoundBeforeTheLogIs) {
    const auto keeper = opened();
    EXPECT_FALSE(keeper->has_begun());
    EXPECT_FALSE(std::filesystem::exists(files_.log));
    Tickets given;
    ASSERT_TRUE(keeper->give_tickets([&](const Tickets& tickets) {
        EXPECT_FALSE(std::filesystem::exists(files_.log));
        given = tickets;
        return Result<void>();
    }));
    EXPECT_TRUE(keeper->has_begun());
    EXPECT_TRUE(std::filesystem::exists(files_.log));
    ASSERT_EQ(given.size(), 3U);
    EXPECT_EQ(given[0].role(), v1::Role::marshal);
    EXPECT_EQ(given[1].role(), v1::Role::pilot);
    EXPECT_EQ(given[2].role(), v1::Role::onlooker);
    for (const auto& ticket : given)
        EXPECT_EQ(keeper->ticket_of(ticket.ticket())->role, ticket.role());
}

TEST_F(FirstStart, WhoseTicketsCannotBePutAnywhereHasNotHappened) {
    for (int i = 0; i < 2; ++i) {
        const auto keeper = opened();
        EXPECT_FALSE(keeper->give_tickets([](const Tickets&) { return Result<void>(no_room); }));
        EXPECT_FALSE(std::filesystem::exists(files_.log));
    }
    EXPECT_TRUE(opened()->give_tickets([](const Tickets&) { return Result<void>(); }));
}

// A verb with --day begins a day without tickets; an earlier server may have been killed there.
TEST_F(FirstStart, OfALogThatHasNoTicketsGivesThemInOne) {
    opened(Begins::at_once);
    Tickets given;
    {
        const auto keeper = opened();
        EXPECT_TRUE(keeper->has_begun());
        EXPECT_FALSE(keeper->give_tickets([](const Tickets&) { return Result<void>(no_room); }));
        EXPECT_FALSE(keeper->has_tickets());
        ASSERT_TRUE(keeper->give_tickets([&](const Tickets& tickets) {
            given = tickets;
            return Result<void>();
        }));
    }
    const auto keeper = opened();
    EXPECT_TRUE(keeper->has_tickets());
    for (const auto& ticket : given) EXPECT_TRUE(keeper->ticket_of(ticket.ticket()));
    EXPECT_EQ(keeper->state().version(), 1U);
}

TEST_F(FirstStart, OfAnEmptiedLogIsRefusedAndTheFileLeftAlone) {
    opened(Begins::at_once);
    std::filesystem::resize_file(files_.log, 0);
    for (const auto access : {log::DayLog::Access::write, log::DayLog::Access::read}) {
        std::vector<std::string> differences;
        const auto again = Keeper::open(files_, access, 1, differences);
        ASSERT_FALSE(again);
        EXPECT_EQ(again.error().where, files_.log);
        EXPECT_EQ(std::filesystem::file_size(files_.log), 0U);
    }
}

/// A server that is started in a folder of its own.
class UnwrittenDay : public ::testing::Test {
protected:
    Result<std::optional<v1::DaySheet>> unwritten(const char* file, Unwritten how) const {
        return day_if_unwritten(files_of(folder_.at(file)), how, now_ms_);
    }

    Result<std::unique_ptr<Keeper>> opened(const DayFiles& files,
                                           std::optional<v1::DaySheet> sheet = {}) {
        return Keeper::open(files, log::DayLog::Access::write, now_ms_, differences_,
                            Begins::at_once, std::move(sheet));
    }

    TemporaryFolder folder_;
    const std::int64_t now_ms_ = 1'800'000'000'000;  // 15 January 2027, 08:00 UTC
    std::vector<std::string> differences_;
};

TEST_F(UnwrittenDay, BeginsEmptyWithAFieldToStandOn) {
    const auto day = unwritten("day.toml", Unwritten::begins).value();
    ASSERT_TRUE(day);
    EXPECT_EQ(day->name(), "A flying day");
    EXPECT_TRUE(day->date().starts_with("2027-01-1")) << day->date();
    EXPECT_TRUE(day->pilots().empty());
    EXPECT_GE(day->field().places_size(), 3);
    EXPECT_EQ(day->field().areas_size(), 1);
    EXPECT_EQ(unwritten("Harvest fly-in.toml", Unwritten::begins).value()->name(),
              "Harvest fly-in");
}

TEST_F(UnwrittenDay, LetsSomebodyWithAKitFlyAtOnce) {
    const auto files = files_of(folder_.at("day.toml"));
    const auto keeper = opened(files, *unwritten("day.toml", Unwritten::begins)).value();
    Ask ask{{0, v1::Role::marshal}, {}, ""};
    ask.command.mutable_put()->set_toml(
        "[[pilot]]\nname = \"Gil\"\nplace = \"line-1\"\narea = \"circuit\"\nkit = "
        "\"usual-quad\"\n");
    EXPECT_TRUE(keeper->take(ask, now_ms_).has_done());
    ask.command.mutable_claim()->set_transmitter("Gil");
    EXPECT_TRUE(keeper->take(ask, now_ms_).claim().claimed());
}

TEST_F(UnwrittenDay, GoesOnFromItsLogAlone) {
    const auto files = files_of(folder_.at("day.toml"));
    std::string state;
    {
        const auto keeper = opened(files, *unwritten("day.toml", Unwritten::begins)).value();
        state = keeper->state().SerializeAsString();
    }
    EXPECT_FALSE(*unwritten("day.toml", Unwritten::begins)) << "its log counts";
    EXPECT_FALSE(*unwritten("day.toml", Unwritten::refused));
    const auto again = opened(files);
    ASSERT_TRUE(again);
    EXPECT_EQ((*again)->state().SerializeAsString(), state);
    EXPECT_TRUE(differences_.empty());
}

TEST_F(UnwrittenDay, IsRefusedWhereOneWasNamed) {
    const auto refused = unwritten("saturday.toml", Unwritten::refused);
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().next.find("--new"), std::string::npos) << refused.error().next;
    write_file(folder_.at("saturday.toml"), club_day());
    const auto mistyped = unwritten("saturdya.toml", Unwritten::refused);
    ASSERT_FALSE(mistyped);
    EXPECT_NE(mistyped.error().next.find("did you mean 'saturday.toml'"), std::string::npos)
        << mistyped.error().next;
}

TEST_F(UnwrittenDay, NeverTakesThePlaceOfAFileThatIsWrong) {
    const auto files = files_of(folder_.at("day.toml"));
    write_file(files.sheet, "[[pilot]\n");
    EXPECT_FALSE(*unwritten("day.toml", Unwritten::begins));
    EXPECT_FALSE(opened(files, *unwritten("other.toml", Unwritten::begins)));
    EXPECT_FALSE(std::filesystem::exists(files.log));
}

class RenewedSecrets : public ::testing::Test {
protected:
    RenewedSecrets() {
        day_.enter(marshals_, "Max", 'm');
        day_.enter(day_.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
        day_.enter(pilots_, "Cy", 'c');
        day_.enter(pilots_, "Bob", 'b');  // waits for a nod
        day_.take(claim("Ann", "R3"), day_.actor('a'));
    }

    Result<void> renew(const Result<void>& put) {
        return day_.keeper().renew_secrets(day_.now_ms(), [&](const Tickets& tickets) {
            given_ = tickets;
            return put;
        });
    }

    bool has_key(char key) { return day_.keeper().person_of(KeptDay::key_of(key)) != nullptr; }
    bool is_good(const std::string& secret) { return day_.keeper().ticket_of(secret).has_value(); }
    bool ann_holds() {
        const auto& pilots = day_.keeper().state().sheet().pilots();
        return std::ranges::any_of(
            pilots, [](const auto& p) { return p.name() == "Ann" && p.has_claim(); });
    }

    KeptDay day_;
    const std::string marshals_ = day_.ticket(v1::Role::marshal);
    const std::string pilots_ = day_.ticket(v1::Role::pilot);
    const std::string bobs_ = day_.ticket(v1::Role::pilot, "Bob");
    Tickets given_;
};

TEST_F(RenewedSecrets, LeaveNoKeyAndNoTicketGoodButTheNewOnes) {
    ASSERT_TRUE(renew({}));
    for (int i = 0; i < 2; ++i) {
        for (const char key : {'m', 'a', 'c', 'b'}) EXPECT_FALSE(has_key(key)) << key;
        for (const auto& secret : {marshals_, pilots_, bobs_}) EXPECT_FALSE(is_good(secret));
        ASSERT_EQ(given_.size(), 3U);
        for (const auto& ticket : given_) EXPECT_TRUE(is_good(ticket.ticket()));
        EXPECT_TRUE(ann_holds());
        day_.reopen();
    }
}

TEST_F(RenewedSecrets, AreInTheLogForEachPerson) {
    const auto withdrawn = [&] {
        return day_.keeper()
            .answer(testing::log_of("key_withdrawn"), day_.now_ms())
            .log()
            .entries_size();
    };
    ASSERT_EQ(withdrawn(), 0);
    ASSERT_TRUE(renew({}));
    EXPECT_EQ(withdrawn(), 4);
}

TEST_F(RenewedSecrets, LetEverybodyInAgain) {
    ASSERT_TRUE(renew({}));
    EXPECT_TRUE(day_.enter(marshals_, "Max", 'n').has_refusal());
    EXPECT_TRUE(day_.enter(given_[0].ticket(), "Max", 'n').has_done());
    EXPECT_TRUE(day_.enter(given_[1].ticket(), "Cy", 'd').has_done());
    EXPECT_TRUE(day_.enter(given_[1].ticket(), "Ann", 'e').has_done());
    EXPECT_TRUE(has_key('n') && has_key('d') && has_key('e'));
    EXPECT_TRUE(day_.take(testing::nod("Ann"), day_.actor('n')).has_done());
    EXPECT_TRUE(day_.take(testing::release("Ann"), day_.actor('e')).has_done());
}

TEST_F(RenewedSecrets, ThatCannotBePutAnywhereAreAsTheyWere) {
    EXPECT_FALSE(renew(no_room));
    for (int i = 0; i < 2; ++i) {
        for (const char key : {'m', 'a', 'c', 'b'}) EXPECT_TRUE(has_key(key)) << key;
        for (const auto& secret : {marshals_, pilots_, bobs_}) EXPECT_TRUE(is_good(secret));
        day_.reopen();
    }
}

}  // namespace
}  // namespace fieldpeg::service
