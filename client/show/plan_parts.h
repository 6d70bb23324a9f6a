#pragma once

#include "client/show/table.h"
#include "server/day/words.h"

#include "fieldpeg/v1/plan.pb.h"

#include <fmt/format.h>

#include <string>

/// What the texts of plans and rotas have in common.
namespace fieldpeg::show {

/// A table of shares of a plan.
std::string choices_table(const google::protobuf::RepeatedPtrField<v1::PlanChoice>& choices,
                          const Look& look);

/// Below this two margins are one [ours: how near planner and bound are told apart].
inline constexpr double same_db = 0.02;

/// The worst margin and how good that is.
template <class Reply>
std::string proof_text(const Reply& reply, bool proved, const char* plan = "plan") {
    if (!reply.has_worst_margin_db())
        return "Nobody planned for has a good flight even with nobody else on the air: there is no "
               "worst margin.";
    if (!reply.has_bound_db())
        return fmt::format("Worst margin {} dB; how much better it could be is not known.",
                           db_text(reply.worst_margin_db()));
    const double worst_db = reply.worst_margin_db(), bound_db = reply.bound_db();
    if (proved || bound_db - worst_db < same_db)
        return fmt::format("Worst margin {} dB; no {} is better, proved.", db_text(worst_db), plan);
    if (bound_db > worst_db + 60)
        return fmt::format("Worst margin {} dB; how much better it could be is not known.",
                           db_text(worst_db));
    return fmt::format("Worst margin {} dB; a {} up to {:.{}f} dB better may exist.",
                       db_text(worst_db), plan, bound_db - worst_db,
                       bound_db - worst_db < 0.1 ? 2 : 1);
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

}  // namespace fieldpeg::show
