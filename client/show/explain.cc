#include "client/show/replies.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::show {
namespace {

std::string optional_level(bool has, double value, std::string_view unit) {
    return has ? fmt::format("{:.1f} {}", value, unit) : "-";
}

std::string budget_table(const v1::ReceiverExplained& e, const Look& look) {
    const auto &ref = e.ref(), &worst = e.worst();
    Table table({{"  budget"},
                 {"usual", Table::Align::right},
                 {"closest", Table::Align::right},
                 {"what it is"}});
    const auto level = [](double value) { return fmt::format("{:.1f} dBm", value); };
    const auto ratio = [](double value) { return db_text(value) + " dB"; };
    const auto row = [&](std::string name, std::string a, std::string b, std::string what) {
        table.row({"  " + name, std::move(a), std::move(b), std::move(what)});
    };
    row("sent", level(e.sent_dbm()), level(e.sent_dbm()),
        fmt::format("{} at {}", e.hears(), day::power_text(e.sent_dbm())));
    row("way", ratio(e.link_gain_db()),
        ratio(e.link_gain_db() + worst.wanted_dbm() - ref.wanted_dbm()),
        "all between the two; exceeded in 98 % of the flight, in 80 % as others pass closest");
    row("wanted", level(ref.wanted_dbm()), level(worst.wanted_dbm()), "C");
    row("noise", level(ref.noise_dbm()), level(worst.noise_dbm()), "N");
    const auto shown = ref.contributions_size();
    row("interference", optional_level(ref.has_interference_dbm(), ref.interference_dbm(), "dBm"),
        optional_level(worst.has_interference_dbm(), worst.interference_dbm(), "dBm"),
        fmt::format("I, the strongest {} of its terms below", shown));
    row("front end", optional_level(ref.has_blocker_dbm(), ref.blocker_dbm(), "dBm"),
        optional_level(worst.has_blocker_dbm(), worst.blocker_dbm(), "dBm"),
        "everything unwanted that gets in");
    row("desensitised", fmt::format("{:.1f} dB", ref.desensitisation_db()),
        fmt::format("{:.1f} dB", worst.desensitisation_db()), "by that, taken off");
    row("C/(N+I)", ratio(ref.cni_db()), ratio(worst.cni_db()),
        fmt::format("{:.0f} dB is watchable, {:.0f} dB sharp", e.required_watchable_db(),
                    e.required_sharp_db()));
    return table.text(look);
}

std::string margins_table(const v1::ReceiverExplained& e, const Look& look) {
    const auto &ref = e.ref(), &worst = e.worst();
    Table table({{"  margins"},
                 {"usual", Table::Align::right},
                 {"closest", Table::Align::right},
                 {"the lesser of these is the margin"}});
    const auto ratio = [](double value) { return db_text(value) + " dB"; };
    const auto row = [&](std::string name, std::string a, std::string b, std::string what) {
        table.row({"  " + name, std::move(a), std::move(b), std::move(what)});
    };
    row("noise and interference", ratio(ref.noise_and_interference_margin_db()),
        ratio(worst.noise_and_interference_margin_db()), "for a watchable picture");
    row("own transmitter", ratio(ref.own_too_strong_margin_db()),
        ratio(worst.own_too_strong_margin_db()), "before it is too strong for its receiver");
    row("margin", ratio(ref.margin_db()), ratio(worst.margin_db()),
        fmt::format("nobody else on the air: {} dB", db_text(e.alone_margin_db())));
    row("margin, sharp", ratio(ref.sharp_margin_db()), ratio(worst.sharp_margin_db()),
        "for a sharp one in 80 % of the flight");
    return table.text(look);
}

std::string terms_table(const v1::ReceiverExplained& e, const Look& look) {
    const bool is_tight = e.result().verdict() == v1::Verdict::tight;
    Table table({{"  level dBm", Table::Align::right},
                 {is_tight ? "passing close" : "mechanism"},
                 {"of"},
                 {"MHz"},
                 {"falls at", Table::Align::right}});
    for (const auto& c : (is_tight ? e.worst() : e.ref()).contributions()) {
        std::vector<std::string> mhz;
        for (const double f : c.from_mhz()) mhz.push_back(day::mhz_text(f));
        table.row({fmt::format("{:.1f}", c.level_dbm()), kind_text(c.kind()), makers_text(c),
                   fmt::format("{}", fmt::join(mhz, ", ")),
                   c.has_product_mhz() ? day::mhz_text(c.product_mhz()) : "-"});
    }
    return table.empty() ? "  nobody disturbs it\n" : table.text(look);
}

std::string receiver_text(const v1::ReceiverExplained& e, const Look& look) {
    const auto& r = e.result();
    std::string all =
        heading(fmt::format("{}{} hears {}{}", r.relay().empty() ? "" : r.relay() + ", ",
                            r.receiver(), e.hears(),
                            r.has_channel_mhz() ? fmt::format(" on {} ({} MHz)", r.channel(),
                                                              day::mhz_text(r.channel_mhz()))
                                                : ""),
                look);
    all += fmt::format("  {}: {}\n", verdict_text(r.verdict(), look), r.reason());
    if (!e.has_ref()) return all;
    all += fmt::format("  picture in {} of the flight, a sharp one in {}\n", flight_text(r),
                       day::share_text(r.share_sharp()));
    all +=
        "\n" + budget_table(e, look) + "\n" + margins_table(e, look) + "\n" + terms_table(e, look);
    if (!e.fifth_order().empty())
        all += "\n  Fifth-order products near the channel, not counted:\n";
    for (const auto& f : e.fifth_order())
        if (f.from_size() == 2)
            all += fmt::format("    3 x {} - 2 x {} = {} MHz, {} MHz away\n", f.from(0), f.from(1),
                               day::mhz_text(f.product_mhz()), day::mhz_text(f.offset_mhz()));
    return all;
}

}  // namespace

