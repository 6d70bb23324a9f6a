#include "server/wire/gate.h"

#include <gtest/gtest.h>
#include <boost/asio/ip/address_v4.hpp>

#include <chrono>

namespace fieldpeg::wire {
namespace {

using boost::asio::ip::address_v4;
using boost::asio::ip::make_address;
using Address = Gate::Address;
using namespace std::chrono_literals;

const Gate::Time start = Gate::Time() + 1000h;

Address number(std::size_t n) {
    return address_v4(static_cast<address_v4::uint_type>(0x0a00'0000 + n));
}

Gate::Wait fail(Gate& gate, const Address& from, int times, Gate::Time at) {
    Gate::Wait last{};
    for (int i = 0; i < times; ++i) last = gate.failed(from, at);
    return last;
}

TEST(Gate, SlowsDownWhoGuesses) {
    Gate gate;
    EXPECT_EQ(fail(gate, number(1), Gate::failures_max, start), Gate::failed_wait);
    EXPECT_EQ(gate.failed(number(1), start), Gate::guesser_wait);
    EXPECT_EQ(gate.failed(number(2), start), Gate::failed_wait) << "another address";
}

TEST(Gate, ForgetsAfterAWhileAndThenCountsFromTheBeginning) {
    Gate gate;
    fail(gate, number(1), Gate::failures_max, start);
    EXPECT_EQ(gate.failed(number(1), start + Gate::remembered_for - 1ns), Gate::guesser_wait);
    const auto later = start + 2 * Gate::remembered_for;
    EXPECT_EQ(fail(gate, number(1), Gate::failures_max, later), Gate::failed_wait);
    EXPECT_EQ(gate.failed(number(1), later), Gate::guesser_wait);
}

TEST(Gate, CountsFailuresOverTheWhile) {
    Gate gate;
    auto at = start;
    for (int i = 0; i < Gate::failures_max; ++i) {
        EXPECT_EQ(gate.failed(number(1), at), Gate::failed_wait);
        at += Gate::remembered_for - 1s;
    }
    EXPECT_EQ(gate.failed(number(1), at), Gate::guesser_wait);
}

// However many addresses fail, what is remembered has an end, and whoever is not remembered is
// slow.
TEST(Gate, IsSlowForAllWhenMoreAddressesFailThanItRemembers) {
    Gate gate;
    for (std::size_t i = 0; i < Gate::addresses_max; ++i)
        EXPECT_EQ(gate.failed(number(i), start), Gate::failed_wait);
    EXPECT_EQ(gate.failed(number(Gate::addresses_max), start), Gate::guesser_wait);
    EXPECT_EQ(gate.failed(number(1), start), Gate::failed_wait) << "who is remembered";
    const auto later = start + Gate::remembered_for;
    EXPECT_EQ(gate.failed(number(Gate::addresses_max), later), Gate::failed_wait);
}

TEST(Gate, TakesAClubsKnocksAtOnceAndThenOneEachHalfMinute) {
    Gate gate;
    const int at_once = static_cast<int>(Rates().knocks.at_once);
    for (int i = 0; i < at_once; ++i) EXPECT_TRUE(gate.takes_knock(number(1), start));
    EXPECT_FALSE(gate.takes_knock(number(1), start));
    EXPECT_TRUE(gate.takes_knock(number(2), start)) << "another address";
    EXPECT_TRUE(gate.takes_joining(number(1), start)) << "with a ticket";
    EXPECT_EQ(gate.failed(number(1), start), Gate::failed_wait) << "knocks are no failures";
    const auto later = start + 30s;
    EXPECT_FALSE(gate.takes_knock(number(1), later - 1ms));
    EXPECT_TRUE(gate.takes_knock(number(1), later + 1ms));
    EXPECT_FALSE(gate.takes_knock(number(1), later + 1ms));
    // Whoever kept away for long has no more of them than at first.
    int taken = 0;
    while (taken < 1000 && gate.takes_knock(number(1), start + 24h)) ++taken;
    EXPECT_EQ(taken, at_once);
}

TEST(Gate, LetsAClubJoinAtOnceAndNotAThousand) {
    Gate gate;
    int joined = 0;
    for (auto at = start; at < start + 15s; at += 3ms)
        if (gate.takes_joining(number(1), at)) ++joined;
    EXPECT_GE(joined, 40) << "a club behind one router";
    EXPECT_LE(joined, 70) << "not 4,601 in 15 s";
}

TEST(Gate, PersonsPayForThemselvesWhereverTheyAre) {
    Gate gate;
    for (int i = 0; i < 1000; ++i) gate.asked(number(1), start, 4);
    EXPECT_GT(gate.asked(number(1), start, 1), 0s);
    EXPECT_EQ(gate.asked(number(2), start, 1), 0s) << "a stranger elsewhere";
    EXPECT_EQ(gate.asked(std::uint32_t{7}, false, start, 1), 0s) << "a person";
    for (int i = 0; i < 1000; ++i) gate.asked(std::uint32_t{7}, false, start, 4);
    EXPECT_EQ(gate.asked(std::uint32_t{8}, false, start, 1), 0s) << "another person";
    EXPECT_EQ(gate.asked(std::uint32_t{7}, true, start, 1), 0s) << "a marshal";
}

TEST(Gate, ManyAddressesThatAreNotRememberedShareOnePace) {
    Gate gate;
    for (std::size_t i = 0; i < Gate::addresses_max; ++i) gate.asked(number(i), start, 1);
    int at_once = 0;
    for (std::size_t i = 0; i < 1000; ++i)
        if (gate.asked(number(Gate::addresses_max + i), start, 1) == Gate::Wait::zero()) ++at_once;
    EXPECT_EQ(at_once, static_cast<int>(Rates().strangers.at_once));
}

// One machine may have a whole network of the sixth version [RFC4291, 2.5.1]; a link's own
// addresses are one each [RFC4291, 2.5.6].
TEST(Gate, ANetworkOfTheSixthVersionIsOneAddress) {
    Gate gate;
    fail(gate, make_address("2001:db8:1:2::1"), Gate::failures_max, start);
    EXPECT_EQ(gate.failed(make_address("2001:db8:1:2:ffff::9"), start), Gate::guesser_wait);
    EXPECT_EQ(gate.failed(make_address("2001:db8:1:3::1"), start), Gate::failed_wait);
    fail(gate, make_address("fe80::1"), Gate::failures_max, start);
    EXPECT_EQ(gate.failed(make_address("fe80::2"), start), Gate::failed_wait);
    fail(gate, make_address("192.0.2.7"), Gate::failures_max, start);
    EXPECT_EQ(gate.failed(make_address("::ffff:192.0.2.7"), start), Gate::guesser_wait);
}

}  // namespace
}  // namespace fieldpeg::wire
