#include "client/show/replies.h"
#include "client/show/strip.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <map>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr int terms_shown = 3;

std::string optional_db(bool has, double value) {
    return has ? db_text(value) : "-";
}

std::string channel(const v1::ReceiverResult& r) {
    if (!r.has_channel_mhz()) return "-";
    const auto mhz = day::mhz_text(r.channel_mhz());
    return r.channel() == mhz ? mhz : fmt::format("{} {}", r.channel(), mhz);
}

/// Whose control of an aircraft is at risk, or does not reach: before every picture.
std::string control_text(const v1::CheckReply& reply, const Look& look) {
    std::string all;
    bool at_risk = false;
    for (const auto& p : reply.pilots()) {
        if (!p.has_control() || p.control().reason().empty()) continue;
        all += item("! ", fmt::format("{}: {}", p.pilot(), p.control().reason()), look);
        at_risk |= p.control().word() == v1::Control::at_risk;
    }
    if (all.empty()) return "";
    return heading(at_risk ? "Control at risk" : "Control", look) + all + "\n";
}

/// Whether a verdict holds, in the fewest words.
std::string holds_text(const v1::PilotResult& p) {
    if (!p.has_outlook()) return "-";
    const auto& at = p.outlook();
    if (at.holds()) return "holds";
    std::string text;
    for (const auto word : {at.low(), at.high()})
        if (word != p.picture_verdict())
            text += (text.empty() ? "may be " : " or ") + day::verdict_word(word);
    return text;
}

/// What the verdicts that do not hold rest on, and how to find out: each kind of guess once.
std::string rests_on_text(const v1::CheckReply& reply, const Look& look) {
    std::map<v1::Guess::Kind, std::vector<const v1::PilotResult*>> by_guess;
    for (const auto& p : reply.pilots())
        if (p.has_outlook() && !p.outlook().holds())
            by_guess[p.outlook().would_settle()].push_back(&p);
    std::string all;
    for (const auto& [guess, pilots] : by_guess) {
        const auto& first = *pilots.front();
        std::vector<std::string> others;
        for (const auto* p : pilots)
            if (p != &first) others.push_back(p->pilot());
        all += item(
            "  ",
            fmt::format(
                "{} ({}) rests on {}. To find out: {}{}", first.pilot(),
                day::verdict_word(first.picture_verdict()), first.outlook().rests_on(),
                first.outlook().ask(),
                others.empty() ? "" : fmt::format(" Likewise for {}.", fmt::join(others, ", "))),
            look);
    }
    return all;
}

/// How a day with flight groups was looked at.
std::string groups_text(const v1::CheckReply& reply) {
    if (reply.groups().empty()) return "";
    if (reply.groups_size() == 1) return fmt::format(", as group {} flies", reply.groups(0));
    return fmt::format(
        ", group by group ({}); who has none is shown in the one in which it is worst for them",
        fmt::join(reply.groups(), ", "));
}

/// In short: what fits a terminal, the words and what rules them.
std::string pilots_table(const v1::CheckReply& reply, bool in_short, const Look& look) {
    std::vector<const v1::PilotResult*> pilots;
    for (const auto& p : reply.pilots()) pilots.push_back(&p);
    std::ranges::stable_sort(pilots, {}, [](const auto* p) { return p->group(); });
    struct Shown {
        Table::Column column;
        std::function<std::string(const v1::PilotResult&)> cell;
        bool is_shown = true;
    };
    const std::vector<Shown> all{
        {{"group", Table::Align::right},
         [](const auto& p) { return std::to_string(p.group()); },
         !reply.groups().empty()},
        {{"pilot"}, [](const auto& p) { return p.pilot(); }},
        {{"verdict"}, [&](const auto& p) { return verdict_text(p.verdict(), look); }},
        {{"whatever is guessed"}, [](const auto& p) { return holds_text(p); }, !in_short},
        {{"picture"},
         [](const auto& p) { return p.has_share() ? picture_text(p.picture()) : "-"; },
         !in_short},
        {{in_short ? "flight with a picture" : "flight with it"},
         [](const auto& p) { return flight_text(p); }},
        {{"margin dB", Table::Align::right},
         [](const auto& p) { return optional_db(p.has_margin_ref_db(), p.margin_ref_db()); }},
        {{"worst dB", Table::Align::right},
         [](const auto& p) { return optional_db(p.has_margin_worst_db(), p.margin_worst_db()); },
         !in_short},
        {{"what rules it"}, [](const auto& p) {
             return p.verdict() == v1::Verdict::control_at_risk ? "see above: control" : p.reason();
         }}};
    std::vector<Table::Column> columns;
    for (const auto& one : all)
        if (one.is_shown) columns.push_back(one.column);
    Table table(std::move(columns));
    for (const auto* p : pilots) {
        std::vector<std::string> row;
        for (const auto& one : all)
            if (one.is_shown) row.push_back(one.cell(*p));
        table.row(std::move(row));
    }
    return table.text(look);
}

