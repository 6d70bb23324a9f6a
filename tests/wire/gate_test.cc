#include "server/wire/gate.h"

#include <gtest/gtest.h>
#include <boost/asio/ip/address_v4.hpp>

#include <chrono>

namespace fieldpeg::wire {
namespace {

using boost::asio::ip::address;
using boost::asio::ip::address_v4;
using namespace std::chrono_literals;

const Gate::Time start = Gate::Time() + 1000h;

address number(std::size_t n) {
    return address_v4(static_cast<address_v4::uint_type>(0x0a00'0000 + n));
}

void fail(Gate& gate, const address& from, int times, Gate::Time at) {
    for (int i = 0; i < times; ++i) gate.failed(from, at);
}

TEST(Gate, AdmitsWhoNeverFailed) {
    EXPECT_TRUE(Gate().admits(number(1), start));
}

TEST(Gate, ClosesAfterTheLastFailureThatIsForgiven) {
    Gate gate;
    fail(gate, number(1), Gate::failures_max - 1, start);
    EXPECT_TRUE(gate.admits(number(1), start));
    gate.failed(number(1), start);
    EXPECT_FALSE(gate.admits(number(1), start));
}

TEST(Gate, OpensAgainAfterAWhile) {
    Gate gate;
    fail(gate, number(1), Gate::failures_max, start);
    EXPECT_FALSE(gate.admits(number(1), start + Gate::closed_for - 1ns));
    EXPECT_TRUE(gate.admits(number(1), start + Gate::closed_for));
    // And then counts from the beginning.
    fail(gate, number(1), Gate::failures_max - 1, start + Gate::closed_for);
    EXPECT_TRUE(gate.admits(number(1), start + Gate::closed_for));
    gate.failed(number(1), start + Gate::closed_for);
    EXPECT_FALSE(gate.admits(number(1), start + Gate::closed_for));
}

TEST(Gate, CountsFailuresOverTheWhile) {
    Gate gate;
    auto at = start;
    for (int i = 0; i < Gate::failures_max; ++i) {
        EXPECT_TRUE(gate.admits(number(1), at));
        gate.failed(number(1), at);
        at += Gate::closed_for - 1s;
    }
    EXPECT_FALSE(gate.admits(number(1), at));
}

TEST(Gate, ForgetsFailuresOfWhoSucceeds) {
    Gate gate;
    fail(gate, number(1), Gate::failures_max - 1, start);
    gate.succeeded(number(1));
    fail(gate, number(1), Gate::failures_max - 1, start);
    EXPECT_TRUE(gate.admits(number(1), start));
}

TEST(Gate, IsClosedToOneAddressAndNotToAnother) {
    Gate gate;
    fail(gate, number(1), Gate::failures_max, start);
    EXPECT_FALSE(gate.admits(number(1), start));
    EXPECT_TRUE(gate.admits(number(2), start));
}

TEST(Gate, TakesAClubsKnocksAtOnceAndThenOneEachHalfMinute) {
    Gate gate;
    for (int i = 0; i < Gate::knocks_at_once; ++i) EXPECT_TRUE(gate.takes_knock(number(1), start));
    EXPECT_FALSE(gate.takes_knock(number(1), start));
    EXPECT_TRUE(gate.takes_knock(number(2), start)) << "another address";
    EXPECT_TRUE(gate.admits(number(1), start)) << "knocks are no failures";
    const auto later = start + Gate::knock_again_after;
    EXPECT_FALSE(gate.takes_knock(number(1), later - 1ns));
    EXPECT_TRUE(gate.takes_knock(number(1), later));
    EXPECT_FALSE(gate.takes_knock(number(1), later));
    // Whoever kept away for long has no more of them than at first.
    const auto next_day = start + 24h;
    int taken = 0;
    while (taken < 1000 && gate.takes_knock(number(1), next_day)) ++taken;
    EXPECT_EQ(taken, Gate::knocks_at_once);
}

TEST(Gate, TakesKnocksOfNoMoreAddressesThanItHoldsUntilTheyAreForgotten) {
    Gate gate;
    for (std::size_t i = 0; i < Gate::addresses_max; ++i)
        EXPECT_TRUE(gate.takes_knock(number(i), start));
    EXPECT_FALSE(gate.takes_knock(number(Gate::addresses_max), start));
    EXPECT_TRUE(gate.takes_knock(number(1), start)) << "who is known";
    EXPECT_TRUE(gate.takes_knock(number(Gate::addresses_max), start + Gate::knock_again_after));
}

TEST(Gate, KeepsWhoItKnowsWhenMoreAddressesFailThanItHolds) {
    Gate gate;
    fail(gate, number(0), Gate::failures_max, start);
    const auto all = Gate::addresses_max + 20;
    for (std::size_t i = 1; i < all; ++i) fail(gate, number(i), Gate::failures_max, start);
    EXPECT_FALSE(gate.admits(number(0), start));
    std::size_t closed = 0;
    for (std::size_t i = 0; i < all; ++i)
        if (!gate.admits(number(i), start)) ++closed;
    EXPECT_EQ(closed, Gate::addresses_max);
    // Later there is room for others.
    const auto later = start + Gate::closed_for;
    fail(gate, number(2 * Gate::addresses_max), Gate::failures_max, later);
    EXPECT_FALSE(gate.admits(number(2 * Gate::addresses_max), later));
}

}  // namespace
}  // namespace fieldpeg::wire
