#include "client/show/harm.h"

#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

namespace fieldpeg::show {

namespace {

/// Control of an aircraft is counted in channels, not in decibels.
std::string margin_text(const v1::Harm& h, double db) {
    return h.after() == v1::Verdict::control_at_risk ? "-" : db_text(db);
}

}  // namespace

std::string harms_text(const Harms& harms, const Look& look) {
    Table table({{"who"},
                 {"now"},
                 {"dB", Table::Align::right},
                 {"would be"},
                 {"dB", Table::Align::right},
                 {"on the air"},
                 {"through"}});
    for (const auto& h : harms)
        table.row({h.pilot(), verdict_text(h.before(), look), margin_text(h, h.margin_before_db()),
                   verdict_text(h.after(), look), margin_text(h, h.margin_after_db()),
                   h.on_air() ? "yes" : "no", h.through()});
    return table.text(look);
}

std::string links_lost_text(const Harms& links, const Look& look) {
    if (links.empty()) return "";
    auto all = "\n" + heading("Lost, though its pilot still sees another way", look);
    for (const auto& h : links)
        all += item(
            "  ",
            fmt::format("{}: {} -> {} ({} to {} dB; {})",
                        day::receiver_text(h.pilot(), h.relay(), h.receiver()),
                        verdict_text(h.before(), {}), verdict_text(h.after(), look),
                        db_text(h.margin_before_db()), db_text(h.margin_after_db()), h.through()),
            look);
    return all;
}

}  // namespace fieldpeg::show
