#include "client/show/day.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>
#include <vector>

namespace fieldpeg::show {
namespace {

bool is_on_the_air(const v1::BoardRow& r) {
    return day::is_switched_on(r.stage());
}

std::string stage_text(const v1::BoardRow& r, std::int64_t now_ms) {
    const std::string stage(day::stage_name(r.stage()));
    return is_on_the_air(r) ? fmt::format("{}, {}", stage, ago_text(now_ms - r.since_ms())) : stage;
}

std::string next_text(const v1::InTurn& one) {
    if (!one.wait_for().empty())
        return fmt::format("waits for {}", fmt::join(one.wait_for(), ", "));
    if (!one.why().empty()) return "asks the marshal: " + one.why();
    return "looks first, then may switch on";
}

}  // namespace

std::string line_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look) {
    if (board.line().empty()) return "Nobody is in the line.\n";
    std::string all = heading("In the line, to be called when it is free", look);
    Table table({{"", Table::Align::right}, {"who"}, {"channel"}, {"waits"}, {"for"}});
    constexpr std::int64_t second_ms = 1000;
    int place = 0;
    for (const auto& one : board.line()) {
        std::string what = one.why();
        if (!one.wait_for().empty()) what = fmt::format("{}", fmt::join(one.wait_for(), ", "));
        if (one.called_until_ms() != 0)
            what = fmt::format("called, {} s left",
                               std::max<std::int64_t>(0, one.called_until_ms() - now_ms) /
                                   second_ms);
        table.row({std::to_string(++place), one.transmitter(),
                   one.has_channel() ? day::channel_text(one.channel()) : "-",
                   ago_text(now_ms - one.since_ms()), what});
    }
    return all + table.text(look);
}

std::string groups_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look) {
    std::map<std::uint32_t, std::vector<const v1::BoardRow*>> groups;
    for (const auto& r : board.rows())
        if (r.has_channel() && !r.is_sighting()) groups[r.group()].push_back(&r);
    if (groups.empty() || (groups.size() == 1 && groups.contains(0)))
        return "Nobody holds a channel in a flight group: claim with --group, or plan one: rota.\n";
    std::string all;
    for (const auto& [number, rows] : groups) {
        const auto title =
            number == 0 ? std::string("With every group") : fmt::format("Group {}", number);
        all +=
            heading(title + (number != 0 && number == board.flying_group() ? ", flies" : ""), look);
        Table table({{"who"}, {"channel"}, {"power"}, {"stage"}});
        for (const auto* r : rows)
            table.row({r->transmitter(), day::channel_text(r->channel()),
                       day::power_text(r->power_dbm()), stage_text(*r, now_ms)});
        all += table.text(look) + "\n";
    }
    if (board.flying_group() == 0) all += "No group is called: whoever likes may ask.\n";
    return all;
}

std::string group_text(const v1::GroupReply& reply, std::int64_t now_ms, const Look& look) {
    std::string all = reply.group() == 0
                          ? std::string("No group is called: whoever likes may ask.\n")
                          : fmt::format("Group {} is called.\n", reply.group());
    for (const auto& one : reply.off()) all += fmt::format("{} is off.\n", one.transmitter());
    if (!reply.still_on().empty()) {
        all += "\n" + heading("Still on the air", look);
        Table table({{"who"}, {"channel"}, {"for"}});
        for (const auto& one : reply.still_on())
            table.row({one.transmitter(), day::channel_text(one.channel()),
                       ago_text(now_ms - one.since_ms())});
        all += table.text(look);
    }
    if (!reply.next().empty()) {
        all += "\n" + heading("Next", look);
        Table table({{"who"}, {"channel"}, {"power"}, {"what"}});
        for (const auto& one : reply.next())
            table.row({one.transmitter(), day::channel_text(one.channel()),
                       day::power_text(one.power_dbm()), next_text(one)});
        all += table.text(look);
    }
    return all + "\n" + item("", std::string(estimates_text), look);
}

}  // namespace fieldpeg::show
