#include "server/service/plan.h"

#include "server/book/names.h"
#include "server/day/assessment.h"
#include "server/day/remarks.h"
#include "server/day/scene.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/planner/few_moves.h"
#include "server/planner/obstacle.h"
#include "server/planner/plan.h"
#include "server/planner/room.h"
#include "server/planner/rota.h"
#include "server/service/changeover.h"
#include "server/service/input.h"
#include "server/service/planning.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

namespace fieldpeg::service {
namespace {

using planner::Choice;
using planner::Effort;
using planner::Tables;
using spectrum::Decibel;
using spectrum::Refusal;
using Clock = std::chrono::steady_clock;

constexpr double margin_db_max = 60;
constexpr std::uint32_t room_asked = 8;
constexpr std::uint32_t room_max = 40;
constexpr std::size_t groups_max = 40;
constexpr std::size_t moves_max = 100;
/// What would help is looked for this long, and with so many nodes for each change.
constexpr double advice_seconds = 3;
constexpr std::uint64_t advice_nodes = 2'000;
constexpr std::size_t advice_offered = 3;
constexpr double advice_db = 0.5;  ///< less is no help

v1::Answer refuse(const Refusal& refusal) {
    v1::Answer answer;
    *answer.mutable_refusal() = day::message(refusal);
    return answer;
}

/// The time that work may take, and the word to those who wait.
class Watch {
public:
    Watch(double seconds, const char* doing, const Work& work)
        : doing_(doing), work_(work), seconds_(seconds), began_(Clock::now()), told_(began_) {}

    double seconds() const { return std::chrono::duration<double>(Clock::now() - began_).count(); }
    bool is_over() {
        const auto now = Clock::now();
        if (now - told_ >= progress_every) {
            told_ = now;
            progress_.set_seconds(seconds());
            progress_.set_seconds_left(std::max(0.0, seconds_ - seconds()));
            progress_.set_doing(doing_);
            if (!work_.progress(progress_)) is_enough_ = true;
        }
        return is_enough_ || seconds() >= seconds_;
    }
    bool is_enough() const { return is_enough_; }
    /// From here on, something else for so long.
    void turn_to(const char* doing, double more_seconds) {
        doing_ = doing;
        seconds_ = seconds() + more_seconds;
        progress_.clear_bound_db();
    }

