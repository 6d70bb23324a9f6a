#include "client/show/flights.h"

#include "client/show/table.h"
#include "client/show/times.h"

#define CSV_IO_NO_THREAD
#include <gtest/gtest.h>
#include <libfccp/csv.h>

#include <cmath>
#include <string>

/// Comma-separated values are read back by a library that knows nothing of us (Debian: libfccp-dev,
/// "Fast C++ CSV Parser").
namespace fieldpeg::show {
namespace {

template <unsigned columns>
using Csv = io::CSVReader<columns, io::trim_chars<>, io::double_quote_escape<',', '"'>>;

constexpr std::int64_t noon_ms = 1'789'819'200'000;  // 2026-09-19 12:00:00 UTC

v1::Flight flight(const std::string& pilot, const std::string& relay, std::int64_t from_s,
                  std::int64_t until_s) {
    v1::Flight f;
    f.set_pilot(pilot);
    f.set_relay(relay);
    f.mutable_channel()->set_name("R3");
    f.mutable_channel()->set_mhz(5732);
    f.set_power_dbm(23.01);
    f.set_from_ms(noon_ms + from_s * 1000);
    f.set_until_ms(noon_ms + until_s * 1000);
    f.set_minutes(static_cast<double>(until_s - from_s) / 60);
    f.set_end(v1::Flight::off);
    return f;
}

v1::AirtimeReply two_flights() {
    v1::AirtimeReply reply;
    *reply.add_flights() = flight("Ann \"Ace\", of the club", "", 0, 450);
    auto& still = *reply.add_flights() = flight("Dee", "mast, north", 60, 120);
    still.clear_until_ms();
    still.set_end(v1::Flight::in_the_air);
    auto& total = *reply.add_totals();
    total.set_pilot("Ann \"Ace\", of the club");
    total.set_flights(3);
    total.set_minutes(22.26);
    reply.set_most_at_once(1);
    reply.set_most_at_once_ms(noon_ms);
    reply.add_most_at_once_who("Ann \"Ace\", of the club");
    return reply;
}

TEST(FlightsCsv, IsReadBack) {
    const auto text = flights_csv(two_flights());
    Csv<9> csv("flights.csv", text.data(), text.data() + text.size());
    csv.read_header(io::ignore_no_column, "pilot", "relay", "channel", "frequency_mhz", "power_mw",
                    "on_local", "off_local", "minutes", "end");
    std::string pilot, relay, channel, on, off, end;
    double mhz = 0, mw = 0, minutes = 0;
    ASSERT_TRUE(csv.read_row(pilot, relay, channel, mhz, mw, on, off, minutes, end));
    EXPECT_EQ(pilot, "Ann \"Ace\", of the club");
    EXPECT_EQ(relay, "");
    EXPECT_EQ(channel, "R3");
    EXPECT_EQ(mhz, 5732);
    EXPECT_EQ(mw, 200);
    EXPECT_EQ(on, date_text(noon_ms) + " " + clock_text(noon_ms));
    EXPECT_EQ(off, date_text(noon_ms) + " " + clock_text(noon_ms + 450'000));
    EXPECT_EQ(minutes, 7.5);
    EXPECT_EQ(end, "off");
    ASSERT_TRUE(csv.read_row(pilot, relay, channel, mhz, mw, on, off, minutes, end));
    EXPECT_EQ(relay, "mast, north");
    EXPECT_EQ(off, "") << "no end yet";
    EXPECT_EQ(end, "in_the_air");
    EXPECT_FALSE(csv.read_row(pilot, relay, channel, mhz, mw, on, off, minutes, end));
}

TEST(FlightTotalsCsv, IsReadBack) {
    const auto text = flight_totals_csv(two_flights());
    Csv<4> csv("totals.csv", text.data(), text.data() + text.size());
    csv.read_header(io::ignore_no_column, "pilot", "relay", "flights", "minutes");
    std::string pilot, relay;
    unsigned flights = 0;
    double minutes = 0;
    ASSERT_TRUE(csv.read_row(pilot, relay, flights, minutes));
    EXPECT_EQ(pilot, "Ann \"Ace\", of the club");
    EXPECT_EQ(flights, 3U);
    EXPECT_EQ(minutes, 22.3);
    EXPECT_FALSE(csv.read_row(pilot, relay, flights, minutes));
}

TEST(FlightsText, SaysWhoWhenAndHowLong) {
    const auto text = flights_text(two_flights(), {});
    EXPECT_NE(text.find("mast, north of Dee"), std::string::npos) << text;
    EXPECT_NE(text.find("still on the air"), std::string::npos) << text;
    EXPECT_NE(text.find("1 in the air at once at most, from " + clock_text(noon_ms)),
              std::string::npos)
        << text;
    EXPECT_EQ(flights_text({}, {}), "Nobody flew.\n");
    EXPECT_EQ(flight_totals_text({}, {}), "Nobody flew.\n");
}

TEST(FlightsText, HasTheDateWhereThereAreTwo) {
    auto reply = two_flights();
    EXPECT_EQ(flights_text(reply, {}).find(date_text(noon_ms)), std::string::npos);
    const std::int64_t later_ms = noon_ms + 48LL * 3'600'000;
    reply.mutable_flights(1)->set_from_ms(later_ms);
    EXPECT_NE(flights_text(reply, {}).find(date_text(later_ms)), std::string::npos);
}

// Three digits, and of what is set in whole milliwatts exactly that.
TEST(CsvMw, IsWhatPeopleSet) {
    for (const double mw : {0.01, 0.1, 0.5, 1., 7.5, 10., 25., 100., 200., 316., 600., 999., 1000.,
                            1200., 2500., 10000.})
        EXPECT_EQ(std::stod(csv_mw(10 * std::log10(mw))), mw);
    EXPECT_EQ(csv_mw(13.979), "25");
}

}  // namespace
}  // namespace fieldpeg::show
