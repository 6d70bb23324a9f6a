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
