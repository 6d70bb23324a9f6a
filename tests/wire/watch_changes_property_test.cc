#include "server/wire/conversation.h"
#include "tests/support/kept_day.h"
#include "tests/support/random.h"
#include "tests/support/rates.h"

#include <gtest/gtest.h>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include <algorithm>
#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <vector>

/// Whatever is done, and however slowly somebody takes what they are told: who watches by changes
/// has the board that a question gives. The second method is the question itself.
namespace fieldpeg::wire {
namespace {

using testing::bytes_of;
using testing::chance;
using testing::for_all;
using testing::KeptDay;
using testing::one_of;
using testing::whole;

constexpr std::size_t changes_queued = 3;

/// As docs/protocol.md has it, section 7.
v1::BoardReply applied(const v1::BoardReply& board, const v1::Change& change) {
    if (!change.has_since()) return change.board();
    EXPECT_EQ(change.since(), board.version());
    std::vector<v1::BoardRow> rows(board.rows().begin(), board.rows().end());
    const auto named = [&](const std::string& name) {
        return std::ranges::find(rows, name, [](const auto& r) { return r.transmitter(); });
    };
    for (const auto& name : change.gone()) {
        EXPECT_NE(named(name), rows.end()) << name;
        rows.erase(named(name));
    }
    for (const auto& row : change.board().rows()) {
        if (const auto old = named(row.transmitter()); old != rows.end())
            *old = row;
        else
            rows.push_back(row);
    }
    auto next = change.board();
    next.clear_rows();
    for (const auto& name : change.order()) *next.add_rows() = *named(name);
    if (change.order().empty())
        for (const auto& row : rows) *next.add_rows() = row;
    return next;
}

/// One phone: what it was told, and the board that it has.
class Phone {
public:
    Phone(asio::io_context& io, service::Desk& desk, Form& form, Gate& gate, bool by_changes)
        : io_(io),
          talk_(std::make_unique<Conversation>(io.get_executor(), desk, form, gate, Gate::Address(),
                                               changes_queued)) {
        v1::ClientFrame m;
        if (by_changes)
            m.mutable_request()->set_watch_changes(true);
        else
            m.mutable_request()->set_watch(true);
        asio::co_spawn(io_, talk_->take(std::move(m)), asio::detached);
        io_.poll();
    }

    /// What it waits for is given up first, as a carrier does.
    ~Phone() {
        gone_.emit(asio::cancellation_type::all);
        io_.poll();
    }
    Phone(const Phone&) = delete;
    Phone& operator=(const Phone&) = delete;

    void let_in(const v1::Person& person, std::string key) {
        talk_->let_in(person, service::Keeper::hash_of(key));
    }

    /// Takes one frame, if one is owed.
    bool read() {
        if (!reads_) {
            reads_ = true;
            const auto taken = [this](const std::exception_ptr&, const Frame& frame) {
                reads_ = false;
                if (frame) take(*frame);
            };
            asio::co_spawn(io_, talk_->next(), asio::bind_cancellation_slot(gone_.slot(), taken));
        }
        io_.poll();
        return !reads_;
    }
    void read_all() {
        while (read()) {
        }
    }

    v1::BoardReply board;
    int wholes = 0, parts = 0, orders = 0, gone = 0, rows_told = 0, rows_had = 0;

private:
    void take(const std::string& frame) {
        v1::ServerFrame m;
        ASSERT_TRUE(m.ParseFromString(frame.substr(length_bytes)));
        if (!m.has_change()) return;
        const auto& change = m.change();
        ++(change.has_since() ? parts : wholes);
        orders += change.order().empty() ? 0 : 1;
        gone += change.gone_size();
        board = applied(board, change);
        if (!change.has_since()) return;
        rows_told += change.board().rows_size();
        rows_had += board.rows_size();
    }

    asio::io_context& io_;
    std::unique_ptr<Conversation> talk_;
    asio::cancellation_signal gone_;
    bool reads_ = false;
};

const std::vector<std::string> names{"Ann", "Bob", "Dee", "mast"};

v1::Command put(const std::string& name) {
    v1::Command c;
    c.mutable_put()->set_toml(
        testing::unclaimed(testing::PilotText{.name = name, .place = "pits"}));
    return c;
}

v1::Command random_command(std::mt19937_64& rng, std::vector<std::uint32_t>& sightings) {
    const auto& who = names[static_cast<std::size_t>(whole(rng, 0, 3))];
    v1::Command c;
    switch (whole(rng, 0, 9)) {
        case 0:
        case 1:
            return testing::claim(who, one_of(rng, {"R1", "R3", "R5", "R7"}));
        case 2:
            return testing::release(who);
        case 3:
        case 4:
            c = testing::on(one_of(rng, {"Ann", "Ann", "Dee", "mast"}));
            c.mutable_on()->set_already(chance(rng, 70));
            c.mutable_on()->set_when_free(chance(rng, 50));
            return c;
        case 5:
            return testing::off(who);
        case 6:
            *c.mutable_see()->mutable_channel() = testing::channel(one_of(rng, {"R2", "E5"}));
            return c;
        case 7:
            if (sightings.empty()) return testing::off(who);
            c.mutable_unsee()->set_sighting(sightings.back());
            sightings.pop_back();
            return c;
        case 8:
            return put(one_of(rng, {"Eve", "Finn"}));
        default:
            c.mutable_remove()->set_name(one_of(rng, {"Eve", "Finn", "mast"}));
            return c;
    }
}

class Field {
public:
    Field() {
        day_.enter(day_.ticket(v1::Role::pilot, "Ann"), "Ann", 'a');
        asio::co_spawn(io_, desk_.run(), asio::detached);
    }
    ~Field() {
        phones.clear();
        ann_.reset();
        desk_.close();
        io_.restart();
        io_.run();
    }

