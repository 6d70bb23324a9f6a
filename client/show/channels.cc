#include "client/show/replies.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::show {
namespace {

constexpr int hits_shown = 20;
constexpr int distances_shown = 10;

std::string rows_text(const v1::ChannelsReply& reply, const Look& look) {
    Table table({{"row"}, {"MHz, channels 1 to 8"}, {"what"}});
    for (const auto& row : reply.rows()) {
        std::vector<std::string> mhz;
        for (const auto& channel : row.channels()) mhz.push_back(day::mhz_text(channel.mhz()));
        table.row({row.name().empty() ? "-" : row.name(), fmt::format("{}", fmt::join(mhz, " ")),
                   row.title()});
    }
    return table.text(look) +
           "A row without a letter is called by its MHz. Common practice, no published source.\n";
}

std::string distances_text(const v1::ChannelsReply& reply, const Look& look) {
    Table table({{"  channels"}, {"apart", Table::Align::right}});
    for (int i = 0; i < std::min(reply.distances_size(), distances_shown); ++i) {
        const auto& d = reply.distances(i);
        table.row({fmt::format("  {} and {}", d.a(), d.b()),
                   fmt::format("{} MHz", day::mhz_text(d.mhz()))});
    }
    std::string all = table.text(look);
    if (reply.distances_size() > distances_shown)
        all +=
            fmt::format("  and {} pairs farther apart\n", reply.distances_size() - distances_shown);
    return all;
}

/// A third-order product is made of two or of three.
std::string made_text(const v1::ChannelHit& h) {
    if (h.from_size() == 2) return fmt::format("2 x {} - {}", h.from(0), h.from(1));
    if (h.from_size() == 3) return fmt::format("{} + {} - {}", h.from(0), h.from(1), h.from(2));
    return fmt::format("{}", fmt::join(h.from(), ", "));
}

std::string hits_text(const v1::ChannelsReply& reply, const Look& look) {
    if (reply.hits().empty()) return "  no third-order product within reach of a channel\n";
    Table table({{"  product"},
                 {"MHz", Table::Align::right},
                 {"falls on"},
                 {"off by", Table::Align::right}});
    for (int i = 0; i < std::min(reply.hits_size(), hits_shown); ++i) {
        const auto& h = reply.hits(i);
        table.row({"  " + made_text(h), day::mhz_text(h.product_mhz()), h.on(),
                   fmt::format("{} MHz", day::mhz_text(h.offset_mhz()))});
    }
    std::string all = table.text(look);
    const int all_hits = static_cast<int>(reply.hits_within_reach());
    if (all_hits > hits_shown)
        all += fmt::format("  and {} more, no nearer\n", all_hits - hits_shown);
    return all;
}

}  // namespace

std::string channels_text(const v1::ChannelsReply& reply, const Look& look) {
    if (reply.channels().empty()) return rows_text(reply, look);
    std::vector<std::string> names;
    for (const auto& channel : reply.channels()) names.push_back(day::channel_text(channel));
    std::string all = item("", fmt::format("{}", fmt::join(names, ", ")), look);
    if (reply.channels_size() > 1)
        all += "\n" + heading("Nearest to each other", look) + distances_text(reply, look);
    if (reply.channels_size() > 1)
        all += "\n" + heading("Third-order products on the set", look) + hits_text(reply, look) +
               fmt::format("  exactly on a channel: {} of two signals, {} of three\n",
                           reply.exact_two_signal(), reply.exact_three_signal());
    if (!reply.remarks().empty())
        all += "\n" + heading("Services to keep clear of (analogue video's width)", look) +
               remarks_text(reply.remarks(), look);
    return all;
}

}  // namespace fieldpeg::show
