#include "client/show/day.h"
#include "client/show/strip.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/sentences.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::show {
namespace {

/// Nobody is called quiet for less: most clients only speak when they are used.
constexpr std::int64_t quiet_ms = 120'000;

bool is_long_in_the_air(const v1::BoardRow& r, std::int64_t now_ms) {
    constexpr std::int64_t minute_ms = 60'000;
    return r.stage() == v1::Claim::on_air && r.usual_minutes() > 0 &&
           now_ms - r.since_ms() > r.usual_minutes() * minute_ms;
}

/// "14:31", and of what is on the air how long that is.
std::string since_text(const v1::BoardRow& r, std::int64_t now_ms) {
    if (r.since_ms() <= 0) return "-";
    const bool flies = r.stage() == v1::Claim::on_air && !r.is_sighting();
    return clock_text(r.since_ms()) +
           (flies ? fmt::format(", {}", ago_text(now_ms - r.since_ms())) : "");
}

std::string note(const v1::BoardRow& r, std::int64_t now_ms) {
    std::string text;
    const auto add = [&](const std::string& more) { text += (text.empty() ? "" : "; ") + more; };
    if (r.unasked()) add(r.is_sighting() ? "seen, unasked" : "unasked");
    if (r.unconfirmed()) add("not confirmed: is it on?");
    if (is_long_in_the_air(r, now_ms)) add("still flying?");
    if (!r.allowed_because().empty()) add("allowed because " + r.allowed_because());
    if (!r.note().empty()) add(r.note());
    if (r.group() != 0) add(fmt::format("group {}", r.group()));
    const bool quiet = r.has_heard_from_ms() && now_ms - r.heard_from_ms() >= quiet_ms;
    if (quiet)
        add(r.heard_from_ms() == 0 ? "not heard from since the server started"
                                   : "not heard from for " + ago_text(now_ms - r.heard_from_ms()));
    return text;
}

/// The board's order: what radiates first, by channel; then what is held; then the rest.
int rank(const v1::BoardRow& r) {
    switch (r.stage()) {
        case v1::Claim::on_air:
        case v1::Claim::told_on:
        case v1::Claim::down:
            return 0;
        case v1::Claim::bench:
            return 1;
        case v1::Claim::held:
        case v1::Claim::off_air:
            return 2;
        default:
            return 3;
    }
}

std::vector<const v1::BoardRow*> ordered(const v1::BoardReply& board) {
    std::vector<const v1::BoardRow*> rows;
    for (const auto& r : board.rows()) rows.push_back(&r);
    std::ranges::stable_sort(rows, [](const auto* a, const auto* b) {
        return std::pair(rank(*a), a->channel().mhz()) < std::pair(rank(*b), b->channel().mhz());
    });
    return rows;
}

bool has_picture(const v1::BoardRow& r) {
    return r.has_result() && r.result().verdict() != v1::Verdict::no_picture &&
           r.stage() != v1::Claim::down;
}

std::string rows_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look) {
    if (board.rows().empty()) return "Nobody is on this day yet.\n";
    Table table({{"who"},
                 {"channel"},
                 {"power"},
                 {"stage"},
                 {"since"},
                 {"margin", Table::Align::right},
                 {"worst", Table::Align::right},
                 {"verdict"},
                 {"picture"},
                 {"note"}});
    for (const auto* r : ordered(board)) {
        const bool shown = has_picture(*r);
        const bool sees = shown && r->result().has_margin_ref_db();
        table.row({r->transmitter(), r->has_channel() ? day::channel_text(r->channel()) : "-",
                   r->has_power_dbm() ? day::power_text(r->power_dbm()) : "-",
                   r->has_channel() ? std::string(day::stage_name(r->stage())) : "holds nothing",
                   since_text(*r, now_ms), sees ? db_text(r->result().margin_ref_db()) : "-",
                   sees ? db_text(r->result().margin_worst_db()) : "-",
                   shown ? verdict_text(r->result().verdict(), look) : "-",
                   sees ? picture_text(r->result().picture()) : "-", note(*r, now_ms)});
    }
    return table.text(look);
}

}  // namespace

std::string board_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look) {
    std::string all = heading(fmt::format("{}, {}, entry {} of the log", board.day(),
                                          clock_text(now_ms), board.version()),
                              look);
    const bool has_closed = board.has_closed();
    if (has_closed)
        all = item("! ",
                   fmt::format(
                       "The field is closed since {}{}: {}", clock_text(board.closed().since_ms()),
                       board.closed().now() ? ", land at once" : "", board.closed().because()),
                   look) +
              all;
    if (board.restarted_ms() != 0)
        all += item("! ",
                    fmt::format("The server was started anew at {}: what is on the air is as of "
                                "then, each to be confirmed ('on --confirm') or 'off'.",
                                clock_text(board.restarted_ms())),
                    look);
    for (const auto& search : board.searches())
        all += item(
            "! ",
            fmt::format("Somebody walks out to {}{}: nobody flies there.", search.transmitter(),
                        search.lies().empty() ? "" : " (" + search.lies() + ")"),
            look);
    if (board.flying_group() != 0) all += fmt::format("Group {} flies.\n", board.flying_group());
    all += rows_text(board, now_ms, look);
    all += item("", "Margins count what is on the air or the bench now.", look);
    for (const auto& one : board.awaiting())
        all += item(
            "  ! ",
            fmt::format("somebody has joined as {}{} and waits: fieldpeg pilot nod {}", one.name(),
                        one.resembles().empty() ? ""
                                                : fmt::format(", which looks like {},",
                                                              fmt::join(one.resembles(), " and ")),
                        one.name()),
            look);
    if (const auto strip = board_strip(board, look); !strip.empty()) all += "\n" + strip;
    if (!board.line().empty()) all += "\n" + line_text(board, now_ms, look);
    if (!board.call_out().empty()) {
        all += "\n" + heading("To call out", look);
        for (int i = 0; i < board.call_out_size(); ++i) {
            const bool has_number = i < board.untold_size();  // a false server may give fewer
            all += item("  ! ",
                        board.call_out(i) +
                            (has_number ? fmt::format(" (#{})", board.untold(i).version()) : ""),
                        look);
            if (i < board.call_out_cause_size() && !board.call_out_cause(i).empty())
                all += item("    ", board.call_out_cause(i), look);
        }
    }
    return all + "\n" + item("", std::string(estimates_text), look);
}

}  // namespace fieldpeg::show