    void come(bool by_changes) {
        phones.push_back(std::make_unique<Phone>(io_, desk_, form_, gate_, by_changes));
    }
    /// She comes, or goes: the board says so, though it does not change.
    void turn_ann() {
        if (ann_) return ann_.reset();
        ann_ = std::make_unique<Phone>(io_, desk_, form_, gate_, true);
        ann_->let_in(*day_.keeper().person_of(KeptDay::key_of('a')), KeptDay::key_of('a'));
    }
    /// Whether it changed something.
    bool told(const v1::Command& command) {
        const auto version = day_.keeper().state().version();
        day_.set_now_ms(day_.now_ms() + 1000);
        service::Ask ask;
        ask.command = command;
        std::optional<v1::Reply> reply;
        asio::co_spawn(io_, desk_.submit(std::move(ask)),
                       [&](std::exception_ptr, v1::Reply r) { reply = std::move(r); });
        while (!reply) io_.run_one_for(std::chrono::milliseconds(100));
        io_.poll();
        if (reply->has_done() && command.has_see()) sightings.push_back(reply->done().id());
        return day_.keeper().state().version() != version;
    }
    v1::BoardReply asked() { return desk_.answer(testing::board()).board(); }

    std::vector<std::unique_ptr<Phone>> phones;
    std::vector<std::uint32_t> sightings;

private:
    KeptDay day_;
    asio::io_context io_;
    Gate gate_{testing::unhurried};
    service::Desk desk_{io_.get_executor(), day_.keeper(), [this] { return day_.now_ms(); }};
    Form form_{[](const v1::ServerFrame& m) { return frame(m); }};
    std::unique_ptr<Phone> ann_;
};

struct Seen {
    int parts = 0, wholes = 0, orders = 0, gone = 0, rows_told = 0, rows_had = 0;
};

void play(std::mt19937_64& rng, Seen& seen) {
    Field field;
    const auto leave = [&](std::size_t i) {
        const auto& p = *field.phones[i];
        seen.parts += p.parts;
        seen.wholes += p.wholes;
        seen.orders += p.orders;
        seen.gone += p.gone;
        seen.rows_told += p.rows_told;
        seen.rows_had += p.rows_had;
        field.phones.erase(field.phones.begin() + static_cast<std::ptrdiff_t>(i));
    };
    for (int step = 0; step < 80; ++step) {
        // Boards of one version differ by whether Ann is heard of.
        for (int i = whole(rng, 0, 3); i > 0; --i) {
            if (chance(rng, 50)) field.turn_ann();
            if (field.phones.size() < 5 && chance(rng, 50)) field.come(chance(rng, 80));
            if (!field.phones.empty() && chance(rng, 30))
                leave(static_cast<std::size_t>(
                    whole(rng, 0, static_cast<int>(field.phones.size()) - 1)));
            for (const auto& phone : field.phones)
                if (chance(rng, 50)) phone->read();
        }
        if (!field.told(random_command(rng, field.sightings)) || chance(rng, 70)) continue;
        const auto board = field.asked();
        for (const auto& phone : field.phones) {
            phone->read_all();
            ASSERT_EQ(bytes_of(phone->board), bytes_of(board))
                << phone->board.DebugString() << "\nand asked:\n"
                << board.DebugString();
        }
    }
    while (!field.phones.empty()) leave(0);
}

TEST(WatchChanges, GivesTheBoardThatAQuestionGives) {
    Seen seen;
    for_all(12, [&](std::mt19937_64& rng) { play(rng, seen); });
    EXPECT_GT(seen.parts, 300);
    EXPECT_GT(seen.wholes, 50);
    EXPECT_GT(seen.orders, 20);
    EXPECT_GT(seen.gone, 20);
    EXPECT_LT(seen.rows_told * 2, seen.rows_had) << "what has not changed is not told";
}

}  // namespace
}  // namespace fieldpeg::wire
