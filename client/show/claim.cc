#include "client/show/day.h"
#include "client/show/harm.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace fieldpeg::show {
namespace {

std::string where_text(const v1::Channel& channel, double power_dbm) {
    return fmt::format("{} at {}", day::channel_text(channel), day::power_text(power_dbm));
}

std::string own_text(const v1::PilotResult& own, const std::string& reason, const Look& look) {
    if (own.verdict() == v1::Verdict::control_at_risk)
        return item("! ", fmt::format("{}: {}", own.pilot(), own.reason()), look);
    if (!own.has_margin_ref_db())
        return item("! ",
                    fmt::format("{}: no picture: {}", own.pilot(),
                                own.reason().empty() ? "nothing is heard by the own receivers there"
                                                     : own.reason()),
                    look);
    auto text = fmt::format("{}: {}, {} dB, {} dB at worst, picture {}", own.pilot(),
                            verdict_text(own.verdict(), look), db_text(own.margin_ref_db()),
                            db_text(own.margin_worst_db()), picture_text(own.picture()));
    if (!reason.empty()) text += fmt::format(" ({})", reason);
    return item("", text, look);
}

std::string alternatives_text(const v1::ClaimReply& reply, const Look& look) {
    if (reply.alternatives().empty())
        return "No other channel or power was found that harms nobody: ask the marshal, or fly in "
               "another group.\n";
    Table table({{"channel"},
                 {"power"},
                 {"margin", Table::Align::right},
                 {"worst", Table::Align::right},
                 {"verdict"},
                 {"worst of the others", Table::Align::right}});
    for (const auto& a : reply.alternatives()) {
        const bool is_seen = a.verdict() != v1::Verdict::no_picture;
        table.row({day::channel_text(a.channel()), day::power_text(a.power_dbm()),
                   is_seen ? db_text(a.margin_ref_db()) : "-",
                   is_seen ? db_text(a.margin_worst_db()) : "-", verdict_text(a.verdict(), look),
                   a.has_least_other_db() ? db_text(a.least_other_db()) : "-"});
    }
    return table.text(look);
}

}  // namespace

std::string claim_text(const v1::ClaimReply& reply, const Look& look) {
    std::string all;
    if (reply.claimed())
        all += fmt::format(
            "{} holds {}{}.\n", reply.transmitter(), where_text(reply.channel(), reply.power_dbm()),
            reply.group() != 0 ? fmt::format(" in flight group {}", reply.group()) : "");
    else if (!reply.has_refusal())
        all += fmt::format("{} could have {}; nothing was changed.\n", reply.transmitter(),
                           where_text(reply.channel(), reply.power_dbm()));
    if (!reply.not_before().empty())
        all += item("! ",
                    fmt::format("not before {} {} landed", fmt::join(reply.not_before(), ", "),
                                reply.not_before_size() == 1 ? "has" : "have"),
                    look);
    all += own_text(reply.own(), reply.reason(), look);
    if (!reply.harms().empty())
        all += "\n" + heading("Who would suffer", look) + harms_text(reply.harms(), look);
    all += links_lost_text(reply.links_lost(), look);
    if (reply.has_refusal())
        all += "\n" + heading("Nearest good alternatives", look) + alternatives_text(reply, look);
    const auto remarks = remarks_text(reply.remarks(), look);
    if (!remarks.empty()) all += "\n" + heading("Remarks of the rule set", look) + remarks;
    if (reply.claimed())
        all += "\nHolding a channel is not switching on: ask with 'fieldpeg on'.\n";
    return all + item("", std::string(estimates_text), look);
}

