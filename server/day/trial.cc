#include "server/day/trial.h"

#include "server/day/assessment.h"
#include "server/day/remarks.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <algorithm>

namespace fieldpeg::day {
namespace {

/// The receiver that is worst off among those that a pilot's picture comes through.
std::optional<std::size_t> weakest_receiver(const Assessment& a, const v1::Pilot& pilot) {
    std::optional<std::size_t> weakest;
    for (std::size_t v = 0; v < a.situation().receivers.size(); ++v) {
        if (a.situation().receivers[v].owner != pilot.name() || !a.standing(v)) continue;
        if (!weakest || a.standing(v)->ref < a.standing(*weakest)->ref) weakest = v;
    }
    return weakest;
}

std::string reason_of(const Assessment& a, const v1::Pilot& pilot) {
    const auto v = weakest_receiver(a, pilot);
    return v ? receiver_result(a, *v, 1).reason() : "";
}

Standings standings(const Assessment& a) {
    Standings all;
    for (const auto& pilot : a.sheet().pilots()) all.push_back(a.standing(pilot));
    return all;
}

/// So weak that it is as good as not there, and the link gains are the same.
constexpr double silent_dbm = -300;

}  // namespace

v1::Harm harm(const Assessment& after, const v1::Pilot& pilot, const spectrum::Standing& was,
              const spectrum::Standing& is) {
    v1::Harm h;
    h.set_pilot(pilot.name());
    h.set_before(word(spectrum::verdict(was)));
    h.set_after(word(spectrum::verdict(is)));
    h.set_margin_before_db(milli(was.ref.count()));
    h.set_margin_after_db(milli(is.ref.count()));
    h.set_through(reason_of(after, pilot));
    h.set_on_air(pilot.has_claim() && radiates(pilot.claim().stage()));
    return h;
}

bool in_trouble(v1::Verdict::Word verdict) {
    return verdict == v1::Verdict::shaky || verdict == v1::Verdict::clash;
}

Standings standings(const v1::DaySheet& sheet, v1::Basis::Kind basis) {
    return standings(Assessment(sheet, basis));
}

Trial::Trial(v1::DaySheet sheet, std::uint32_t subject, v1::Basis::Kind basis)
    : sheet_(std::move(sheet)),
      subject_(subject),
      owner_(holder(sheet_, subject)->owner),
      name_(holder(sheet_, subject)->name),
      basis_(basis) {}

Trial::Outcome Trial::outcome(const v1::Claim& claim) {
    auto& held = claim_of(sheet_, subject_);
    if (!links_) {
        held = claim;
        held.set_stage(v1::Claim::on_air);  // on the bench it would send at bench power
        held.set_power_dbm(silent_dbm);
        const Assessment before(sheet_, basis_);
        before_ = standings(before);
        links_ = before.links();
    }
    held = claim;
    const Assessment after(sheet_, basis_, *links_, name_);

    Outcome result;
    if (const auto t = after.situation().transmitter(name_))
        result.remarks = remarks(after.situation(), *t, sheet_);
    for (int i = 0; i < sheet_.pilots_size(); ++i) {
        const auto& pilot = sheet_.pilots(i);
        const auto is = after.standing(pilot);
        if (pilot.id() == owner_) {
            result.own = pilot_result(after, pilot);
            result.reason = reason_of(after, pilot);
            continue;
        }
        if (!is) continue;
        const double margin_db = is->reported_worst().count();
        result.least_other_db = std::min(result.least_other_db.value_or(margin_db), margin_db);
        const auto& was = before_[static_cast<std::size_t>(i)];
        if (was && spectrum::harms(*was, *is))
            result.harms.push_back(harm(after, pilot, *was, *is));
    }
    return result;
}

}  // namespace fieldpeg::day
