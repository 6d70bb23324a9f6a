#include "client/show/plan.h"
#include "client/show/plan_parts.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

/// Why somebody has no rota, and what would help.
std::string why_text(const v1::RotaAside& aside) {
    const auto beside = fmt::format("{}", fmt::join(aside.beside(), ", "));
    const char* is = aside.beside_size() == 1 ? "which is" : "which are";
    switch (aside.why()) {
        case v1::RotaAside::too_close:
            return "even with nobody else in the air the own transmitter is too strong for the "
                   "receiver: less power, or stand farther away";
        case v1::RotaAside::beside_always:
            return fmt::format(
                "the picture would hold alone, but not beside {}, {} on whichever "
                "group flies: another channel or less power there",
                beside, is);
        case v1::RotaAside::harms_always:
            return fmt::format(
                "on every channel it would take a picture from {}, {} on whichever "
                "group flies",
                beside, is);
        default:
            return "even with nobody else in the air the picture does not reach that far: fly "
                   "nearer, a better antenna, or more power";
    }
}

std::string held_text(const v1::Holding& held) {
    const auto where =
        held.group() == 0 ? std::string() : fmt::format(" in group {}", held.group());
    return fmt::format("; {} still holds {}{}, which does not count here: release it",
                       held.transmitter(), day::channel_text(held.channel()), where);
}

/// Who is left aside, and that everybody else is not.
std::string asides_text(const v1::RotaReply& reply, const Look& look) {
    if (reply.asides().empty()) return "";
    std::string all;
    for (const bool is_always : {false, true}) {
        std::string items;
        for (const auto& aside : reply.asides()) {
            if (aside.is_always() != is_always) continue;
            auto text = fmt::format("{}: {}", aside.pilot(), why_text(aside));
            if (aside.has_margin_db())
                text += fmt::format(" ({} dB at best, {} dB wanted)", db_text(aside.margin_db()),
                                    db_text(reply.margin_db()));
            for (const auto& held : aside.held()) text += held_text(held);
            items += item("! ", text, look);
        }
        if (items.empty()) continue;
        all += heading(is_always ? "On whichever group flies, and not steady"
                                 : "Left aside: in no group",
                       look) +
               items + "\n";
    }
    return all;
}

std::string sizes_text(const v1::RotaReply& reply) {
    std::vector<std::size_t> sizes;
    for (const auto& group : reply.groups()) {
        std::vector<std::string> owners;
        for (const auto& choice : group.choices()) owners.push_back(choice.owner());
        std::ranges::sort(owners);
        owners.erase(std::unique(owners.begin(), owners.end()), owners.end());
        sizes.push_back(owners.size());
    }
    const auto all = fmt::format("{}", fmt::join(sizes, ", "));
    if (sizes.size() < 2) return "";
    if (reply.sizes_differ() == reply.sizes_differ_at_least())
        return fmt::format("Pilots in each: {}; more even they cannot be, proved.", all);
    return fmt::format("Pilots in each: {}; whether they can be more even is not known.", all);
}

std::string changes_text(const v1::RotaReply& reply) {
    if (!reply.has_changes()) return "";
    if (reply.changes() == 0) return "Whoever holds a channel or has a group keeps it.";
    const auto what = fmt::format("{} of the channels and groups that are held {}", reply.changes(),
                                  reply.changes() == 1 ? "changes" : "change");
    if (reply.changes() == reply.changes_at_least()) return what + "; fewer will not do, proved.";
    return fmt::format("{}; fewer than {} will not do, whether {} would is not known.", what,
                       reply.changes_at_least(), reply.changes() - 1);
}

}  // namespace

std::string rota_text(const v1::RotaReply& reply, const Look& look) {
    auto all = control_text(reply, look) + asides_text(reply, look);
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
    for (const auto& text : {sizes_text(reply), changes_text(reply)})
        if (!text.empty()) all += item("", text, look);
    all += item("", proof_text(reply, false, "rota of that kind"), look);
    return all + foot_text(reply, look);
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

}  // namespace fieldpeg::show
