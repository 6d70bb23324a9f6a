#include "tests/support/control.h"
#include "tests/support/kept_day.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

/// The line of `ready` on the network by which everybody reaches the server: it radiates, too. What
/// is near enough to be the same network is common practice, no published source.
namespace fieldpeg::service {
namespace {

using testing::emitter_text;
using testing::field_text;
using testing::KeptDay;

v1::ReadyReply::Check wifi(std::string_view emitters, const std::vector<double>& own_mhz) {
    KeptDay day(field_text() + std::string(emitters));
    day.keeper().own_wifi_mhz = [=] { return own_mhz; };
    v1::Query query;
    query.mutable_ready();
    const auto answer = day.keeper().answer(query, day.now_ms());
    const auto& checks = answer.ready().checks();
    EXPECT_EQ(std::ranges::count(checks, "wi-fi", &v1::ReadyReply::Check::what), 1);
    return *std::ranges::find(checks, "wi-fi", &v1::ReadyReply::Check::what);
}
bool has(const v1::ReadyReply::Check& check, std::string_view phrase) {
    return check.text().find(phrase) != std::string::npos;
}

TEST(ReadyWifi, SaysWhatToEnterWhereTheServersNetworkIsNotEntered) {
    const auto is = wifi("", {2437});
    EXPECT_FALSE(is.good());
    EXPECT_TRUE(has(is, "this server's network is on 2437 MHz and is not entered")) << is.text();
    EXPECT_TRUE(has(is, "fieldpeg field emitter")) << is.text();
    EXPECT_TRUE(has(is, "--channel 2437")) << is.text();
}

TEST(ReadyWifi, IsContentWithAnEmitterOnItsChannel) {
    const auto is = wifi(emitter_text("canteen", "pits", "wifi = 6"), {2437});
    EXPECT_TRUE(is.good());
    EXPECT_TRUE(has(is, "are entered")) << is.text();
}

// A network of 40 MHz may be entered by its middle, 10 MHz off.
TEST(ReadyWifi, TakesAnEmitterTenMegahertzOffForTheSame) {
    EXPECT_TRUE(wifi(emitter_text("canteen", "pits", "channel = 5190"), {5180}).good());
    EXPECT_FALSE(wifi(emitter_text("canteen", "pits", "channel = 5191"), {5180}).good());
}

TEST(ReadyWifi, MindsEachNetworkOfTheServer) {
    const auto is = wifi(emitter_text("canteen", "pits", "wifi = 6"), {2437, 5180});
    EXPECT_FALSE(is.good());
    EXPECT_TRUE(has(is, "5180 MHz")) << is.text();
    EXPECT_TRUE(
        wifi(emitter_text("canteen", "pits", "wifi = 6") + emitter_text("hut", "pits", "wifi = 36"),
             {2437, 5180})
            .good());
}

// On a cable nothing is wrong, and nothing is known of the access point.
TEST(ReadyWifi, SaysThatItDoesNotKnowAndCallsThatNoFault) {
    const auto is = wifi("", {});
    EXPECT_TRUE(is.good());
    EXPECT_TRUE(has(is, "does not tell its channel")) << is.text();
}

}  // namespace
}  // namespace fieldpeg::service
