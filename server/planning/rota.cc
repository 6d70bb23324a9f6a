#include "server/planner/rota.h"

#include "server/planner/plan.h"
#include "server/planning/changeover.h"
#include "server/planning/planner_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

namespace fieldpeg::planning {
namespace {

using planner::Choice;
using planner::Tables;
using spectrum::Decibel;

constexpr std::size_t groups_max = 40;
constexpr std::size_t names_shown = 6;

/// Who does not reach a margin even with nobody else in the air, as the end of a sentence.
std::string too_far_alone(const PlanScene& scene, const planner::Question& question,
                          double margin_db, Watch& watch) {
    std::vector<std::string> names;
    for (std::size_t t = 0; t < scene.seats().size(); ++t) {
        if (scene.seats()[t].owner.empty() || watch.is_over()) continue;
        auto alone = planner::only(question, t);
        alone.groups = 1;
        alone.in_every_group.clear();
        const Tables tables(std::move(alone));
        const auto best = planner::best_choice(tables.problem(), tables.reckon(), watch.effort());
        if (best.worst_db < margin_db) names.push_back(scene.seats()[t].name);
    }
    if (names.empty()) return "";
    const auto more = names.size() > names_shown ? names.size() - names_shown : 0;
    const char* verb = names.size() == 1 ? "does" : "do";
    names.resize(names.size() - more);
    return fmt::format(": {}{} {} not even alone{}", fmt::join(names, ", "),
                       more > 0 ? fmt::format(" and {} more", more) : "", verb,
                       question.beside.empty() ? "" : ", beside what is on whoever flies");
}

/// What is held, in the group that a choice puts everybody in; copies at its end hold nothing.
planner::Holds held_in_groups(const PlanScene& scene, const Tables& tables, const Choice& choice) {
    auto holds = scene.holds(tables);
    for (std::size_t t = 0; t < holds.size(); ++t)
        if (holds[t]) holds[t]->group = choice[t].group;
    holds.resize(choice.size());
    return holds;
}

/// Why there is no rota. Names who stands in the way, while there is time to look for them.
Refusal no_rota(const v1::RotaQuery& query, const PlanScene& scene,
                const planner::Question& question, std::size_t most, bool proved, Watch& watch) {
    watch.turn_to("looking for who stands in the way", advice_seconds);
    const auto who = too_far_alone(scene, question, query.margin_db(), watch);
    if (!proved && who.empty())
        return {Refusal::Kind::unavailable, "", "no rota was found in the time there was",
                "give it more (--seconds), a lower margin, or more groups"};
    return {Refusal::Kind::conflict, "",
            fmt::format("{} flight groups do not let everybody reach {:+.1f} dB{}", most,
                        query.margin_db(), who),
            "a lower margin (--margin), more power or other gear"};
}

}  // namespace

v1::Answer answer(const v1::RotaQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refused(*wrong);
    auto scene = PlanScene::make(sheet, {query.planned(), true, std::nullopt, true});
    if (!scene) return refused(scene.error());
    if (const auto none = nobody(*scene)) return refused(*none);
    for (const bool together : {false, true})
        if (const auto wrong = scene->keep(together ? query.together() : query.apart(), together))
            return refused(*wrong);
    auto question = scene->question();
    question.accept = accept(query.planned());
    const auto most = query.has_groups_max()
                          ? std::clamp<std::size_t>(query.groups_max(), 1, groups_max)
                          : std::min(question.allowed.size(), groups_max);
    Watch watch(seconds_of(query.planned()), "grouping", work);
    const auto in_groups = [&] {
        return planner::fewest_groups(question, Decibel(query.margin_db()), most, watch.effort());
    };
    auto found = in_groups();
    if (!found.choice && found.proved) {  // perhaps who has no good flight even alone forbids all
        question = planner::with_fewest_who_pay(std::move(question), watch.effort());
        if (!question.may_pay.empty()) found = in_groups();
    }
    if (!found.choice) return refused(no_rota(query, *scene, question, most, found.proved, watch));

    v1::Answer answer;
    auto& reply = *answer.mutable_rota();
    reply.set_margin_db(query.margin_db());
    reply.set_groups_at_least(static_cast<std::uint32_t>(found.groups_at_least));
    const auto choice = planner::settle_back(*found.tables, *found.choice,
                                             held_in_groups(*scene, *found.tables, *found.choice));
    const bool alone = !found.tables->anybody_counts();
    reply.set_groups_proved(found.proved);
    if (!alone) {
        const Decibel worst(found.tables->reckon(choice));
        reply.set_worst_margin_db(day::milli(worst.count()));
        reply.set_bound_db(day::milli(std::max(found.bound, worst).count()));
    }
    const auto planned = scene->planned_day(*found.tables, choice);
    for (auto& group :
         flying_order(planned, scene->choices(planned), query.round(), scene->first_group()))
        *reply.add_groups() = std::move(group);
    add_controls(planned, reply);
    add_remarks(planned, reply);
    add_said(*scene, reply);
    add_who_does_not_count(*scene, *found.tables, choice, reply);
    reply.set_seconds(day::milli(watch.seconds()));
    return answer;
}

}  // namespace fieldpeg::planning
