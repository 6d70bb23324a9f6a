#include "server/planner/room.h"
#include "server/planner/plan.h"

#include "server/book/names.h"
#include "server/day/state.h"
#include "server/planning/planner_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace fieldpeg::planning {
namespace {

using planner::Tables;
using spectrum::Decibel;

constexpr std::uint32_t room_asked = 8;
constexpr std::uint32_t room_max = 40;

/// A pilot's gear as that of somebody who may yet come, with what they could choose from.
Result<PlanScene> free_to_choose(v1::DaySheet sheet, const v1::Pilot& like) {
    day::drop_claim(sheet, like.id());
    PlanFor newcomer;
    newcomer.planned.add_who(like.name());
    return PlanScene::make(sheet, newcomer);
}

planner::Newcomer newcomer(const planner::Question& question, std::size_t t) {
    planner::Newcomer one{question.scene.transmitters[t], {}, question.allowed[t]};
    for (const auto& receiver : question.scene.receivers)
        if (receiver.hears == t) {
            one.receivers.push_back(receiver);
            one.receivers.back().feeds.reset();  // of a relay's way the first hop counts
        }
    for (const auto& beside : question.beside)
        if (beside.follows == t) one.beside.push_back(beside);
    return one;
}

}  // namespace

v1::Answer answer(const v1::RoomQuery& query, const v1::DaySheet& sheet, const Work& work) {
    if (const auto wrong = fault(query)) return refused(*wrong);
    const auto names = book::names_of(sheet.pilots());
    const auto* like = book::find_named(sheet.pilots(), query.like());
    if (!like || !like->has_video())
        return refused({Refusal::Kind::not_found, "like",
                        fmt::format("no pilot with a transmitter is called '{}'",
                                    book::printable(query.like())),
                        fmt::format("one of {}", fmt::join(names, ", "))});
    const auto kind = free_to_choose(sheet, *like);
    if (!kind) return refused(kind.error());
    PlanFor field{query.planned(), false};
    if (like->claim().group() != 0) field.group = like->claim().group();
    const auto scene = PlanScene::make(sheet, field);
    if (!scene) return refused(scene.error());

    const auto t = *kind->seat(like->name());
    const auto asked = newcomer(kind->question(), t);
    auto question = scene->question();
    question.accept = accept(query.planned());
    const auto most = query.has_most() ? std::min(query.most(), room_max) : room_asked;
    Watch watch(seconds_of(query.planned()), "looking for room", work);
    question = planner::with_fewest_who_pay(std::move(question), watch.effort());
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
    if (!planner::has_good_flight(question, asked))
        reply.add_said(fmt::format(
            "{} has no good flight even with nobody else on the air, which no channel cures",
            like->name()));
    if (without_them.best && std::isfinite(without_them.worst_db) &&
        without_them.worst_db < query.margin_db())
        reply.add_said(fmt::format("even with nobody added the worst margin is only {:+.1f} dB",
                                   without_them.worst_db));
    add_said(*kind, reply);
    reply.set_seconds(day::milli(watch.seconds()));
    return answer;
}

}  // namespace fieldpeg::planning
