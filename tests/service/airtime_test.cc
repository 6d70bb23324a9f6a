#include "tests/support/kept_day.h"
#include "tests/support/random.h"

#include "fieldpeg/v1/numbers.h"

#include <gtest/gtest.h>

#include <cstdint>
#include <map>
#include <string>

namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::for_all;
using testing::KeptDay;
using testing::off;
using testing::on;
using testing::on_already;
using testing::one_of;
using testing::whole;

constexpr std::int64_t minute_in_ms = 60'000;

v1::AirtimeReply airtime(KeptDay& day, const v1::AirtimeQuery& ask = {},
                         std::uint64_t version = 0) {
    v1::Query query;
    *query.mutable_airtime() = ask;
    query.mutable_moment()->set_version(version);
    const auto answer = day.keeper().answer(query, day.now_ms());
    EXPECT_TRUE(answer.has_airtime()) << answer.refusal().why();
    return answer.airtime();
}

void wait(KeptDay& day, std::int64_t minutes) {
    day.set_now_ms(day.now_ms() + minutes * minute_in_ms);
}

v1::Command down(const std::string& who) {
    auto command = off(who);
    command.mutable_off()->set_down(true);
    return command;
}

v1::Command silent(const std::string& who) {
    auto command = off(who);
    command.mutable_off()->set_silent(true);
    return command;
}

v1::Command bench(const std::string& who) {
    auto command = on(who);
    command.mutable_on()->set_bench(true);
    return command;
}

TEST(Airtime, LastsFromOnToOff) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    wait(day, 20);  // holding a channel is no flight
    const auto begun = day.take(on("Ann")).version();
    const auto from_ms = day.now_ms();
    wait(day, 7);
    const auto ended = day.take(off("Ann")).version();
    const auto reply = airtime(day);
    ASSERT_EQ(reply.flights_size(), 1);
    const auto& flight = reply.flights(0);
    EXPECT_EQ(flight.pilot(), "Ann");
    EXPECT_EQ(flight.relay(), "");
    EXPECT_EQ(flight.channel().name(), "R3");
    EXPECT_NEAR(flight.power_dbm(), 13.98, 0.001);
    EXPECT_EQ(flight.from_ms(), from_ms);
    EXPECT_EQ(flight.until_ms(), day.now_ms());
    EXPECT_EQ(flight.end(), v1::Flight::off);
    EXPECT_EQ(flight.from_version(), begun);
    EXPECT_EQ(flight.until_version(), ended);
    EXPECT_NEAR(flight.minutes(), 7 + 1 / 60.0, 0.001);  // and the second that asking takes
}

TEST(Airtime, HasNoEndWhileSomebodyFlies) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    const auto on_air = day.take(on("Ann")).version();
    wait(day, 12);
    const auto now = airtime(day);
    ASSERT_EQ(now.flights_size(), 1);
    EXPECT_EQ(now.flights(0).end(), v1::Flight::in_the_air);
    EXPECT_FALSE(now.flights(0).has_until_ms());
    EXPECT_DOUBLE_EQ(now.flights(0).minutes(), 12);
    EXPECT_DOUBLE_EQ(now.totals(0).minutes(), 12);
    // As it was then, and as long as whoever asks has it last.
    EXPECT_DOUBLE_EQ(airtime(day, {}, on_air).flights(0).minutes(), 0);
    v1::AirtimeQuery ask;
    ask.set_until_ms(day.now_ms() - 2 * minute_in_ms);
    EXPECT_DOUBLE_EQ(airtime(day, ask, on_air).flights(0).minutes(), 10);
}

// Found by fuzzing: who asks how long it lasts by the end of all clocks is answered with a number
// that clients take for one.
TEST(Airtime, LastsNoLongerThanADayCan) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(on("Ann"));
    v1::AirtimeQuery ask;
    ask.set_until_ms(v1::time_ms_max);
    const auto reply = airtime(day, ask);
    EXPECT_TRUE(v1::are_numbers_plain(reply));
    EXPECT_DOUBLE_EQ(reply.flights(0).minutes(), 366 * 24 * 60);
}

// A channel that was told wrong is told again while its pilot flies: one landing, one flight.
TEST(Airtime, IsNotBrokenByAnotherChannelOnTheWay) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(on("Ann"));
    wait(day, 3);
    ASSERT_FALSE(day.take(on_already("Ann", "R5", 23.01)).has_refusal());
    wait(day, 3);
    day.take(off("Ann"));
    const auto reply = airtime(day);
    ASSERT_EQ(reply.flights_size(), 1);
    EXPECT_EQ(reply.flights(0).channel().name(), "R5");
    EXPECT_NEAR(reply.flights(0).power_dbm(), 23.01, 0.001);
    EXPECT_NEAR(reply.flights(0).minutes(), 6, 0.1);
}

TEST(Airtime, EndsWhereTheAircraftGoesDown) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(on("Ann"));
    wait(day, 4);
    day.take(down("Ann"));
    wait(day, 30);  // of looking for it
    day.take(silent("Ann"));
    const auto reply = airtime(day);
    ASSERT_EQ(reply.flights_size(), 1);
    EXPECT_EQ(reply.flights(0).end(), v1::Flight::down);
    EXPECT_NEAR(reply.flights(0).minutes(), 4, 0.1);
}

TEST(Airtime, IsNoneOnTheBench) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(bench("Ann"));
    wait(day, 9);
    day.take(off("Ann"));
    EXPECT_EQ(airtime(day).flights_size(), 0);
    EXPECT_EQ(airtime(day).most_at_once(), 0U);
    EXPECT_FALSE(airtime(day).has_most_at_once_ms());
}

