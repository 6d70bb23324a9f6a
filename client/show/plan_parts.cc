#include "client/show/plan_parts.h"

#include <fmt/format.h>

#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

std::string channel_of(const v1::PlanChoice& c) {
    const auto mhz = day::mhz_text(c.channel_mhz());
    return c.channel() == mhz ? mhz + " MHz" : fmt::format("{} ({} MHz)", c.channel(), mhz);
}

std::string change_text(const v1::PlanChoice& c) {
    if (c.stays()) return "stays";
    std::vector<std::string> from;
    if (c.has_held()) from.push_back(day::channel_text(c.held()));
    if (c.has_held_dbm()) from.push_back(day::power_text(c.held_dbm()));
    auto text = from.empty() ? "" : fmt::format("instead of {}", fmt::join(from, " at "));
    if (c.has_held_group())
        text += fmt::format("{}was in group {}", text.empty() ? "" : "; ", c.held_group());
    return text;
}

}  // namespace

std::string choices_table(const google::protobuf::RepeatedPtrField<v1::PlanChoice>& choices,
                          const Look& look) {
    Table table({{"transmitter"},
                 {"channel"},
                 {"power"},
                 {"margin dB", Table::Align::right},
                 {"worst dB", Table::Align::right},
                 {"verdict"},
                 {""}});
    for (const auto& c : choices)
        table.row({c.transmitter() == c.owner()
                       ? c.owner()
                       : fmt::format("{} ({}'s relay)", c.transmitter(), c.owner()),
                   channel_of(c), day::power_text(c.power_dbm()),
                   c.has_margin_ref_db() ? db_text(c.margin_ref_db()) : "-",
                   c.has_margin_db() ? db_text(c.margin_db()) : "-",
                   verdict_text(c.verdict(), look), change_text(c)});
    return table.text(look);
}

}  // namespace fieldpeg::show
