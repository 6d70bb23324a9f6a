#include "server/planner/rota.h"

#include "server/book/names.h"
#include "server/planner/plan.h"
#include "server/planning/asides.h"
#include "server/planning/changeover.h"
#include "server/planning/planner_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::planning {
namespace {

using spectrum::Decibel;

constexpr std::size_t groups_max = 40;
constexpr std::size_t names_shown = 6;

/// Pairs of names without those who are left aside.
google::protobuf::RepeatedPtrField<v1::NamePair> of_the_rest(
    google::protobuf::RepeatedPtrField<v1::NamePair> pairs,
    const std::vector<v1::RotaAside>& asides) {
    const auto is_aside = [&](const std::string& written) {
        return std::ranges::any_of(asides, [&](const v1::RotaAside& aside) {
            return std::ranges::any_of(aside.transmitters(), [&](const std::string& name) {
                return book::name_key(name) == book::name_key(written);
            });
        });
    };
    pairs.erase(std::remove_if(pairs.begin(), pairs.end(),
                               [&](const auto& p) { return is_aside(p.a()) || is_aside(p.b()); }),
                pairs.end());
    return pairs;
}

/// Whom a rota is for: everybody, but for those left aside.
struct Whom {
    PlanScene scene;
    std::vector<v1::RotaAside> asides;
};

Result<PlanScene> scene_of(const v1::RotaQuery& query, const v1::DaySheet& sheet,
                           const std::vector<v1::RotaAside>& asides) {
    PlanFor what{query.planned(), true, std::nullopt, true, query.margin_db()};
    for (const auto& aside : asides)
        if (!aside.is_always()) what.aside.push_back(aside.pilot());
    auto scene = PlanScene::make(sheet, what);
    if (!scene) return scene;
    for (const bool together : {false, true})
        if (const auto wrong = scene->keep(
                of_the_rest(together ? query.together() : query.apart(), asides), together))
            return *wrong;
    return scene;
}

planner::Question question_of(const v1::RotaQuery& query, const Whom& whom) {
    auto question = whom.scene.question();
    question.accept = accept(query.planned());
    return asked_of_the_rest(std::move(question), whom.scene, whom.asides);
}

Result<Whom> for_whom(const v1::RotaQuery& query, const v1::DaySheet& sheet, Watch& watch) {
    auto everybody = scene_of(query, sheet, {});
    if (!everybody) return everybody.error();
    Whom whom{*std::move(everybody), {}};
    whom.asides = asides(whom.scene, question_of(query, whom), query.margin_db(), watch.effort());
    if (std::ranges::all_of(whom.asides, &v1::RotaAside::is_always)) return whom;
    auto rest = scene_of(query, sheet, whom.asides);
    if (!rest) return rest.error();
    return Whom{*std::move(rest), std::move(whom.asides)};
}

Refusal nobody_reaches(const v1::RotaQuery& query, const std::vector<v1::RotaAside>& asides) {
    std::vector<std::string> names;
    for (const auto& aside : asides)
        if (!aside.is_always()) names.push_back(aside.pilot());
    const auto more = names.size() > names_shown ? names.size() - names_shown : 0;
    names.resize(names.size() - more);
    return {Refusal::Kind::conflict, "",
            fmt::format("nobody reaches {:+.1f} dB even alone in the air: {}{}", query.margin_db(),
                        fmt::join(names, ", "), more > 0 ? fmt::format(" and {} more", more) : ""),
            "a lower margin (--margin), more power or other gear"};
}

/// Why those who could each fly alone have no rota.
Refusal no_rota(const v1::RotaQuery& query, std::size_t most, bool proved) {
    if (!proved)
        return {Refusal::Kind::unavailable, "", "no rota was found in the time there was",
                "give it more (--seconds), a lower margin, or more groups"};
    return {Refusal::Kind::conflict, "",
            fmt::format("{} flight groups do not let everybody reach {:+.1f} dB", most,
                        query.margin_db()),
            "more groups (--groups) or larger ones (--size), fewer who must fly together, or a "
            "lower margin (--margin)"};
}

planner::RotaTerms terms_of(const v1::RotaQuery& query, const PlanScene& scene) {
    const auto heads = scene.heads();
    const auto pilots = static_cast<std::size_t>(std::ranges::count(heads, true));
    planner::RotaTerms terms{
        Decibel(query.margin_db()),
        query.has_groups_max() ? std::clamp<std::size_t>(query.groups_max(), 1, groups_max)
                               : std::clamp<std::size_t>(pilots, 1, groups_max),
        query.has_size_max() ? query.size_max() : SIZE_MAX, heads, scene.before()};
    for (std::uint32_t taken = 1; taken < scene.first_group(); ++taken)
        terms.taken.push_back(taken);
    return terms;
}

/// Who flies by now stays in their group if that can be, and else on their channel at least.
planner::Rota find(const planner::Question& question, planner::RotaTerms& terms, Watch& watch) {
    auto found = planner::rota(question, terms, watch.effort());
    const auto stays = std::ranges::any_of(terms.before, &planner::InRota::stays_in_it);
    if (found.choice || !stays) return found;
    for (auto& one : terms.before) one.stays_in_it = false;
    return planner::rota(question, terms, watch.effort());
}

void add_worth(const PlanScene& scene, const planner::Rota& found, const planner::RotaTerms& terms,
               v1::RotaReply& reply) {
    const bool is_sure = scene.has_every_channel();
    const auto at_least = [&](std::size_t bound, std::size_t otherwise) {
        return static_cast<std::uint32_t>(is_sure ? bound : otherwise);
    };
    reply.set_groups_at_least(at_least(found.groups_at_least, 1));
    reply.set_groups_proved(found.groups == reply.groups_at_least());
    reply.set_sizes_differ(static_cast<std::uint32_t>(found.spread));
    reply.set_sizes_differ_at_least(at_least(found.spread_at_least, 0));
    const auto holds = [](const planner::InRota& one) { return one.channel || one.group != 0; };
    if (std::ranges::any_of(terms.before, holds)) {
        reply.set_changes(static_cast<std::uint32_t>(found.changes));
        reply.set_changes_at_least(at_least(found.changes_at_least, 0));
    }
    if (!found.tables->anybody_counts()) return;
    const Decibel worst(found.tables->reckon(*found.choice));
    reply.set_worst_margin_db(day::milli(worst.count()));
    if (is_sure) reply.set_bound_db(day::milli(std::max(found.bound, worst).count()));
}

bool is_standing(const planner::RotaTerms& terms) {
    return std::ranges::any_of(terms.before, [](const auto& one) { return one.group != 0; });
}

}  // namespace