TEST(Airtime, OfARelayStandsByItself) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    day.take(on("Ann"));
    day.take(on_already("mast", "R7", 14));
    wait(day, 5);
    day.take(off("Ann"));
    const auto reply = airtime(day);
    ASSERT_EQ(reply.totals_size(), 2);
    EXPECT_EQ(reply.totals(1).pilot(), "Dee");
    EXPECT_EQ(reply.totals(1).relay(), "mast");
    EXPECT_EQ(reply.most_at_once(), 1U) << "a relay is not in the air";
    v1::AirtimeQuery ask;
    ask.set_pilot("dee");
    EXPECT_EQ(airtime(day, ask).flights_size(), 1);
    ask.set_pilot("MAST");
    EXPECT_EQ(airtime(day, ask).flights_size(), 1);
    ask.set_pilot("ann");
    EXPECT_EQ(airtime(day, ask).flights(0).pilot(), "Ann");
}

TEST(Airtime, IsNoneOfWhatIsAlwaysOn) {
    auto text = testing::club_day();
    const auto at = text.find("[[pilot]]", text.find("\"Ann\""));
    text.insert(at,
                "[pilot.claim]\nchannel = \"R3\"\npower_mw = 25\ngroup = \"always\"\n"
                "on_air = true\n");
    KeptDay day(text);
    day.take(claim("Bob", "R7"));
    day.take(on("Bob"));
    const auto reply = airtime(day);
    ASSERT_EQ(reply.flights_size(), 1);
    EXPECT_EQ(reply.flights(0).pilot(), "Bob");
}

TEST(Airtime, IsAskedForByWhenItBegan) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    for (int i = 0; i < 3; ++i) {
        day.take(on("Ann"));
        wait(day, 5);
        day.take(off("Ann"));
        wait(day, 5);
    }
    const auto all = airtime(day);
    ASSERT_EQ(all.flights_size(), 3);
    v1::AirtimeQuery ask;
    ask.set_from_ms(all.flights(1).from_ms());
    EXPECT_EQ(airtime(day, ask).flights_size(), 2);
    ask.set_to_ms(all.flights(1).from_ms());
    const auto one = airtime(day, ask);
    ASSERT_EQ(one.flights_size(), 1);
    EXPECT_EQ(one.totals(0).flights(), 1U);
    EXPECT_EQ(one.flights(0).from_version(), all.flights(1).from_version());
}

/// What the board shows in the air after each entry of the log: another fold than that of the
/// flights, entry by entry.
struct Boards {
    std::map<std::string, double> minutes;
    std::size_t most = 0;
    std::int64_t most_ms = 0;
};

Boards boards(KeptDay& day) {
    Boards all;
    std::map<std::string, bool> up;
    std::int64_t last_ms = 0;
    const auto pass_to = [&](std::int64_t at_ms) {
        for (const auto& [who, is_up] : up)
            if (is_up) all.minutes[who] += static_cast<double>(at_ms - last_ms) / minute_in_ms;
        last_ms = at_ms;
    };
    const auto versions = day.keeper().state().version();
    for (std::uint64_t version = 1; version <= versions; ++version) {
        v1::Query query = testing::board();
        query.mutable_moment()->set_version(version);
        const auto board = day.keeper().answer(query, day.now_ms()).board();
        pass_to(board.at_ms());
        std::size_t count = 0;
        for (const auto& row : board.rows()) {
            if (row.is_sighting()) continue;
            up[row.transmitter()] = row.stage() == v1::Claim::on_air;
            if (!row.is_relay() && row.stage() == v1::Claim::on_air) ++count;
        }
        if (count > all.most) {
            all.most = count;
            all.most_ms = board.at_ms();
        }
    }
    pass_to(day.now_ms());
    return all;
}

void play(KeptDay& day, std::mt19937_64& rng) {
    for (int i = 0; i < 40; ++i) {
        wait(day, whole(rng, 0, 9));
        const auto* who = one_of(rng, {"Ann", "Bob", "mast"});
        switch (whole(rng, 0, 7)) {
            case 0:
            case 1:
                day.take(on_already(who, one_of(rng, {"R1", "R3", "R5", "R7"}), 14));
                break;
            case 2:
                day.take(on(who));
                break;
            case 3:
                day.take(bench(who));
                break;
            case 4:
                day.take(down(who));
                break;
            case 5:
                day.take(silent(who));
                break;
            case 6:
                day.take(testing::release(who));
                break;
            default:
                day.take(off(who));
        }
    }
}

TEST(Airtime, IsWhatTheBoardsOfTheDayShowed) {
    for_all(20, [](std::mt19937_64& rng) {
        KeptDay day;
        play(day, rng);
        const auto shown = boards(day);
        const auto reply = airtime(day);
        std::map<std::string, double> minutes;
        std::map<std::string, unsigned> flights;
        for (const auto& f : reply.flights()) ++flights[f.pilot() + f.relay()];
        for (const auto& t : reply.totals()) {
            minutes[t.relay().empty() ? t.pilot() : t.relay()] = t.minutes();
            EXPECT_EQ(flights[t.pilot() + t.relay()], t.flights());
        }
        for (const auto& [who, sum] : shown.minutes) EXPECT_NEAR(minutes[who], sum, 0.05) << who;
        EXPECT_EQ(reply.most_at_once(), shown.most);
        EXPECT_EQ(reply.most_at_once_ms(), shown.most_ms);
        EXPECT_EQ(static_cast<std::size_t>(reply.most_at_once_who_size()), shown.most);
    });
}

}  // namespace
}  // namespace fieldpeg::service
