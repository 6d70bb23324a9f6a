#pragma once

#include "client/verbs/verb.h"

#include "fieldpeg/v1/plan.pb.h"

#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::verbs {

/// What plan and rota have in common: who is planned for and how, and whether it is given out.
struct PlanFlags {
    std::vector<std::string> who, keep;
    std::optional<double> margin_db, seconds;
    bool tight = false;
    bool powers = false;
    bool landed = false;
    bool apply = false;
    bool yes = false;
    std::string reason;
};
void add_plan_flags(Verb& verb, PlanFlags& flags);

/// The flags as a query's.
template <class Query>
void set_planned(const PlanFlags& flags, Query& query) {
    auto& planned = *query.mutable_planned();
    for (const auto& name : flags.who) planned.add_who(name);
    for (const auto& name : flags.keep) planned.add_keep(name);
    planned.set_on_tight(flags.tight);
    planned.set_choose_powers(flags.powers);
    planned.set_as_landed(flags.landed);
    if (flags.margin_db) query.set_margin_db(*flags.margin_db);
    if (flags.seconds) planned.set_seconds(*flags.seconds);
}

/// A link for a question that may be followed by giving out what came of it.
Opened open_plan(const Common& common, const PlanFlags& flags);

/// Gives out shares of a plan and prints what came of it.
int give_out(link::Link& link, const std::vector<v1::PlanChoice>& choices, const PlanFlags& flags,
             bool json);

/// Whether one of them is shaky or in a clash.
bool any_in_trouble(const google::protobuf::RepeatedPtrField<v1::PlanChoice>& choices);

}  // namespace fieldpeg::verbs
