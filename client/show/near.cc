#include "client/show/day.h"
#include "client/show/table.h"
#include "client/show/times.h"
#include "server/day/sentences.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <string>

namespace fieldpeg::show {
namespace {

constexpr int terms_shown = 6;

std::string radiating_text(const v1::NearReply& reply, const Look& look) {
    Table table(
        {{"who"}, {"channel"}, {"off by", Table::Align::right}, {"power"}, {"since"}, {"how"}});
    for (const auto& r : reply.radiating()) {
        std::string how(day::stage_name(r.stage()));
        if (r.unasked()) how += ", unasked";
        if (r.known_later()) how += "; found out only later, perhaps on then";
        table.row({r.transmitter(), day::channel_text(r.channel()),
                   fmt::format("{:+.0f} MHz", r.offset_mhz()), day::power_text(r.power_dbm()),
                   r.since_ms() > 0 ? clock_text(r.since_ms()) : "-", how});
    }
    return reply.radiating().empty() ? "Nobody, as far as anybody said.\n" : table.text(look);
}

std::string standing_text(const v1::ReceiverResult& r, const Look& look) {
    return fmt::format("{}, margin {} dB, {} dB at worst; {}", verdict_text(r.verdict(), look),
                       db_text(r.margin_ref_db()), db_text(r.margin_worst_db()), r.reason());
}

std::string terms_text(const v1::ReceiverResult& r, const Look& look) {
    std::string all;
    int shown = 0;
    for (const auto& c : r.contributions()) {
        if (++shown > terms_shown) break;
        all += item("      ", contribution_text(c), look);
    }
    for (const auto& b : r.blockers())
        if (++shown <= terms_shown + 2)
            all +=
                item("      ",
                     fmt::format("{:.1f} dBm at its front end: {}", b.level_dbm(), b.from()), look);
    return all.empty() ? "      nobody disturbs it\n" : all;
}

std::string receiver_text(const v1::NearReceiver& near, const Look& look) {
    const bool was_known = near.has_then();
    const auto& r = was_known ? near.then() : near.now();
    auto all = item("  ",
                    fmt::format("{}, {} on {} MHz (noise {:.1f} dBm)", r.owner(),
                                day::receiver_text(r.relay(), r.receiver()),
                                day::mhz_text(r.channel_mhz()), r.noise_dbm()),
                    look);
    if (was_known)
        all += item("    known then: ", standing_text(near.then(), look), look) +
               terms_text(near.then(), look);
    if (near.has_now())
        all += item("    believed now: ", standing_text(near.now(), look), look) +
               terms_text(near.now(), look);
    return all;
}

}  // namespace

std::string near_text(const v1::NearReply& reply, const Look& look) {
    auto all =
        heading(fmt::format("Near {} MHz at {}, entry {} of the log", day::mhz_text(reply.mhz()),
                            clock_text(reply.at_ms()), reply.version()),
                look);
    all += "\n" + heading("What radiated, nearest first", look) + radiating_text(reply, look);
    all += "\n" + heading(fmt::format("Receivers within {:g} MHz, the worst off first",
                                      reply.within_mhz()),
                          look);
    if (reply.receivers().empty())
        all += "None that heard anything: nobody's picture was near there.\n";
    for (const auto& near : reply.receivers()) all += receiver_text(near, look);
    if (!reply.later().empty()) {
        all += "\n" + heading("Said later, and counted in what is believed now", look);
        for (const auto& fact : reply.later())
            all += item(
                "  ",
                fmt::format("{} {} (#{})", clock_text(fact.at_ms()), fact.text(), fact.version()),
                look);
    }
    all += "\n";
    for (const auto& c : reply.cautions()) all += item("", c, look);
    return all;
}

}  // namespace fieldpeg::show