std::string explain_text(const v1::ExplainReply& reply, const Look& look) {
    const auto& p = reply.pilot();
    std::string all = fmt::format("{}: {}", p.pilot(), verdict_text(p.verdict(), look));
    if (p.has_share())
        all += fmt::format(", picture {}, in {} of the flight", picture_text(p.picture()),
                           flight_text(p));
    if (p.has_margin_ref_db())
        all += fmt::format(", margin {} dB, worst {} dB", db_text(p.margin_ref_db()),
                           db_text(p.margin_worst_db()));
    all += "\n" +
           item("",
                fmt::format("Counting {}. 'usual': what the others bring is stronger only 15 % of "
                            "the time; 'closest': as they pass as near as they come.",
                            basis_text(reply.basis())),
                look);
    if (!reply.later().empty()) {
        all += "\n" + heading("Found out later", look);
        for (const auto& text : reply.later()) all += item("  - ", text, look);
    }
    if (!reply.recomputed().empty()) all += item("", "Mind: " + reply.recomputed() + ".", look);
    for (const auto& e : reply.receivers()) all += "\n" + receiver_text(e, look);
    const auto section = [&](std::string_view title, const std::string& text) {
        if (!text.empty()) all += "\n" + heading(title, look) + text;
    };
    std::string defaults, assumptions, cautions;
    for (const auto& d : reply.defaults()) defaults += item("  ", d, look);
    for (const auto& a : reply.assumptions())
        assumptions += item("  ",
                            fmt::format("{} {}: {}{}", a.gear(), a.key(), a.source(),
                                        a.range().empty() ? "" : "; " + a.range()),
                            look);
    for (const auto& c : reply.cautions()) cautions += item("  ! ", c, look);
    section("Defaults used", defaults);
    section("Values nobody measured (assumed)", assumptions);
    section("Remarks", remarks_text(reply.remarks(), look));
    section("Cautions", cautions);
    all += "\n" + item("", std::string(estimates_text), look);
    return all;
}

}  // namespace fieldpeg::show
