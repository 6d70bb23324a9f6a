#include "server/day/warnings.h"

#include "server/day/state.h"
#include "server/day/words.h"

#include <optional>

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

/// What there is to tell somebody; none: nothing. `own` is whose transmitter it was, `self` who did
/// it.
std::optional<v1::Warning::Kind> kind(const spectrum::Standing& was,
                                      const std::optional<spectrum::Standing>& is,
                                      const Cause& cause, bool own, bool self) {
    // The picture goes with its source: only a relay's owner did not see it coming.
    if (!is && own && cause.is_relay && !self) return v1::Warning::source_off;
    if (!is || own) return std::nullopt;
    if (is_worse(was, *is)) {
        if (cause.allowed) return v1::Warning::allowed;
        return cause.is_relay ? v1::Warning::relay_on : v1::Warning::worse;
    }
    if (cause.is_relay && cause.comes_on && costs(was, *is)) return v1::Warning::relay_on;
    return std::nullopt;
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
        const auto what = kind(*was[n], is[n], cause, own, cause.by == pilot.id());
        if (!what) continue;
        v1::Warning w;
        w.set_kind(*what);
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