    Effort effort() {
        Effort effort;
        effort.stop = [this] { return is_over(); };
        effort.progress = [this](const planner::Outcome& known) {
            if (known.best && std::isfinite(known.worst_db))
                progress_.set_worst_margin_db(day::milli(known.worst_db));
            if (std::isfinite(known.bound_db)) progress_.set_bound_db(day::milli(known.bound_db));
        };
        return effort;
    }

private:
    const char* doing_;
    const Work& work_;
    double seconds_;
    Clock::time_point began_;
    Clock::time_point told_;
    bool is_enough_ = false;
    v1::Progress progress_;
};

template <class Query>
std::optional<Refusal> fault(const Query& query) {
    if (query.has_margin_db())
        if (auto wrong = outside("margin_db", query.margin_db(), -margin_db_max, margin_db_max))
            return wrong;
    if (query.planned().has_seconds())
        return outside("seconds", query.planned().seconds(), 0, plan_seconds_max);
    return std::nullopt;
}

double seconds_of(const v1::Planned& planned) {
    return planned.has_seconds() ? planned.seconds() : plan_seconds;
}

planner::Accept accept(const v1::Planned& planned) {
    return planned.on_tight() ? planner::Accept::tight : planner::Accept::steady;
}

std::vector<bool> least_power(const PlanScene& scene) {
    std::vector<bool> asked;
    for (const auto& seat : scene.seats()) asked.push_back(seat.least_power);
    return asked;
}

/// "Ann's goggles".
std::string receiver_text(const day::Situation& situation, std::size_t receiver) {
    const auto& of = situation.receivers[receiver];
    return fmt::format("{}'s {}", of.relay.empty() ? of.owner : of.relay, of.name);
}

std::string from_text(const PlanScene& scene, const spectrum::Contribution& term) {
    std::vector<std::string> names;
    for (const auto t : term.from) names.push_back(scene.seats()[t].name);
    switch (term.kind) {
        case spectrum::Contribution::Kind::co_channel:
            return fmt::format("{} on the same channel", fmt::join(names, ", "));
        case spectrum::Contribution::Kind::adjacent:
            return fmt::format("{} beside it", fmt::join(names, ", "));
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
                "; it does not reach that far with nobody else on the air either; nearer, a "
                "better antenna or more power";
            break;
        case planner::Obstacle::Limit::swamped:
            text += "; the others together are more than it stands, whatever their channels";
            break;
        case planner::Obstacle::Limit::too_close:
            text += "; what it is to hear is too strong for it; less power or farther away";
            break;
        case planner::Obstacle::Limit::others:
            if (found->strongest)
                text += fmt::format("; what disturbs it most is {}",
                                    from_text(scene, *found->strongest));
            break;
    }
    if (found->strangers && found->limit != planner::Obstacle::Limit::range)
        text += fmt::format(". {} and {} cannot both have {:+.1f} dB, whatever their channels",
                            scene.seats()[found->strangers->first].name,
                            scene.seats()[found->strangers->second].name, margin_db);
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

template <class Reply>
void add_remarks(const v1::DaySheet& planned, Reply& reply) {
    const auto situation = day::situation(planned, v1::Basis::held);
    for (std::size_t t = 0; t < situation.transmitters.size(); ++t)
        for (auto& remark : day::remarks(situation, t, planned))
            *reply.add_remarks() = std::move(remark);
}

template <class Reply>
void add_said(const PlanScene& scene, Reply& reply) {
    for (const auto& text : scene.said()) reply.add_said(text);
}

/// The day has nobody to plan for: said before anything is computed.
std::optional<Refusal> nobody(const PlanScene& scene) {
    if (std::ranges::any_of(scene.seats(), &PlanScene::Seat::is_planned)) return std::nullopt;
    return Refusal{Refusal::Kind::conflict, "", "there is nobody to plan for",
                   "enter pilots with a transmitter, or leave --group out"};
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
                planner::lower_powers(tables, moves.plan->choice, least_power(scene));
        if (moves.plan) moves.plan->worst = Decibel(tables.reckon(moves.plan->choice));
        return {moves.plan, moves};
    }
    effort.from = as_held(scene, tables);
    return {planner::best_plan(tables, effort, {true, least_power(scene), scene.holds(tables)}),
            std::nullopt};
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

v1::Answer plan(const v1::PlanQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refuse(*wrong);
    PlanFor what{query.planned()};
    if (query.has_group()) what.group = query.group();
    const auto scene = PlanScene::make(sheet, what);
    if (!scene) return refuse(scene.error());
    if (const auto none = nobody(*scene)) return refuse(*none);
    auto question = scene->question();
    question.accept = accept(query.planned());
    Watch watch(seconds_of(query.planned()), "planning", work);
    const Tables tables(question);
    const auto found = find(query, *scene, tables, watch);
    if (!found.plan) return refuse(no_plan(query, found, !watch.is_over()));

    v1::Answer answer;
    auto& reply = *answer.mutable_plan();
    const auto& best = *found.plan;
    const bool alone = tables.links().empty();  // nobody listens: there is nothing to be worst
    reply.set_worst_margin_db(alone ? 0 : day::milli(best.worst.count()));
    reply.set_bound_db(alone ? 0 : day::milli(std::max(best.bound, best.worst).count()));
    reply.set_proved(best.proved || alone);
    reply.set_margin_db(query.margin_db());
    reply.set_reached(alone || best.worst.count() >= query.margin_db());
    if (found.moves) {
        reply.set_moves(static_cast<std::uint32_t>(found.moves->least));
        reply.set_moves_proved(found.moves->proved);
    }
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
    add_remarks(planned, reply);
    add_said(*scene, reply);
    if (const auto now = as_held(*scene, tables))
        reply.add_said(
            fmt::format("if everybody stays where they are, the worst margin is {:+.1f} dB",
                        tables.reckon(*now)));
    return answer;
}

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
    return fmt::format(": {} {} not even alone", fmt::join(names, ", "),
                       names.size() == 1 ? "does" : "do");
}

/// What is held, in the group that a choice puts everybody in; copies at its end hold nothing.
planner::Holds held_in_groups(const PlanScene& scene, const Tables& tables, const Choice& choice) {
    auto holds = scene.holds(tables);
    for (std::size_t t = 0; t < holds.size(); ++t)
        if (holds[t]) holds[t]->group = choice[t].group;
    holds.resize(choice.size());
    return holds;
}

v1::Answer rota(const v1::RotaQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refuse(*wrong);
    auto scene = PlanScene::make(sheet, {query.planned(), true, std::nullopt, true});
    if (!scene) return refuse(scene.error());
    if (const auto none = nobody(*scene)) return refuse(*none);
    for (const bool together : {false, true})
        if (const auto wrong = scene->keep(together ? query.together() : query.apart(), together))
            return refuse(*wrong);
    auto question = scene->question();
    question.accept = accept(query.planned());
    const auto most = query.has_groups_max()
                          ? std::clamp<std::size_t>(query.groups_max(), 1, groups_max)
                          : std::min(question.allowed.size(), groups_max);
    Watch watch(seconds_of(query.planned()), "grouping", work);
    const auto found =
        planner::fewest_groups(question, Decibel(query.margin_db()), most, watch.effort());

    v1::Answer answer;
    auto& reply = *answer.mutable_rota();
    reply.set_margin_db(query.margin_db());
    reply.set_groups_at_least(static_cast<std::uint32_t>(found.groups_at_least));
    if (!found.choice) {
        watch.turn_to("looking for who stands in the way", advice_seconds);
        if (!found.proved)
            return refuse({Refusal::Kind::unavailable, "",
                           "no rota was found in the time there was",
                           "give it more (--seconds), a lower margin, or more groups"});
        return refuse({Refusal::Kind::conflict, "",
                       fmt::format("{} flight groups do not let everybody reach {:+.1f} dB{}", most,
                                   query.margin_db(),
                                   too_far_alone(*scene, question, query.margin_db(), watch)),
                       "a lower margin (--margin), more power or other gear"});
    }
    const auto choice = planner::settle_back(*found.tables, *found.choice,
                                             held_in_groups(*scene, *found.tables, *found.choice));
    const Decibel worst(found.tables->reckon(choice));
    reply.set_groups_proved(found.proved);
    reply.set_worst_margin_db(day::milli(worst.count()));
    reply.set_bound_db(day::milli(std::max(found.bound, worst).count()));
    const auto planned = scene->planned_day(*found.tables, choice);
    for (auto& group :
         flying_order(planned, scene->choices(planned), query.round(), scene->first_group()))
        *reply.add_groups() = std::move(group);
    add_remarks(planned, reply);
    add_said(*scene, reply);
    reply.set_seconds(day::milli(watch.seconds()));
    return answer;
}

v1::Answer room(const v1::RoomQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refuse(*wrong);
    const auto names = book::names_of(sheet.pilots());
    const auto* like = book::find_named(sheet.pilots(), query.like());
    if (!like || !like->has_video())
        return refuse({Refusal::Kind::not_found, "like",
                       fmt::format("no pilot with a transmitter is called '{}'",
                                   book::printable(query.like())),
                       fmt::format("one of {}", fmt::join(names, ", "))});
    auto free_day = sheet;
    day::drop_claim(free_day, like->id());
    PlanFor newcomer;
    newcomer.planned.add_who(like->name());
    const auto kind = PlanScene::make(free_day, newcomer);
    if (!kind) return refuse(kind.error());
    PlanFor field{query.planned(), false};
    if (like->claim().group() != 0) field.group = like->claim().group();
    const auto scene = PlanScene::make(sheet, field);
    if (!scene) return refuse(scene.error());

    const auto t = *kind->seat(like->name());
    planner::Newcomer asked{
        kind->question().scene.transmitters[t], {}, kind->question().allowed[t]};
    for (const auto& receiver : kind->question().scene.receivers)
        if (receiver.hears == t) asked.receivers.push_back(receiver);
    auto question = scene->question();
    question.accept = accept(query.planned());
    const auto most = query.has_most() ? std::min(query.most(), room_max) : room_asked;
    Watch watch(seconds_of(query.planned()), "looking for room", work);
    const Tables now(question);
    const auto without_them = planner::best_choice(now.problem(), now.reckon(), watch.effort());
    const auto found =
        planner::room(question, asked, Decibel(query.margin_db()), most, watch.effort());

    v1::Answer answer;
    auto& reply = *answer.mutable_room();
    reply.set_like(like->name());
    reply.set_more(static_cast<std::uint32_t>(found.more));
    reply.set_proved(found.proved);
    reply.set_margin_db(query.margin_db());
    for (const auto frequency : found.channels)
        for (const auto& channel : kind->seats()[t].channels)
            if (spectrum::from_mhz(channel.mhz()) == frequency) *reply.add_channels() = channel;
    if (without_them.best && without_them.worst_db < query.margin_db())
        reply.add_said(fmt::format("without anybody more the worst margin is {:+.1f} dB already",
                                   without_them.worst_db));
    add_said(*kind, reply);
    reply.set_seconds(day::milli(watch.seconds()));
    return answer;
}

}  // namespace

bool takes_long(const v1::Query& query) {
    return query.has_plan() || query.has_rota() || query.has_room();
}

v1::Answer plan(const v1::Query& query, const v1::DaySheet& sheet, const Work& work) {
    std::uint32_t last_id = 0;
    const bool has_ids = sheet.pilots().empty() || sheet.pilots(0).id() != 0;
    const auto day = has_ids ? sheet : day::with_ids(sheet, last_id);  // a file has none
    if (query.has_rota()) return rota(query.rota(), day, work);
    if (query.has_room()) return room(query.room(), day, work);
    return plan(query.plan(), day, work);
}

}  // namespace fieldpeg::service
