#include "client/show/harm.h"
#include "client/show/replies.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fieldpeg::show {
namespace {

std::string answer_text(const v1::RelayCheckReply& reply) {
    switch (reply.answer()) {
        case v1::RelayCheckReply::fits:
            return "fits";
        case v1::RelayCheckReply::too_weak:
            return "too weak for its owner";
        case v1::RelayCheckReply::too_strong:
            return reply.ref().limited_by().kind() == v1::PowerWindow::too_close
                       ? "too strong for its own goggles"
                       : "too strong for a neighbour";
        default:
            return "no power suits both its owner and the neighbours";
    }
}

/// Whose flight decides it.
std::string as_it_flies(const v1::RelayCheckReply& reply) {
    return reply.has_group() ? fmt::format(" (as group {} flies)", reply.group()) : "";
}

std::string limit_text(const v1::PowerWindow& w) {
    if (!w.has_limited_by()) return "";
    if (w.limited_by().kind() == v1::PowerWindow::range_end) return "nobody suffers up to here";
    if (w.limited_by().kind() == v1::PowerWindow::control)
        return fmt::format("control of {}'s aircraft", w.limited_by().owner());
    return fmt::format("{}, through {}",
                       day::receiver_text(w.limited_by().owner(), w.limited_by().relay(),
                                          w.limited_by().receiver()),
                       day::through_text(w.limited_by().kind()));
}

std::string power(bool has, double power_dbm) {
    return has ? fmt::format("{} ({:.1f} dBm)", day::power_text(power_dbm), power_dbm) : "none";
}

std::string windows_table(const v1::RelayCheckReply& reply, const Look& look) {
    Table table(
        {{""}, {"its owner needs"}, {"neighbours can take"}, {"first to suffer above that"}});
    const auto row = [&](const char* name, const v1::PowerWindow& w) {
        table.row({name, power(w.has_floor_dbm(), w.floor_dbm()),
                   power(w.has_ceiling_dbm(), w.ceiling_dbm()), limit_text(w)});
    };
    row("usual", reply.ref());
    row("worst", reply.worst());
    return table.text(look);
}

/// A scale of powers, one mark a dB, with the window filled in and the asked power marked.
std::string scale(const v1::RelayCheckReply& reply) {
    constexpr int low = -10, high = 36;
    const auto& w = reply.ref();
    if (!w.has_ceiling_dbm() || (!w.has_floor_dbm() && !w.reason().empty())) return "";
    const double floor = w.has_floor_dbm() ? w.floor_dbm() : low;
    const int asked =
        static_cast<int>(std::lround(std::clamp<double>(reply.asked_dbm(), low, high)));
    std::string bar;
    for (int p = low; p <= high; ++p)
        bar +=
            floor <= w.ceiling_dbm() && p + 0.5 >= floor && p - 0.5 <= w.ceiling_dbm() ? '=' : '.';
    return fmt::format("  {} dBm [{}] {} dBm   (= window, ^ asked)\n           {}^\n", low, bar,
                       high, std::string(static_cast<std::size_t>(asked - low), ' '));
}

}  // namespace

std::string relay_check_text(const v1::RelayCheckReply& reply, const Look& look) {
    std::string all =
        fmt::format("{} of {} on {} at {}: {}\n\n", reply.relay(), reply.owner(),
                    day::channel_text(reply.channel()), day::power_text(reply.asked_dbm()),
                    answer_text(reply) + as_it_flies(reply));
    all += windows_table(reply, look) + scale(reply);
    if (!reply.ref().reason().empty()) all += item("  ", reply.ref().reason(), look);
    const auto section = [&](std::string_view title, const std::string& text) {
        if (!text.empty()) all += "\n" + heading(title, look) + text;
    };
    if (!reply.harmed().empty()) {
        Table table({{"  who"},
                     {"before dB", Table::Align::right},
                     {"after dB", Table::Align::right},
                     {"verdict"},
                     {"through"}});
        for (const auto& h : reply.harmed())
            table.row({"  " + day::receiver_text(h.pilot(), h.relay(), h.receiver()),
                       db_text(h.margin_before_db()), db_text(h.margin_after_db()),
                       fmt::format("{} -> {}", verdict_text(h.before(), {}),
                                   verdict_text(h.after(), look)),
                       h.after() == v1::Verdict::control_at_risk ? h.through()
                                                                 : day::through_text(h.kind())});
        section("Who would suffer", table.text(look));
    }
    all += links_lost_text(reply.links_lost(), look);
    std::string advice, cautions, assumed;
    for (const auto& a : reply.advice()) advice += item("  - ", a.text(), look);
    for (const auto& c : reply.cautions()) cautions += item("  ! ", c, look);
    for (const auto& a : reply.assumed()) assumed += item("  ", a, look);
    section("What would help", advice);
    section("Remarks", remarks_text(reply.remarks(), look));
    section("Cautions", cautions);
    section("Assumed", assumed);
    section("Radio exposure",
            item("  ",
                 fmt::format("{} e.i.r.p.: keep at least {:.1f} m from the antenna's beam "
                             "(general-public reference level, ICNIRP 2020; national limits rule)",
                             day::power_text(reply.eirp_dbm()),
                             std::ceil(reply.keep_away_m() * 10 - 1e-6) / 10),
                 look));
    section("To call out", item("  ", reply.sentence(), look));
    all += "\n" + item("", std::string(estimates_text), look);
    return all;
}

}  // namespace fieldpeg::show