std::string switch_text(const v1::SwitchReply& reply, std::int64_t now_ms, const Look& look) {
    const auto where = where_text(reply.channel(), reply.power_dbm());
    std::string all;
    switch (reply.answer()) {
        case v1::SwitchReply::switch_on:
            // In steps one has looked by now.
            if (reply.stage() != v1::Claim::told_on)
                all += item("", fmt::format("First {}", reply.look()), look);
            all += heading(fmt::format("Switch on: {}, {}", reply.transmitter(), where), look);
            all += fmt::format(
                "Good for {} s from now; later say off and ask again.\n",
                std::max<std::int64_t>(0, (reply.valid_until_ms() - now_ms + 500) / 1000));
            if (reply.stage() == v1::Claim::told_on)
                all += "From now on it counts as on the air for everybody else.\n";
            break;
        case v1::SwitchReply::wait:
            all += heading("Wait, do not switch on", look);
            break;
        case v1::SwitchReply::ask_marshal:
            all += heading("Ask the marshal, do not switch on", look);
            break;
        case v1::SwitchReply::in_line:
            all += heading(fmt::format("Do not switch on yet: {} has place {} in the line",
                                       reply.transmitter(), reply.place()),
                           look);
            if (!reply.wait_for().empty())
                all += fmt::format("Wait for {}.\n", fmt::join(reply.wait_for(), ", "));
            all += item("",
                        "Called by name when it is free: on the board, by 'watch', and across the "
                        "field. Then ask again with 'fieldpeg on' within a minute.",
                        look);
            break;
        case v1::SwitchReply::confirmed:
            all += fmt::format("{} is on {}.\n", reply.transmitter(), where);
            break;
        case v1::SwitchReply::taken_back:
            all += fmt::format("Noted: {} was not switched on. {} stays held.\n",
                               reply.transmitter(), day::channel_text(reply.channel()));
            break;
        case v1::SwitchReply::switched_off:
            all += reply.stage() == v1::Claim::down
                       ? fmt::format(
                             "{} is down on {}, perhaps still radiating: the channel stays "
                             "theirs, and counts in every group.\n",
                             reply.transmitter(), day::channel_text(reply.channel()))
                       : fmt::format("{} is off {}.\n", reply.transmitter(), where);
            break;
        case v1::SwitchReply::noted:
            all += fmt::format("Noted: {} is on {}, unasked. It counts in every calculation.\n",
                               reply.transmitter(), where);
            if (reply.has_power_limit_dbm())
                all += fmt::format("That is above the club's limit of {}.\n",
                                   day::power_text(reply.power_limit_dbm()));
            if (reply.has_held())
                all += fmt::format("What it held, {}, is free.\n", day::channel_text(reply.held()));
            break;
        default:
            break;
    }
    if (reply.has_own()) all += own_text(reply.own(), "", look);
    if (!reply.harms().empty())
        all += "\n" + heading("Who is on the air and would suffer", look) +
               harms_text(reply.harms(), look);
    all += links_lost_text(reply.links_lost(), look);
    if (!reply.harms_held().empty())
        all += "\n" + heading("Who holds a channel and would suffer once on the air", look) +
               harms_text(reply.harms_held(), look);
    return all;
}

std::string assign_text(const v1::AssignReply& reply, const Look& look) {
    std::string all;
    if (reply.assigned() && reply.changed().empty())
        all += "Everybody holds that already; nothing was changed.\n";
    else if (reply.assigned())
        all += fmt::format("{} given out. Each of them is on the call-out list until told.\n",
                           reply.changed_size() == 1
                               ? "One channel was"
                               : fmt::format("{} channels were", reply.changed_size()));
    else if (!reply.has_refusal())
        all += "It could be given out like this; nothing was changed.\n";
    for (const auto& one : reply.changed())
        all += fmt::format("  {}: {}{}\n", one.transmitter(),
                           where_text(one.channel(), one.power_dbm()),
                           one.group() != 0 ? fmt::format(", flight group {}", one.group()) : "");
    if (!reply.harms().empty())
        all += "\n" + heading("Who would suffer", look) + harms_text(reply.harms(), look);
    all += links_lost_text(reply.links_lost(), look);
    for (const auto& own : reply.in_trouble()) all += own_text(own, "", look);
    return all;
}

std::string sweep_text(const v1::SweepReply& reply, const Look& look) {
    std::string all =
        heading(fmt::format("Measured from {} to {} MHz", day::mhz_text(reply.low_mhz()),
                            day::mhz_text(reply.high_mhz())),
                look);
    Table table({{"MHz", Table::Align::right},
                 {"from"},
                 {"to"},
                 {"dBm", Table::Align::right},
                 {"held by"}});
    constexpr int shown_max = 20;
    for (int i = 0; i < std::min(shown_max, reply.humps_size()); ++i) {
        const auto& h = reply.humps(i);
        table.row({fmt::format("{:.1f}", h.centre_mhz()), fmt::format("{:.1f}", h.low_mhz()),
                   fmt::format("{:.1f}", h.high_mhz()), fmt::format("{:.0f}", h.level_dbm()),
                   h.claimed_by().empty() ? "nobody"
                                          : fmt::format("{}", fmt::join(h.claimed_by(), ", "))});
    }
    all += table.empty() ? "Nothing stands out of the noise.\n" : table.text(look);
    if (reply.humps_size() > shown_max)
        all += fmt::format("and {} weaker ones\n", reply.humps_size() - shown_max);
    all +=
        "\n" + item("",
                    fmt::format("Noise floor {:.1f} dBm in 1 MHz{}.", reply.floor_dbm_per_mhz(),
                                reply.has_assumed_dbm_per_mhz()
                                    ? fmt::format("; assumed {:.1f}", reply.assumed_dbm_per_mhz())
                                    : "; no receiver of the day listens there"),
                    look);
    for (const auto& text : reply.said()) all += item("! ", text, look);
    if (!reply.entered()) return all + "Nothing was entered.\n";
    return all + (reply.floor_used() ? "It is on the log, and its noise floor counts from now on.\n"
                                     : "It is on the log, and in the pictures of the spectrum.\n");
}

std::string reply_text(const v1::Reply& reply, std::int64_t now_ms, const Look& look) {
    if (reply.has_claim()) return claim_text(reply.claim(), look);
    if (reply.has_assigned()) return assign_text(reply.assigned(), look);
    if (reply.has_switched()) return switch_text(reply.switched(), now_ms, look);
    if (reply.has_swept()) return sweep_text(reply.swept(), look);
    if (reply.has_take()) return take_text(reply.take(), look);
    if (reply.has_group()) return group_text(reply.group(), now_ms, look);
    return reply.done().text();
}

}  // namespace fieldpeg::show
