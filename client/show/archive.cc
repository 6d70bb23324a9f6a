#include "client/show/archive.h"

#include "client/show/flights.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/format.h>

namespace fieldpeg::show {
namespace {

constexpr auto right = Table::Align::right;

/// Enough of a day's id to call it by.
std::string short_id(const std::string& id) {
    constexpr std::size_t letters = 8;
    return id.substr(0, letters);
}

std::string date_and_clock(std::int64_t at_ms) {
    return date_text(at_ms) + " " + clock_text(at_ms);
}

std::string mhz(double frequency_mhz) {
    return day::mhz_text(frequency_mhz);
}

}  // namespace

std::string pushed_text(const v1::ArchivePushed& reply) {
    const auto& day = reply.day();
    const auto what = fmt::format("'{}' of {}", day.title(), date_text(day.begun_ms()));
    if (reply.has_more())
        return fmt::format("{} is in the archive already, with a longer day: {} entries\n", what,
                           day.entries());
    const auto came = day.entries() - reply.were_there();
    if (came == 0)
        return fmt::format("{} is in the archive already: {} entries, head {}\n", what,
                           day.entries(), day.head_hash().substr(0, 16));
    return fmt::format("{}: {} entries came into the archive{}; as {}, head {}\n", what, came,
                       reply.were_there() == 0
                           ? std::string()
                           : fmt::format(" behind the {} that were there", reply.were_there()),
                       short_id(day.id()), day.head_hash().substr(0, 16));
}

std::string days_text(const v1::ArchiveDays& reply, const Look& look) {
    if (reply.days().empty()) return "The archive has no day of that time.\n";
    Table table({{"day"},
                 {"begun"},
                 {"entries", right},
                 {"flights", right},
                 {"minutes", right},
                 {"called"},
                 {"field"}});
    for (const auto& day : reply.days())
        table.row(
            {short_id(day.id()), date_and_clock(day.begun_ms()), std::to_string(day.entries()),
             day.is_held() ? "-" : std::to_string(day.flights()),
             day.is_held() ? "-" : minutes_text(day.minutes()),
             day.title() + (day.is_held() ? " (a server has it: it goes on)" : ""), day.field()});
    return table.text(look);
}

std::string days_csv(const v1::ArchiveDays& reply) {
    std::string all = "day,begun_local,entries,flights,minutes,title,field,head\r\n";
    for (const auto& day : reply.days())
        all += fmt::format("{},{},{},{},{},{},{},{}\r\n", day.id(), date_and_clock(day.begun_ms()),
                           day.entries(), day.flights(), minutes_text(day.minutes()),
                           csv_field(day.title()), csv_field(day.field()), day.head_hash());
    return all;
}

std::string archive_near_text(const v1::ArchiveNearReply& reply, const Look& look) {
    const auto when =
        fmt::format("from {} to {}", date_text(reply.from_ms()), date_text(reply.to_ms()));
    if (reply.last().empty()) return fmt::format("Nobody was near it {}.\n", when);
    Table who({{"who"}, {"times", right}, {"the last time"}});
    for (const auto& one : reply.who())
        who.row({one.who(), std::to_string(one.times()), date_and_clock(one.last_ms())});
    Table last({{"from"}, {"to"}, {"who"}, {"MHz", right}, {"power"}, {"how"}, {"day"}});
    for (const auto& one : reply.last())
        last.row({date_and_clock(one.from_ms()), clock_text(one.to_ms()), one.who(),
                  mhz(one.frequency_mhz()),
                  one.power_dbm() == 0 ? "-" : day::power_text(one.power_dbm()),
                  std::string(way_text(one.kind())),
                  fmt::format("{} {}", short_id(one.day_id()), one.title())});
    return heading(fmt::format("Who was near it {}", when), look) + who.text(look) + "\n" +
           heading(reply.has_more() ? "The last times" : "Each time", look) + last.text(look);
}

std::string archive_near_csv(const v1::ArchiveNearReply& reply) {
    std::string all = "from_local,to_local,who,frequency_mhz,power_mw,kind,day,title\r\n";
    for (const auto& one : reply.last())
        all +=
            fmt::format("{},{},{},{},{},{},{},{}\r\n", date_and_clock(one.from_ms()),
                        date_and_clock(one.to_ms()), csv_field(one.who()), mhz(one.frequency_mhz()),
                        one.power_dbm() == 0 ? "" : csv_mw(one.power_dbm()), one.kind(),
                        one.day_id(), csv_field(one.title()));
    return all;
}

std::string archive_flights_text(const v1::ArchiveFlights& reply, const Look& look) {
    if (reply.totals().empty()) return "Nobody flew.\n";
    Table totals(
        {{"who"}, {"days", right}, {"flights", right}, {"minutes", right}, {"the last began"}});
    for (const auto& one : reply.totals())
        totals.row({one.who(), std::to_string(one.days()), std::to_string(one.flights()),
                    minutes_text(one.minutes()), date_and_clock(one.last_ms())});
    if (reply.flights().empty()) return totals.text(look);
    Table flights({{"on"}, {"minutes", right}, {"channel"}, {"power"}, {"day"}});
    for (const auto& one : reply.flights())
        flights.row({date_and_clock(one.from_ms()), minutes_text(one.minutes()), one.channel(),
                     day::power_text(one.power_dbm()),
                     fmt::format("{} {}", short_id(one.day_id()), one.title())});
    return totals.text(look) + "\n" + flights.text(look);
}

std::string archive_flights_csv(const v1::ArchiveFlights& reply) {
    if (reply.flights().empty()) {
        std::string all = "who,days,flights,minutes,last_local\r\n";
        for (const auto& one : reply.totals())
            all +=
                fmt::format("{},{},{},{},{}\r\n", csv_field(one.who()), one.days(), one.flights(),
                            minutes_text(one.minutes()), date_and_clock(one.last_ms()));
        return all;
    }
    std::string all = "who,on_local,minutes,channel,power_mw,day,title\r\n";
    for (const auto& one : reply.flights())
        all += fmt::format("{},{},{},{},{},{},{}\r\n", csv_field(one.who()),
                           date_and_clock(one.from_ms()), minutes_text(one.minutes()),
                           csv_field(one.channel()), csv_mw(one.power_dbm()), one.day_id(),
                           csv_field(one.title()));
    return all;
}

std::string channels_used_text(const v1::ArchiveChannels& reply, const Look& look) {
    if (reply.channels().empty()) return "Nobody flew.\n";
    Table table({{"channel"}, {"flights", right}, {"people", right}, {"minutes", right}});
    for (const auto& one : reply.channels())
        table.row({one.channel(), std::to_string(one.flights()), std::to_string(one.people()),
                   minutes_text(one.minutes())});
    return table.text(look);
}

std::string channels_used_csv(const v1::ArchiveChannels& reply) {
    std::string all = "channel,flights,people,minutes\r\n";
    for (const auto& one : reply.channels())
        all += fmt::format("{},{},{},{}\r\n", csv_field(one.channel()), one.flights(), one.people(),
                           minutes_text(one.minutes()));
    return all;
}

}  // namespace fieldpeg::show
