#include "server/day/trial.h"

#include "server/day/reasons.h"
#include "server/day/remarks.h"
#include "server/day/results.h"
#include "server/day/state.h"
#include "server/spectrum/relay_window.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::day {

bool in_trouble(v1::Verdict::Word verdict) {
    return verdict == v1::Verdict::shaky || verdict == v1::Verdict::clash ||
           verdict == v1::Verdict::control_at_risk;
}

Trial::InFlight::InFlight(v1::DaySheet sheet, std::uint32_t subject, v1::Basis::Kind basis)
    : sheet_(std::move(sheet)),
      subject_(subject),
      owner_(holder(sheet_, subject)->owner_name),
      name_(holder(sheet_, subject)->name),
      basis_(basis) {}

/// How everybody stands with the subject where it would be and silent, its ground side too.
Standings Trial::InFlight::without(v1::Claim claim, Memory& memory) {
    claim.set_stage(v1::Claim::on_air);  // on the bench it would send at bench power
    claim.set_power_dbm(spectrum::switched_off.count());
    claim_of(sheet_, subject_) = std::move(claim);
    v1::Emitter* uplink = nullptr;
    for (auto& pilot : *sheet_.mutable_pilots())
        if (pilot.id() == subject_ && pilot.has_uplink()) uplink = pilot.mutable_uplink();
    if (!uplink) return standings(sheet_, basis_, memory);
    const double power_dbm = uplink->power_dbm();
    uplink->set_power_dbm(spectrum::switched_off.count());
    auto all = standings(sheet_, basis_, memory);
    uplink->set_power_dbm(power_dbm);
    return all;
}

Trial::Outcome Trial::InFlight::outcome(const v1::Claim& claim, Memory& memory) {
    if (!before_) before_ = without(claim, memory);
    claim_of(sheet_, subject_) = claim;
    const Assessment after(sheet_, basis_, memory);
    const Comparison comparison(*before_, after);

    Outcome result;
    result.harms = comparison.harms({owner_});
    result.links_lost = comparison.links_lost({owner_});
    if (const auto t = after.situation().transmitter(name_))
        result.remarks = remarks(after.situation(), *t, sheet_);
    for (const auto& pilot : sheet_.pilots()) {
        if (pilot.name() == owner_) {
            result.own = pilot_result(after, pilot);
            result.reason = result.own.reason();
            const auto& at = after.at_worst_for(pilot);
            result.plight = at.plight(pilot);
            if (const auto own = at.standing(pilot)) result.alone = own->reach_good;
            result.alone_sharp = at.reach_sharp(pilot);
            continue;
        }
        const auto is = after.at_worst_for(pilot).standing(pilot);
        if (!is) continue;
        const double margin_db = is->worst().count();
        result.least_other_db = std::min(result.least_other_db.value_or(margin_db), margin_db);
    }
    if (!result.alone)  // a relay whose aircraft holds nothing yet: its own hop
        for (const auto& link : after.day_links())
            if (const auto hop = after.standing(link); hop && link.hears == name_)
                result.alone = std::max(result.alone.value_or(hop->reach_good), hop->reach_good);
    return result;
}

Trial::Trial(const v1::DaySheet& sheet, std::uint32_t subject, v1::Basis::Kind basis,
             const std::vector<std::uint32_t>& groups, Memory* memory)
    : memory_(memory ? *memory : own_) {
    for (const auto group : groups) flights_.emplace_back(of_group(sheet, group), subject, basis);
}

Trial::Outcome Trial::outcome(const v1::Claim& claim) {
    auto worst = flights_.front().outcome(claim, memory_);
    for (std::size_t i = 1; i < flights_.size(); ++i)
        add(flights_[i].outcome(claim, memory_), worst);
    return worst;
}

void Trial::add(Outcome of, Outcome& to) {
    if (of.plight > to.plight) {
        to.own = std::move(of.own);
        to.reason = std::move(of.reason);
        to.plight = of.plight;
    }
    const auto take_less = [](const auto& one, auto& less) {
        if (one) less = std::min(*one, less.value_or(*one));
    };
    take_less(of.alone, to.alone);
    take_less(of.alone_sharp, to.alone_sharp);
    add_harms(std::move(of.harms), to.harms);
    add_harms(std::move(of.links_lost), to.links_lost);
    if (of.least_other_db)
        to.least_other_db =
            std::min(*of.least_other_db, to.least_other_db.value_or(*of.least_other_db));
}

}  // namespace fieldpeg::day
