#include "client/show/day.h"
#include "client/show/json.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <string>

namespace fieldpeg::show {
namespace {

std::string utc_text(std::int64_t at_ms) {
    return fmt::format("{:%Y-%m-%dT%H:%M:%S}.{:03}Z", fmt::gmtime(std::time_t{at_ms / 1000}),
                       at_ms % 1000);
}

}  // namespace

std::string log_standing_text(const v1::LogReply& reply, const Look& look) {
    return item("",
                reply.verified()
                    ? fmt::format("{} entries in all; the chain of hashes holds, its head is {}.",
                                  reply.last_version(), reply.head_hash().substr(0, 16))
                    : fmt::format("! The log is not what was written: {}.", reply.fault()),
                look);
}

std::string log_text(const v1::LogReply& reply, const Look& look) {
    Table table({{"#", Table::Align::right}, {"time"}, {"by"}, {"what"}});
    const auto is_of_one_date = std::ranges::all_of(reply.entries(), [&](const auto& e) {
        return date_text(e.at_ms()) == date_text(reply.entries(0).at_ms());
    });
    std::string date;
    for (const auto& e : reply.entries()) {
        if (!is_of_one_date && date != date_text(e.at_ms())) {
            date = date_text(e.at_ms());
            table.row({"", date, "", ""});
        }
        table.row({std::to_string(e.version()), clock_text(e.at_ms()), e.actor(), e.text()});
    }
    std::string all = reply.entries().empty() ? "No entry of the log matches.\n" : table.text(look);
    return all + "\n" + log_standing_text(reply, look);
}

std::string log_csv(const v1::LogReply& reply) {
    std::string all = "version,time_utc,actor,subject,kind,frequency_mhz,power_dbm,text\r\n";
    for (const auto& e : reply.entries())
        all += fmt::format("{},{},{},{},{},{},{},{}\r\n", e.version(), utc_text(e.at_ms()),
                           csv_field(e.actor()), csv_field(e.subject()), e.kind(),
                           e.has_frequency_mhz() ? fmt::format("{}", e.frequency_mhz()) : "",
                           e.has_power_dbm() ? fmt::format("{}", e.power_dbm()) : "",
                           csv_field(e.text()));
    return all;
}

std::string log_json_lines(const v1::LogReply& reply) {
    std::string all;
    for (const auto& e : reply.entries()) all += json_line(e) + "\n";
    return all;
}

}  // namespace fieldpeg::show
