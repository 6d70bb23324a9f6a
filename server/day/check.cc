#include "server/day/check.h"

#include "server/day/outlooks.h"
#include "server/day/remarks.h"
#include "server/day/results.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/spectrum/reach.h"
#include "server/spectrum/relay_window.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <utility>

namespace fieldpeg::day {
namespace {

void add_reach(const Assessment& a, std::size_t v, v1::CheckReply& reply) {
    const auto standing = a.standing(v);
    const auto& scene = a.situation().scene;
    const auto& receiver = scene.receivers[v];
    if (!standing || spectrum::range(*standing) != spectrum::Range::too_far) return;
    const auto& transmitter = scene.transmitters[*receiver.hears];
    auto* entry = reply.add_too_far();
    entry->set_owner(a.situation().receivers[v].owner);
    entry->set_receiver(a.situation().receivers[v].name);
    const double lacking_db = -standing->alone_usable.count();
    entry->set_lacking_db(milli(lacking_db));
    const double others = standing->cost().count();
    if (others > 0) entry->set_others_db(milli(others));
    std::string text = fmt::format("picture in {} of the flight, {:.1f} dB short of 80 %",
                                   share_text(a.shares(v)->alone), lacking_db);
    if (const auto* area = std::get_if<spectrum::Envelope>(&transmitter.at)) {
        constexpr double nearly = 0.97;  // then it is not distance that is lacking
        const auto rim = spectrum::far_rim(*area, receiver.at);
        const spectrum::Direction out{rim.azimuth,
                                      spectrum::Metres((area->z_low_m + area->z_high_m) / 2)};
        const auto reach = spectrum::reach(out, transmitter, receiver, *a.reception(v),
                                           spectrum::usable_share, spectrum::Air::alone);
        const double reaches_m = reach ? reach->to.count() : 0;
        if (reaches_m < nearly * rim.distance.count())
            text += fmt::format("; it carries about {:.0f} of {:.0f} m", reaches_m,
                                rim.distance.count());
    }
    if (others >= 0.05) text += fmt::format("; others cost {:.1f} dB on top", others);
    entry->set_text(text);
}

std::string bench_text(const TransmitterOf& who, const v1::BenchAdvice& b) {
    constexpr double step_m = 0.8, sensible_m = 100, sensible_dbm = -20;
    std::string help;
    if (b.has_power_max_dbm() && b.power_max_dbm() >= sensible_dbm)
        help = fmt::format("pit mode of at most {}", power_text(b.power_max_dbm()));
    if (b.has_step_back_m() && b.step_back_m() <= sensible_m)
        help += fmt::format("{}{:.0f} m back ({:.0f} steps)", help.empty() ? "" : ", or ",
                            std::ceil(b.step_back_m()), std::ceil(b.step_back_m() / step_m));
    if (help.empty())
        help = fmt::format("unplug, take another channel, or wait until {} has landed",
                           b.harms_owner());
    return fmt::format("{} on the bench on {} at {} breaks {}'s picture: {}", who.name,
                       channel_text(who.channel), power_text(b.power_dbm()), b.harms_owner(), help);
}

void add_bench(const Assessment& a, std::size_t t, v1::CheckReply& reply) {
    const auto& who = a.situation().transmitters[t];
    if (who.stage != v1::Claim::bench) return;
    // Each against a day without the others on the bench: two who break one picture both hear it.
    auto scene = a.situation().scene;
    for (std::size_t other = 0; other < scene.transmitters.size(); ++other)
        if (other != t && a.situation().transmitters[other].stage == v1::Claim::bench)
            scene.transmitters[other].power = spectrum::switched_off;
    const auto advice = spectrum::bench_advice(scene, a.links(), t);
    if (!advice.harmed_first) return;
    if (std::ranges::find(reply.bench(), who.name, &v1::BenchAdvice::transmitter) !=
        reply.bench().end())
        return;  // said of another group
    const auto& harmed = a.situation().receivers[*advice.harmed_first];
    auto* entry = reply.add_bench();
    entry->set_owner(who.owner);
    entry->set_transmitter(who.name);
    entry->set_power_dbm(milli(a.situation().scene.transmitters[t].power.count()));
    entry->set_harms_owner(harmed.owner);
    entry->set_harms_receiver(harmed.name);
    if (advice.power_max) entry->set_power_max_dbm(milli(advice.power_max->count()));
    if (advice.step_back) entry->set_step_back_m(milli(advice.step_back->count()));
    entry->set_text(bench_text(who, *entry));
}

/// All that is said once, of whatever group.
void add_said(const Flights& flights, const v1::DaySheet& sheet, v1::Basis::Kind basis,
              v1::CheckReply& reply) {
    const auto situation = day::situation(sheet, basis);
    for (std::size_t t = 0; t < situation.transmitters.size(); ++t)
        for (auto& remark : remarks(situation, t, sheet)) *reply.add_remarks() = std::move(remark);
    for (const auto& flight : flights.all()) {
        const auto& a = flight->assessment;
        for (std::size_t t = 0; t < a.situation().transmitters.size(); ++t) add_bench(a, t, reply);
        for (const auto& caution : cautions(a))
            if (std::ranges::find(reply.cautions(), caution.text) == reply.cautions().end())
                reply.add_cautions(caution.text);
    }
}

}  // namespace

v1::CheckReply check(const v1::DaySheet& sheet, v1::Basis::Kind basis, std::size_t contributions,
                     const Asked& asked) {
    const Flights flights(sheet, basis, asked);
    v1::CheckReply reply;
    reply.set_basis(basis);
    reply.set_model(std::string(model_name));
    if (flights.are_groups())
        for (const auto& flight : flights.all()) reply.add_groups(flight->group);
    const auto& receivers = flights.all().front()->assessment.situation().receivers;
    for (std::size_t v = 0; v < receivers.size(); ++v) {
        const auto& owner = *pilot(sheet, receivers[v].owner);
        if (!flights.has(owner)) continue;
        const auto& at = flights.of(owner).assessment.at_worst_for(owner);
        *reply.add_receivers() = receiver_result(at, v, contributions);
        add_reach(at, v, reply);
    }
    std::map<const Assessment*, Outlooks> outlooks;
    for (const auto& pilot : sheet.pilots()) {
        if (!flights.has(pilot)) continue;
        const auto& flight = flights.of(pilot);
        const auto& a = flight.assessment;
        auto& result = *reply.add_pilots() = pilot_result(a, pilot);
        if (flights.are_groups()) result.set_group(flight.group);
        const auto& doubts = outlooks.try_emplace(&a, a).first->second;
        if (auto outlook = doubts.of(pilot)) *result.mutable_outlook() = *std::move(outlook);
    }
    add_said(flights, sheet, basis, reply);
    return reply;
}

}  // namespace fieldpeg::day
