#include "client/show/plan.h"

#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace fieldpeg::show {
namespace {

using Choices = google::protobuf::RepeatedPtrField<v1::PlanChoice>;

/// Below this two margins are one [ours: how near planner and bound are told apart].
constexpr double same_db = 0.02;

std::string channel_of(const v1::PlanChoice& c) {
    const auto mhz = day::mhz_text(c.channel_mhz());
    return c.channel() == mhz ? mhz + " MHz" : fmt::format("{} ({} MHz)", c.channel(), mhz);
}

std::string change_text(const v1::PlanChoice& c) {
    if (c.stays()) return "stays";
    std::vector<std::string> from;
    if (c.has_held()) from.push_back(day::channel_text(c.held()));
    if (c.has_held_dbm()) from.push_back(day::power_text(c.held_dbm()));
    return from.empty() ? "" : fmt::format("instead of {}", fmt::join(from, " at "));
}

std::string choices_table(const Choices& choices, const Look& look) {
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

/// The worst margin and how good that is.
template <class Reply>
std::string proof_text(const Reply& reply, bool proved) {
    if (!reply.has_worst_margin_db())
        return "Nobody planned for has a good flight even with nobody else on the air: there is no "
               "worst margin.";
    const double worst_db = reply.worst_margin_db(), bound_db = reply.bound_db();
    if (proved || bound_db - worst_db < same_db)
        return fmt::format("Worst margin {} dB; no plan is better, proved.", db_text(worst_db));
    if (bound_db > worst_db + 60)
        return fmt::format("Worst margin {} dB; how much better it could be is not known.",
                           db_text(worst_db));
    return fmt::format("Worst margin {} dB; a plan up to {:.{}f} dB better may exist.",
                       db_text(worst_db), bound_db - worst_db, bound_db - worst_db < 0.1 ? 2 : 1);
}

/// Whose control of an aircraft is at risk: before every picture.
template <class Reply>
std::string control_text(const Reply& reply, const Look& look) {
    if (reply.control().empty()) return "";
    auto all = heading("Control at risk", look);
    for (const auto& text : reply.control()) all += item("! ", text, look);
    return all + "\n";
}

template <class Reply>
std::string foot_text(const Reply& reply, const Look& look) {
    std::string all;
    const auto remarks = remarks_text(reply.remarks(), look);
    if (!remarks.empty())
        all += "\n" + heading("Remarks of the rule set and of services to keep clear of", look) +
               remarks;
    for (const auto& text : reply.said()) all += item("  ! ", text, look);
    return all + "\n" + item("", std::string(estimates_text), look);
}

}  // namespace

std::string plan_text(const v1::PlanReply& reply, const Look& look) {
    auto all = control_text(reply, look) + heading("The plan", look) +
               choices_table(reply.choices(), look) + "\n";
    all += item("", proof_text(reply, reply.proved()), look);
    if (reply.has_moves())
        all += item("",
                    reply.moves() == 0
                        ? "Nobody who holds a channel moves."
                        : fmt::format("{} of those who hold a channel {}; {}.", reply.moves(),
                                      reply.moves() == 1 ? "moves" : "move",
                                      reply.moves_proved() ? "fewer will not do, proved"
                                                           : "fewer may do, it is not proved"),
                    look);
    if (!reply.reached())
        all += item("! ",
                    fmt::format("Not everybody reaches {} dB: {}.", db_text(reply.margin_db()),
                                reply.obstacle()),
                    look);
    for (const auto& advice : reply.advice())
        all += item("  ",
                    fmt::format("{}: the worst margin would be {} dB or better", advice.text(),
                                db_text(advice.worst_margin_db())),
                    look);
    return all + foot_text(reply, look);
}

std::string rota_text(const v1::RotaReply& reply, const Look& look) {
    auto all = control_text(reply, look);
    int turn = 0;
    for (const auto& group : reply.groups()) {
        all += heading(fmt::format("{}. flight group {}", ++turn, group.group()), look);
        if (!group.changeover().empty())
            all += item(group.unplugged().empty() ? "  " : "! ", group.changeover(), look);
        all += choices_table(group.choices(), look) + "\n";
    }
    const auto groups = reply.groups_size();
    all += item("",
                reply.groups_proved()
                    ? fmt::format("{} flight {}: fewer will not do, proved.", groups,
                                  groups == 1 ? "group" : "groups")
                    : fmt::format("{} flight groups; fewer than {} will not do, whether {} would "
                                  "is not known.",
                                  groups, reply.groups_at_least(), groups - 1),
                look);
    all += item("", proof_text(reply, false), look);
    return all + foot_text(reply, look);
}

std::string room_text(const v1::RoomReply& reply, const Look& look) {
    std::vector<std::string> names;
    for (const auto& channel : reply.channels()) names.push_back(day::channel_text(channel));
    auto all = item("",
                    fmt::format("Room for {} more like {} with everybody at {} dB or better{}.",
                                reply.more(), reply.like(), db_text(reply.margin_db()),
                                reply.proved() ? "; one more does not fit, proved"
                                               : "; whether more fit is not known"),
                    look);
    if (!names.empty())
        all += item("",
                    fmt::format("Channels for the first of them that keep the room for the "
                                "others: {}.",
                                fmt::join(names, ", ")),
                    look);
    for (const auto& text : reply.said()) all += item("  ! ", text, look);
    return all + "\n" + item("", std::string(estimates_text), look);
}

std::string rota_csv(const v1::RotaReply& reply) {
    std::string all =
        "turn,group,owner,transmitter,channel,channel_mhz,power_dbm,margin_db,verdict,"
        "unplugged\r\n";
    int turn = 0;
    for (const auto& group : reply.groups()) {
        ++turn;
        for (const auto& c : group.choices()) {
            const bool waits =
                std::ranges::find(group.unplugged(), c.transmitter()) != group.unplugged().end();
            all += fmt::format(
                "{},{},{},{},{},{},{:.1f},{},{},{}\r\n", turn, group.group(), csv_field(c.owner()),
                csv_field(c.transmitter()), csv_field(c.channel()), day::mhz_text(c.channel_mhz()),
                c.power_dbm(), c.has_margin_db() ? fmt::format("{:.1f}", c.margin_db()) : "",
                v1::Verdict::Word_Name(c.verdict()), waits ? "yes" : "no");
        }
    }
    return all;
}

std::string progress_text(const v1::Progress& so_far, std::size_t width) {
    auto text = so_far.doing();
    if (so_far.has_worst_margin_db())
        text += fmt::format(": {} dB", db_text(so_far.worst_margin_db()));
    if (so_far.has_bound_db() && so_far.bound_db() < 100)
        text += fmt::format(", at best {} dB", db_text(so_far.bound_db()));
    text += fmt::format("; {:.0f} s, {:.0f} s left; Ctrl-C: enough", so_far.seconds(),
                        so_far.seconds_left());
    return width == 0 ? text : text.substr(0, width - 1);
}

}  // namespace fieldpeg::show