v1::Answer answer(const v1::RotaQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refused(*wrong);
    if (query.has_size_max() && query.size_max() == 0)
        return refused({Refusal::Kind::out_of_range, "size_max", "a group has at least one pilot",
                        "from 1, or leave it out"});
    Watch watch(seconds_of(query.planned()), "grouping", work);
    const auto whom = for_whom(query, sheet, watch);
    if (!whom) return refused(whom.error());
    const auto& scene = whom->scene;
    if (const auto none = nobody(scene))
        return refused(whom->asides.empty() ? *none : nobody_reaches(query, whom->asides));
    auto question = question_of(query, *whom);
    auto terms = terms_of(query, scene);
    auto found = find(question, terms, watch);
    if (!found.choice && found.proved) {  // perhaps who has no good flight even alone forbids all
        question = planner::with_fewest_who_pay(std::move(question), watch.effort());
        if (!question.may_pay.empty()) found = find(question, terms, watch);
    }
    if (!found.choice) return refused(no_rota(query, terms.groups_max, found.proved));

    v1::Answer answer;
    auto& reply = *answer.mutable_rota();
    reply.set_margin_db(query.margin_db());
    add_worth(scene, found, terms, reply);
    for (const auto& aside : whom->asides) *reply.add_asides() = aside;
    const auto planned = scene.planned_day(*found.tables, *found.choice, found.numbers);
    for (auto& group :
         flying_order(planned, scene.choices(planned), query.round(),
                      is_standing(terms) ? std::nullopt : std::optional(scene.first_group())))
        *reply.add_groups() = std::move(group);
    add_controls(planned, reply);
    add_remarks(planned, reply);
    add_said(scene, reply);
    add_who_does_not_count(scene, *found.tables, *found.choice, reply);
    reply.set_seconds(day::milli(watch.seconds()));
    return answer;
}

}  // namespace fieldpeg::planning
