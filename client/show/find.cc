#include "client/show/replies.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace fieldpeg::show {

std::string find_text(const v1::FindReply& r, const Look& look) {
    std::string all =
        heading(fmt::format("To hear {} on {}, by its {}", r.transmitter(),
                            day::channel_text(r.channel()), r.receiver()),
                look);
    if (!r.lies().empty()) all += fmt::format("Lies, as far as anybody saw: {}.\n", r.lies());
    if (r.silent().empty())
        all += "Nobody has to be silent for it.\n";
    else
        all += item("", fmt::format("Silent while somebody walks: {}.", fmt::join(r.silent(), ", ")),
                    look);
    all += r.is_heard()
               ? item("",
                      fmt::format("Then tune to {}: what is less than snow is {}, and it grows as "
                                  "you come nearer ({} over everything else from the middle of "
                                  "{}; {} as things are).",
                                  day::channel_text(r.channel()), r.transmitter(),
                                  db_text(r.above_silent_db()) + " dB", r.area(),
                                  db_text(r.above_db()) + " dB"),
                      look)
               : item("! ",
                      fmt::format("It is too weak to be heard from the middle of {} even then ({} "
                                  "dB): begin where it was seen last.",
                                  r.area(), db_text(r.above_silent_db())),
                      look);
    if (!r.flies_there().empty())
        all += item("! ",
                    fmt::format("In the air there: {}. Close the field, or let them land, before "
                                "anybody walks out.",
                                fmt::join(r.flies_there(), ", ")),
                    look);
    return all + item("", std::string(estimates_text), look);
}

}  // namespace fieldpeg::show
