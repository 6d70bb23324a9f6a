#include "server/planning/plan.h"

#include "server/day/state.h"
#include "server/planner/few_moves.h"
#include "server/planner/obstacle.h"
#include "server/planner/plan.h"
#include "server/planning/planner_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace fieldpeg::planning {
namespace {

using planner::Choice;
using planner::Tables;
using spectrum::Decibel;

constexpr std::size_t moves_max = 100;
/// What would help is looked for with so many nodes for each change.
constexpr std::uint64_t advice_nodes = 2'000;
constexpr std::size_t advice_offered = 3;
constexpr double advice_db = 0.5;  ///< less is no help

std::vector<bool> least_power(const PlanScene& scene, const Tables& tables) {
    std::vector<bool> asked;
    for (const auto& seat : scene.seats()) asked.push_back(seat.least_power);
    asked.resize(tables.question().allowed.size(), false);
    return asked;
}

std::string receiver_text(const day::Situation& situation, std::size_t receiver) {
    const auto& of = situation.receivers[receiver];
    return day::receiver_text(of.owner, of.relay, of.name);
}

std::string from_text(const PlanScene& scene, const spectrum::Contribution& term) {
    std::vector<std::string> names;
    for (const auto t : term.from) names.push_back(scene.name(t));
    switch (term.kind) {
        case spectrum::Contribution::Kind::co_channel:
            return fmt::format("{} on the same channel", fmt::join(names, ", "));
        case spectrum::Contribution::Kind::adjacent:
            return fmt::format("{} beside it", fmt::join(names, ", "));
        case spectrum::Contribution::Kind::burst:
            return fmt::format("bursts of {}", fmt::join(names, ", "));
        case spectrum::Contribution::Kind::harmonic:
            return fmt::format("a harmonic of {}", fmt::join(names, ", "));
        case spectrum::Contribution::Kind::receiver_product:
            return fmt::format("a product of {} in the receiver", fmt::join(names, " and "));
        case spectrum::Contribution::Kind::transmitter_product:
            return fmt::format("a product of {} in a transmitter", fmt::join(names, " and "));
    }
    return "";
}

/// What keeps a choice below the margin that was asked for, as a sentence.
std::string obstacle_text(const PlanScene& scene, const Tables& tables, const Choice& choice,
                          const day::Situation& situation, double margin_db) {
    const auto found = planner::obstacle(tables, choice, Decibel(margin_db));
    if (!found) return "";
    auto text = fmt::format("{}: {:+.1f} dB left", receiver_text(situation, found->receiver),
                            found->margin.count());
    switch (found->limit) {
        case planner::Obstacle::Limit::range:
            text +=
                "; even with nobody else on the air it does not reach that far; fly nearer, or "
                "take a better antenna or more power";
            break;
        case planner::Obstacle::Limit::swamped:
            text += "; the others together are more than it can take, whatever their channels";
            break;
        case planner::Obstacle::Limit::too_close:
            text += "; what it should hear is too strong for it: less power, or farther away";
            break;
        case planner::Obstacle::Limit::others:
            if (found->strongest)
                text += fmt::format("; what disturbs it most is {}",
                                    from_text(scene, *found->strongest));
            break;
    }
    if (found->strangers && found->limit != planner::Obstacle::Limit::range)
        text += fmt::format(". {} and {} cannot both have {:+.1f} dB, whatever their channels",
                            scene.name(found->strangers->first),
                            scene.name(found->strangers->second), margin_db);
    return text;
}

std::string relief_text(const PlanScene::Seat& seat, planner::Relief::Change change) {
    switch (change) {
        case planner::Relief::Change::stays_out:
            return fmt::format("if {} stays off the air", seat.name);
        case planner::Relief::Change::any_channel:
            return fmt::format("if {} could have any channel that somebody may", seat.name);
        case planner::Relief::Change::any_power:
            return fmt::format("if {} could have any power that somebody may", seat.name);
    }
    return "";
}

/// What would help most, for one or two seconds.
void add_advice(const PlanScene& scene, planner::Question question, double worst_db, Watch& watch,
                v1::PlanReply& reply) {
    watch.turn_to("looking for what would help", advice_seconds);
    auto effort = watch.effort();
    effort.nodes_max = advice_nodes;
    effort.progress = [](const planner::Outcome&) {};
    for (const auto& relief : planner::reliefs(question, effort)) {
        if (reply.advice_size() == static_cast<int>(advice_offered)) break;
        const auto& seat = scene.seats()[relief.transmitter];
        if (relief.worst.count() < worst_db + advice_db || !std::isfinite(relief.worst.count()))
            continue;
        if (seat.owner.empty() && relief.change != planner::Relief::Change::stays_out) continue;
        auto& advice = *reply.add_advice();
        advice.set_text(relief_text(seat, relief.change));
        advice.set_worst_margin_db(day::milli(relief.worst.count()));
    }
}

/// The best plan, or the one with the fewest moves; none: there is none in the time.
struct Found {
    std::optional<planner::Plan> plan;
    std::optional<planner::Moves> moves;
};

/// Everybody where they are; none if somebody holds nothing, or nothing that may be chosen.
std::optional<Choice> as_held(const PlanScene& scene, const Tables& tables) {
    Choice now;
    for (const auto& pick : scene.holds(tables)) {
        if (!pick) return std::nullopt;
        now.push_back(*pick);
    }
    return now;
}

Found find(const v1::PlanQuery& query, const PlanScene& scene, const Tables& tables, Watch& watch) {
    auto effort = watch.effort();
    if (query.has_moves()) {
        const Decibel target(query.margin_db());
        auto moves = planner::few_moves(tables, scene.holds(tables), target,
                                        std::min<std::size_t>(query.moves(), moves_max), effort);
        if (moves.plan && watch.is_over() == false)
            moves.plan->choice =
                planner::lower_powers(tables, moves.plan->choice, least_power(scene, tables));
        if (moves.plan) moves.plan->worst = Decibel(tables.reckon(moves.plan->choice));
        return {moves.plan, moves};
    }
    effort.from = as_held(scene, tables);
    planner::Manners manners{true, least_power(scene, tables), scene.holds(tables), {}};
    manners.preferred = scene.preferred(tables.question());
    return {planner::best_plan(tables, effort, manners), std::nullopt};
}

Refusal no_plan(const v1::PlanQuery& query, const Found& found, bool in_time) {
    if (query.has_moves() && found.moves->proved)
        return {Refusal::Kind::conflict, "moves",
                fmt::format("whichever {} of those who hold a channel are moved, not everybody "
                            "reaches {:+.1f} dB",
                            query.moves(), query.margin_db()),
                "allow more moves, a lower margin, or plan without --moves"};
    if (!in_time)
        return {Refusal::Kind::unavailable, "", "no plan was found in the time there was",
                "give it more: --seconds"};
    return {Refusal::Kind::conflict, "", "there is no plan: somebody has nothing to choose from",
            "give them channels and powers"};
}

/// How good it is if nobody moves, where everybody planned for holds something.
void add_as_held(const PlanScene& scene, const Tables& tables, v1::PlanReply& reply) {
    const auto now = as_held(scene, tables);
    if (!now) return;
    const double worst_db = tables.reckon(*now);
    reply.add_said(
        std::isfinite(worst_db)
            ? fmt::format("if everybody stays where they are, the worst margin is {:+.1f} dB",
                          worst_db)
            : "if everybody stays where they are, the others take from somebody who has no good "
              "flight anyway");
}

/// How good it is, and how sure that is.
void add_worth(const PlanScene& scene, const Found& found, const Tables& tables, double margin_db,
               v1::PlanReply& reply) {
    const auto& best = *found.plan;
    const bool alone = !tables.anybody_counts();  // there is nothing to be worst
    if (!alone) {
        reply.set_worst_margin_db(day::milli(best.worst.count()));
        if (scene.has_every_channel())
            reply.set_bound_db(day::milli(std::max(best.bound, best.worst).count()));
    }
    reply.set_proved((best.proved || alone) && scene.has_every_channel());
    reply.set_margin_db(margin_db);
    reply.set_reached(alone || best.worst.count() >= margin_db);
    if (!found.moves) return;
    reply.set_moves(static_cast<std::uint32_t>(found.moves->least));
    reply.set_moves_proved(found.moves->proved && scene.has_every_channel());
}

}  // namespace

