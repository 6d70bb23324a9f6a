#include "client/show/plan.h"

#include "client/show/plan_parts.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace fieldpeg::show {
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
