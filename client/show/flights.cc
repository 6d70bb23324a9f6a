#include "client/show/flights.h"

#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/format.h>

namespace fieldpeg::show {
namespace {

std::string date_and_clock(std::int64_t at_ms) {
    return date_text(at_ms) + " " + clock_text(at_ms);
}

std::string end_text(v1::Flight::End end) {
    switch (end) {
        case v1::Flight::in_the_air:
            return "still on the air";
        case v1::Flight::down:
            return "down";
        case v1::Flight::bench:
            return "then on the bench";
        default:
            return "";
    }
}

/// With the date, unless all is of one.
std::string time_text(const v1::AirtimeReply& reply, std::int64_t at_ms) {
    const auto& last = *reply.flights().rbegin();
    const auto end_ms = last.has_until_ms() ? last.until_ms() : last.from_ms();
    return date_text(reply.flights(0).from_ms()) == date_text(end_ms) ? clock_text(at_ms)
                                                                      : date_and_clock(at_ms);
}

}  // namespace

std::string minutes_text(double minutes) {
    return fmt::format("{:.1f}", minutes);
}

std::string flown_text(const std::string& pilot, const std::string& relay) {
    return relay.empty() ? pilot : fmt::format("{} of {}", relay, pilot);
}

std::string most_at_once_text(const v1::AirtimeReply& reply) {
    if (reply.most_at_once() == 0) return "";
    return fmt::format("{} in the air at once at most, from {}: {}", reply.most_at_once(),
                       clock_text(reply.most_at_once_ms()),
                       fmt::join(reply.most_at_once_who(), ", "));
}

std::string flight_totals_text(const v1::AirtimeReply& reply, const Look& look) {
    if (reply.totals().empty()) return "Nobody flew.\n";
    Table table({{"who"}, {"flights", Table::Align::right}, {"minutes", Table::Align::right}});
    for (const auto& t : reply.totals())
        table.row({flown_text(t.pilot(), t.relay()), std::to_string(t.flights()),
                   minutes_text(t.minutes())});
    return table.text(look);
}

std::string flights_text(const v1::AirtimeReply& reply, const Look& look) {
    if (reply.flights().empty()) return "Nobody flew.\n";
    Table table(
        {{"who"}, {"channel"}, {"power"}, {"on"}, {"off"}, {"minutes", Table::Align::right}, {""}});
    for (const auto& f : reply.flights())
        table.row({flown_text(f.pilot(), f.relay()), day::channel_text(f.channel()),
                   day::power_text(f.power_dbm()), time_text(reply, f.from_ms()),
                   f.has_until_ms() ? time_text(reply, f.until_ms()) : "-",
                   minutes_text(f.minutes()), end_text(f.end())});
    auto text = table.text(look) + "\n" + heading("Totals", look) + flight_totals_text(reply, look);
    if (const auto most = most_at_once_text(reply); !most.empty())
        text += "\n" + item("", most + ".", look);
    return text;
}

std::string flights_csv(const v1::AirtimeReply& reply) {
    std::string all =
        "pilot,relay,channel,frequency_mhz,power_mw,on_local,off_local,minutes,end\r\n";
    for (const auto& f : reply.flights())
        all += fmt::format(
            "{},{},{},{},{},{},{},{},{}\r\n", csv_field(f.pilot()), csv_field(f.relay()),
            csv_field(f.channel().name()), day::mhz_text(f.channel().mhz()), csv_mw(f.power_dbm()),
            date_and_clock(f.from_ms()), f.has_until_ms() ? date_and_clock(f.until_ms()) : "",
            minutes_text(f.minutes()), v1::Flight::End_Name(f.end()));
    return all;
}

std::string flight_totals_csv(const v1::AirtimeReply& reply) {
    std::string all = "pilot,relay,flights,minutes\r\n";
    for (const auto& t : reply.totals())
        all += fmt::format("{},{},{},{}\r\n", csv_field(t.pilot()), csv_field(t.relay()),
                           t.flights(), minutes_text(t.minutes()));
    return all;
}

}  // namespace fieldpeg::show
