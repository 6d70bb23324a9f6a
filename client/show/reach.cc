#include "server/day/reach.h"
#include "client/show/replies.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

/// "201 m, 377 m": how far for 98 % and for 80 % of the time.
std::string spans_text(const v1::ReachSpan* good, const v1::ReachSpan* usable) {
    if (usable == nullptr) return "-";
    return fmt::format("{}, {}", good != nullptr ? day::distance_text(good->to_m()) : "-",
                       day::distance_text(usable->to_m()));
}

std::string alone_text(const v1::ReachLine& l) {
    return spans_text(l.has_good_alone() ? &l.good_alone() : nullptr,
                      l.has_usable_alone() ? &l.usable_alone() : nullptr);
}

std::string now_text(const v1::ReachLine& l) {
    return spans_text(l.has_good() ? &l.good() : nullptr, l.has_usable() ? &l.usable() : nullptr);
}

/// One line for each direction, two columns for each receiver.
template <class Lines, class Name>
std::string lines_table(const v1::ReachReply& reply, const std::string& first, Lines lines,
                        Name name, const Look& look) {
    std::vector<Table::Column> columns{{"  " + first, Table::Align::right}};
    for (const auto& r : reply.receivers()) {
        columns.push_back({day::receiver_text(r.relay(), r.receiver())});
        columns.push_back({"with the others"});
    }
    Table table(columns);
    int shown = lines(reply.receivers(0)).size();
    for (const auto& r : reply.receivers()) shown = std::min(shown, lines(r).size());
    for (int i = 0; i < shown; ++i) {
        std::vector<std::string> cells{name(lines(reply.receivers(0))[i])};
        for (const auto& r : reply.receivers()) {
            const auto& l = lines(r)[i];
            const auto alone = alone_text(l), now = now_text(l);
            cells.push_back(alone);
            cells.push_back(now == alone ? "the same" : now);
        }
        table.row(std::move(cells));
    }
    return table.text(look);
}

}  // namespace

std::string reach_text(const v1::ReachReply& reply, const Look& look) {
    if (reply.receivers().empty())
        return fmt::format("Nothing of {} listens to it.\n", reply.pilot());
    const auto& first = reply.receivers(0);
    std::string all = fmt::format(
        "{} on {} at {}: how far the picture carries, for 98 % and for 80 % of the time.\n",
        reply.pilot(), day::channel_text(first.channel()), day::power_text(first.sent_dbm()));
    all += item(
        "",
        fmt::format("{} is flown {:.0f} to {:.0f} m up and reaches to {} ({}). 'With the "
                    "others' counts {}.",
                    reply.area(), reply.low_m(), reply.high_m(), day::distance_text(reply.rim_m()),
                    day::compass_text(reply.rim_azimuth_deg()), basis_text(reply.basis())),
        look);
    for (const auto& said : reply.said()) all += item("  ", said, look);
    const double middle = (reply.low_m() + reply.high_m()) / 2;
    all += "\n" + heading(fmt::format("Round the compass, {:.0f} m up", middle), look);
    all += lines_table(
        reply, "towards", [](const auto& r) -> const auto& { return r.by_bearing(); },
        [](const auto& l) { return day::compass_text(l.azimuth_deg()); }, look);
    all += "\n" + heading(fmt::format("Towards the far rim ({}), by height",
                                      day::compass_text(reply.rim_azimuth_deg())),
                          look);
    all += lines_table(
        reply, "height", [](const auto& r) -> const auto& { return r.by_height(); },
        [](const auto& l) { return fmt::format("{:.0f} m", l.height_m()); }, look);
    if (!reply.cautions().empty()) all += "\n" + heading("Cautions", look);
    for (const auto& c : reply.cautions()) all += item("  ! ", c, look);
    return all + "\n" + item("", std::string(estimates_text), look);
}

}  // namespace fieldpeg::show