std::string receivers_table(const v1::CheckReply& reply, const Look& look) {
    Table table({{"pilot"},
                 {"receiver"},
                 {"hears"},
                 {"channel"},
                 {"power"},
                 {"margin", Table::Align::right},
                 {"worst", Table::Align::right},
                 {"verdict"},
                 {"what rules it"}});
    for (const auto& r : reply.receivers())
        table.row({r.owner(), day::receiver_text(r.relay(), r.receiver()),
                   r.hears() == r.owner() ? "video" : r.hears(), channel(r),
                   r.has_sent_dbm() ? day::power_text(r.sent_dbm()) : "-",
                   optional_db(r.has_margin_ref_db(), r.margin_ref_db()),
                   optional_db(r.has_margin_worst_db(), r.margin_worst_db()),
                   verdict_text(r.verdict(), look), r.reason()});
    return table.text(look);
}

/// The largest contributions at every receiver that has any worth a line.
std::string contributions_text(const v1::CheckReply& reply, const Look& look) {
    std::string all;
    for (const auto& r : reply.receivers()) {
        int shown = 0;
        for (const auto& c : r.contributions()) {
            const bool counts = c.level_dbm() > r.noise_dbm() - 20;
            if (!counts || shown == terms_shown) break;
            if (shown == 0)
                all += fmt::format("  {}, {} (noise {:.1f} dBm)\n", r.owner(),
                                   day::receiver_text(r.relay(), r.receiver()), r.noise_dbm());
            all += item("    ", contribution_text(c), look);
            ++shown;
        }
    }
    return all;
}

}  // namespace

std::string doubts_text(const v1::CheckReply& reply, const std::string& transmitter,
                        const Look& look) {
    const auto suffers_from = [&](const v1::ReceiverResult& r, const std::string& pilot) {
        return r.owner() == pilot && !r.contributions().empty() &&
               std::ranges::find(r.contributions(0).from(), transmitter) !=
                   r.contributions(0).from().end();
    };
    std::string all;
    for (const auto& p : reply.pilots()) {
        const bool concerns =
            p.pilot() == transmitter || std::ranges::any_of(reply.receivers(), [&](const auto& r) {
                return suffers_from(r, p.pilot());
            });
        if (!concerns || p.outlook().low() != v1::Verdict::clash ||
            p.picture_verdict() == v1::Verdict::clash)
            continue;
        all +=
            item("! ",
                 fmt::format("{} is {}, and may be in a clash: that rests on {}. To find out: {}",
                             p.pilot(), day::verdict_word(p.picture_verdict()),
                             p.outlook().rests_on(), p.outlook().ask()),
                 look);
    }
    return all;
}

std::string check_text(const v1::CheckReply& reply, const Look& look, bool in_short) {
    if (reply.pilots().empty()) return "Nobody is on this day yet: add a [[pilot]] to the file.\n";
    std::string all =
        item("", fmt::format("Counting {}{}.", basis_text(reply.basis()), groups_text(reply)),
             look) +
        "\n";
    all += control_text(reply, look);
    if (!in_short) all += heading("Pilots", look);
    all += pilots_table(reply, in_short, look);
    if (!in_short) all += "\n" + heading("Receivers", look) + receivers_table(reply, look);
    for (const auto& p : reply.pilots())
        if (std::ranges::find(reply.receivers(), p.pilot(), &v1::ReceiverResult::owner) ==
            reply.receivers().end())
            all += fmt::format("{} has no receiver: add a [[pilot.receiver]]\n", p.pilot());
    const auto section = [&](std::string_view title, const std::string& text) {
        if (!text.empty()) all += "\n" + heading(title, look) + text;
    };
    section("What is guessed, and what would settle it", rests_on_text(reply, look));
    if (!in_short) {
        section("The dial", check_strip(reply, look));
        section("Largest contributions", contributions_text(reply, look));
    }
    std::string bench, reach, cautions;
    for (const auto& b : reply.bench()) bench += item("  ! ", b.text(), look);
    for (const auto& r : reply.too_far())
        reach += item("  ", fmt::format("{}, {}: {}", r.owner(), r.receiver(), r.text()), look);
    for (const auto& c : reply.cautions()) cautions += item("  ! ", c, look);
    section("On the bench: who must step back", bench);
    section("Too far", reach);
    section("Remarks of the rule set and of services to keep clear of",
            remarks_text(reply.remarks(), look));
    section("Cautions", cautions);
    if (in_short)
        all +=
            "\n" +
            item("", "Receivers, the dial, and what arrives: check --all-terms, or explain NAME.",
                 look);
    all += "\n" + item("", std::string(estimates_text), look);
    return all;
}

}  // namespace fieldpeg::show
