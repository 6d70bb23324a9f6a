#include "client/show/day.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <string>
#include <vector>

namespace fieldpeg::show {

std::string day_end_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look) {
    std::string all = heading(fmt::format("{}, {}", board.day(), clock_text(now_ms)), look);
    Table on({{"still there"}, {"channel"}, {"stage"}, {"since"}, {"note"}});
    std::vector<std::string> held, sightings;
    for (const auto& r : board.rows()) {
        if (r.is_sighting())
            sightings.push_back(
                fmt::format("{} on {}", r.transmitter(), day::channel_text(r.channel())));
        else if (day::radiates(r.stage()))
            on.row({r.transmitter(), day::channel_text(r.channel()),
                    std::string(day::stage_name(r.stage())),
                    fmt::format("{}, {}", clock_text(r.since_ms()),
                                ago_text(now_ms - r.since_ms())),
                    r.note()});
        else if (r.has_channel())
            held.push_back(r.transmitter());
    }
    all += on.empty() ? "Nobody is on the air, on the bench or down.\n" : on.text(look);
    if (!sightings.empty())
        all += item("", fmt::format("Seen, and not gone: {}.", fmt::join(sightings, ", ")), look);
    if (!held.empty())
        all += item("", fmt::format("Still hold a channel: {}.", fmt::join(held, ", ")), look);
    if (!board.call_out().empty())
        all += item("! ", fmt::format("Not told yet: {} of the board's sentences.",
                                      board.call_out_size()),
                    look);
    return all + (on.empty() ? "Then the report: fieldpeg report --out FILE.\n"
                             : "First these; then the report.\n");
}

}  // namespace fieldpeg::show