v1::Answer answer(const v1::PlanQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refused(*wrong);
    PlanFor what{query.planned()};
    if (query.has_group()) what.group = query.group();
    const auto scene = PlanScene::make(sheet, what);
    if (!scene) return refused(scene.error());
    if (const auto none = nobody(*scene)) return refused(*none);
    auto question = scene->question();
    question.accept = accept(query.planned());
    Watch watch(seconds_of(query.planned()), "planning", work);
    auto flown = planner::in_groups(question, question.groups);
    flown = planner::with_fewest_who_pay(std::move(flown), watch.effort());
    question.may_pay = flown.may_pay;
    const Tables tables(std::move(flown));
    const auto found = find(query, *scene, tables, watch);
    if (!found.plan) return refused(no_plan(query, found, !watch.is_over()));

    v1::Answer answer;
    auto& reply = *answer.mutable_plan();
    const auto& best = *found.plan;
    add_worth(*scene, found, tables, query.margin_db(), reply);
    const auto planned = scene->planned_day(tables, best.choice);
    for (auto& choice : scene->choices(planned)) *reply.add_choices() = std::move(choice);
    reply.set_seconds(day::milli(watch.seconds()));
    reply.set_nodes(best.nodes);
    if (!reply.reached()) {
        reply.set_obstacle(obstacle_text(*scene, tables, best.choice,
                                         day::situation(planned, v1::Basis::held),
                                         query.margin_db()));
        if (!watch.is_enough())
            add_advice(*scene, std::move(question), best.worst.count(), watch, reply);
    }
    add_controls(planned, reply);
    add_remarks(planned, reply);
    add_said(*scene, reply);
    add_who_does_not_count(*scene, tables, best.choice, reply);
    if (tables.anybody_counts()) add_as_held(*scene, tables, reply);
    return answer;
}

bool takes_long(const v1::Query& query) {
    return query.has_plan() || query.has_rota() || query.has_room();
}

v1::Answer plan(const v1::Query& query, const v1::DaySheet& sheet, const Work& work) {
    std::uint32_t last_id = 0;
    const bool has_ids = sheet.pilots().empty() || sheet.pilots(0).id() != 0;
    const auto day = has_ids ? sheet : day::with_ids(sheet, last_id);  // a file has none
    if (query.has_rota()) return answer(query.rota(), day, work);
    if (query.has_room()) return answer(query.room(), day, work);
    return answer(query.plan(), day, work);
}

}  // namespace fieldpeg::planning
