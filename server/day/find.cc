#include "server/day/find.h"

#include "server/day/assessment.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <algorithm>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

/// What can be told from snow, and followed [ours: half of what a watchable picture needs].
constexpr double stands_out_db = 3;
constexpr double head_height_m = 1.7;
/// A wreck in the grass: no higher than this.
constexpr double lies_below_m = 0.5;
const std::string where_they_walk = "where they walk";
const std::string where_it_lies = "where it lies";

/// The day as it is for whoever walks out: the aircraft on the ground, its receivers carried.
v1::DaySheet carried_out(v1::DaySheet sheet, std::uint32_t pilot, const v1::Area& area) {
    auto& ground = *sheet.mutable_field()->add_areas();
    ground = area;
    ground.set_name(where_it_lies);
    ground.set_low_m(0);
    ground.set_high_m(lies_below_m);
    auto& walker = *sheet.mutable_field()->add_places();
    walker.set_name(where_they_walk);
    walker.set_east_m(area.east_m());
    walker.set_north_m(area.north_m());
    walker.set_height_m(head_height_m);
    for (auto& p : *sheet.mutable_pilots()) {
        if (p.id() != pilot) continue;
        p.set_area(where_it_lies);
        p.clear_control();
        for (auto& receiver : *p.mutable_receivers()) {
            receiver.set_place(where_they_walk);
            receiver.mutable_mounting()->set_faces_aircraft(true);
            receiver.mutable_mounting()->clear_facing_deg();
        }
    }
    return sheet;
}

struct Heard {
    double above_db;
    std::string receiver;
};

/// By that of its owner's receivers that does best; none if none of them can hear it.
std::optional<Heard> heard(const v1::DaySheet& sheet, const std::string& owner) {
    const Assessment a(sheet, v1::Basis::on_air);
    std::optional<Heard> best;
    for (std::size_t r = 0; r < a.situation().receivers.size(); ++r) {
        const auto& receiver = a.situation().receivers[r];
        const auto& reception = a.reception(r);
        if (receiver.owner != owner || !receiver.relay.empty() || !reception) continue;
        const double above_db =
            (reception->wanted(spectrum::usable_share) - reception->floor(spectrum::Air::closest))
                .count();
        if (!best || above_db > best->above_db) best = {above_db, receiver.name};
    }
    return best;
}

/// Those who could be switched off, but for the lost one.
std::vector<std::uint32_t> on_the_air(const v1::DaySheet& sheet, std::uint32_t lost) {
    std::vector<std::uint32_t> all;
    for_each_holder(sheet, [&](const auto& one) {
        if (one.id() != lost && one.has_claim() && radiates(one.claim().stage()))
            all.push_back(one.id());
    });
    return all;
}

}  // namespace

Result<v1::FindReply> find(const v1::DaySheet& sheet, const v1::Pilot& lost) {
    const auto refuse = [&](std::string why, std::string next) {
        return Refusal{Refusal::Kind::conflict, lost.name(), std::move(why), std::move(next)};
    };
    if (lost.claim().stage() != v1::Claim::down)
        return refuse("is not down", "'fieldpeg off --down' says that it is");
    const auto area = std::ranges::find(sheet.field().areas(), lost.area(), &v1::Area::name);
    if (area == sheet.field().areas().end()) return refuse("flies in no area", "");
    auto out = carried_out(sheet, lost.id(), *area);
    auto now = heard(out, lost.name());
    if (!now) return refuse("has no receiver that hears it", "look where it was seen last");

    v1::FindReply reply;
    reply.set_transmitter(lost.name());
    *reply.mutable_channel() = lost.claim().channel();
    reply.set_power_dbm(milli(lost.claim().power_dbm()));
    reply.set_area(lost.area());
    reply.set_lies(lost.claim().lies());
    reply.set_above_db(milli(now->above_db));
    auto others = on_the_air(out, lost.id());
    while (now->above_db < stands_out_db && !others.empty()) {
        std::optional<std::size_t> best;
        std::optional<Heard> then;
        for (std::size_t i = 0; i < others.size(); ++i) {
            auto without = out;
            drop_claim(without, others[i]);
            const auto is = heard(without, lost.name());
            if (is && (!then || is->above_db > then->above_db)) {
                best = i;
                then = is;
            }
        }
        constexpr double no_help_db = 0.05;
        if (!best || then->above_db - now->above_db < no_help_db) break;
        reply.add_silent(holder(out, others[*best])->name);
        drop_claim(out, others[*best]);
        others.erase(others.begin() + static_cast<std::ptrdiff_t>(*best));
        now = then;
    }
    reply.set_above_silent_db(milli(now->above_db));
    reply.set_receiver(now->receiver);
    reply.set_is_heard(now->above_db >= stands_out_db);
    if (!reply.is_heard()) reply.clear_silent();  // it would be for nothing
    for (auto& name : who_flies_over(sheet, lost)) reply.add_flies_there(std::move(name));
    return reply;
}

}  // namespace fieldpeg::day
