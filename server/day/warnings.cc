#include "server/day/warnings.h"

#include "server/day/state.h"
#include "server/day/words.h"

namespace fieldpeg::day {
namespace {

bool is_worse(const spectrum::Standing& was, const spectrum::Standing& is) {
    const bool lower =
        was.ref - is.ref >= spectrum::Decibel(warning_hysteresis_db) ||
        was.reported_worst() - is.reported_worst() >= spectrum::Decibel(warning_hysteresis_db);
    return lower && (spectrum::verdict(is) > spectrum::verdict(was) ||
                     spectrum::picture(is) > spectrum::picture(was) || spectrum::harms(was, is));
}

bool costs(const spectrum::Standing& was, const spectrum::Standing& is) {
    return was.ref - is.ref >= spectrum::Decibel(warning_hysteresis_db);
}

}  // namespace

std::vector<v1::Warning> warnings(const v1::DayState& before, const v1::DayState& after,
                                  const Cause& cause) {
    const auto was = standings(before.sheet(), v1::Basis::on_air);
    const auto is = standings(after.sheet(), v1::Basis::on_air);
    const auto by = cause.is_sighting ? std::nullopt : holder(after.sheet(), cause.id);
    std::vector<v1::Warning> all;
    for (int i = 0; i < before.sheet().pilots_size(); ++i) {
        const auto& pilot = before.sheet().pilots(i);
        const auto n = static_cast<std::size_t>(i);
        if (n >= is.size() || !was[n]) continue;
        const bool own = by && by->owner == pilot.id();
        v1::Warning w;
        if (!is[n]) {  // the picture goes with its source: only a relay's owner did not see it
                       // coming
            if (!own || !cause.is_relay || cause.by == pilot.id()) continue;
            w.set_kind(v1::Warning::source_off);
        } else if (own) {
            continue;
        } else if (is_worse(*was[n], *is[n])) {
            w.set_kind(cause.allowed    ? v1::Warning::allowed
                       : cause.is_relay ? v1::Warning::relay_on
                                        : v1::Warning::worse);
        } else if (cause.is_relay && cause.comes_on && costs(*was[n], *is[n])) {
            w.set_kind(v1::Warning::relay_on);
        } else {
            continue;
        }
        w.set_pilot(pilot.id());
        w.set_cause(cause.id);
        w.set_cause_is_sighting(cause.is_sighting);
        w.set_before(word(spectrum::verdict(was[n])));
        w.set_after(word(spectrum::verdict(is[n])));
        w.set_margin_before_db(milli(was[n]->ref.count()));
        if (is[n]) w.set_margin_after_db(milli(is[n]->ref.count()));
        *w.mutable_channel() = cause.channel;
        w.set_power_dbm(cause.power_dbm);
        all.push_back(std::move(w));
    }
    return all;
}

}  // namespace fieldpeg::day
