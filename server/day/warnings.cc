#include "server/day/warnings.h"

#include "server/day/state.h"
#include "server/day/trial.h"
#include "server/day/words.h"

#include <algorithm>
#include <functional>
#include <optional>

namespace fieldpeg::day {
namespace {

/// Nobody is called whose verdict stays what it was and who has more left [ours].
constexpr spectrum::Decibel thin_margin{3};

/// What there is to tell somebody; none: nothing. `is` is none if nothing arrives any more, `own`
/// whether it was their transmitter, `self` whether they did it.
std::optional<v1::Warning::Kind> kind(const spectrum::Standing& was,
                                      const std::optional<spectrum::Standing>& is,
                                      const Cause& cause, bool own, bool self) {
    // The picture goes with its source: only a relay's owner did not see it coming.
    if (!is && own && cause.is_relay && !self) return v1::Warning::source_off;
    if (!is || own) return std::nullopt;
    const Change change{was, *is};
    const bool is_thin = is->worst() < thin_margin;
    const bool is_another_word = spectrum::verdict(*is) > spectrum::verdict(was);
    if (change.is_worse() && (is_another_word || is_thin)) {
        if (cause.allowed) return v1::Warning::allowed;
        return cause.is_relay ? v1::Warning::relay_on : v1::Warning::worse;
    }
    if (cause.is_relay && cause.comes_on && change.is_felt() && is_thin)
        return v1::Warning::relay_on;
    return std::nullopt;
}

std::optional<spectrum::Standing> of(const Standings& standings, const std::string& pilot) {
    const auto found = standings.pilots.find(pilot);
    return found == standings.pilots.end() ? std::nullopt : std::optional(found->second);
}

/// Whose control was not at risk and is.
std::vector<const v1::Pilot*> loses_control(const Standings& before, const Standings& after,
                                            const v1::DaySheet& sheet) {
    std::vector<const v1::Pilot*> all;
    for (const auto& [name, is] : after.controls) {
        const auto was = before.controls.find(name);
        if (was != before.controls.end() && ControlChange{was->second, is}.is_harm())
            all.push_back(day::pilot(sheet, name));
    }
    return all;
}

/// Their picture was as it was before.
void lost_control(v1::Warning& w, const Standings& before, const std::string& pilot) {
    w.set_after(v1::Verdict::control_at_risk);
    w.set_before(word(spectrum::verdict(of(before, pilot))));
}

/// A day, and how everybody stands in it by what is on the air.
struct Moment {
    Moment(const v1::DaySheet& of, Memory& memory)
        : sheet(of), is(standings(of, v1::Basis::on_air, memory)) {}

    const v1::DaySheet& sheet;
    Standings is;
};

/// Whom a cause harms at one of its powers.
std::vector<v1::Warning> harmed(const Moment& before, const Moment& after, const Cause& cause) {
    const auto by = cause.is_sighting ? std::nullopt : holder(after.sheet, cause.id);
    std::vector<v1::Warning> all;
    const auto warned = [&](const v1::Pilot& pilot, v1::Warning::Kind kind) -> v1::Warning& {
        auto& w = all.emplace_back();
        w.set_kind(kind);
        w.set_pilot(pilot.id());
        w.set_cause(cause.id);
        w.set_cause_is_sighting(cause.is_sighting);
        *w.mutable_channel() = cause.channel;
        w.set_power_dbm(cause.power_dbm);
        return w;
    };
    for (const auto& of : loses_control(before.is, after.is, after.sheet))
        if (!by || by->owner != of->id())
            lost_control(warned(*of, cause.allowed ? v1::Warning::allowed : v1::Warning::worse),
                         before.is, of->name());
    for (const auto& pilot : before.sheet.pilots()) {
        const auto was = of(before.is, pilot.name());
        if (!was || !day::pilot(after.sheet, pilot.id())) continue;
        const auto is = of(after.is, pilot.name());
        const bool own = by && by->owner == pilot.id();
        const auto what = kind(*was, is, cause, own, cause.by == pilot.id());
        if (!what) continue;
        auto& w = warned(pilot, *what);
        w.set_before(word(spectrum::verdict(*was)));
        w.set_after(word(spectrum::verdict(is)));
        w.set_margin_before_db(milli(was->good.count()));
        if (is) w.set_margin_after_db(milli(is->good.count()));
    }
    return all;
}

/// What the cause could do: the highest lower step at which nobody is called and its own picture
/// stays, else off. Of a sighting nobody knows whose it is; what the marshal allowed, stays.
void add_remedy(const Moment& before, const v1::DaySheet& after, const Cause& cause, Memory& memory,
                std::vector<v1::Warning>& all) {
    const auto by = cause.is_sighting ? std::nullopt : holder(after, cause.id);
    if (all.empty() || cause.allowed || !by || !by->gear || !by->radiates()) return;
    std::vector<double> steps(by->gear->power_dbm().begin(), by->gear->power_dbm().end());
    std::ranges::sort(steps, std::greater());
    auto lower = after;
    std::optional<double> enough;
    for (const double step : steps) {
        if (step >= cause.power_dbm || enough) continue;
        claim_of(lower, cause.id).set_power_dbm(step);
        const Moment at_step(lower, memory);
        const auto seen = of(at_step.is, by->owner_name);
        const bool sees = !seen || !in_trouble(word(spectrum::verdict(*seen)));
        if (sees && harmed(before, at_step, cause).empty()) enough = step;
    }
    for (auto& w : all) {
        if (w.kind() != v1::Warning::worse && w.kind() != v1::Warning::relay_on) continue;
        w.set_remedy(enough ? v1::Warning::lower : v1::Warning::off);
        if (enough) w.set_remedy_dbm(*enough);
    }
}

}  // namespace

std::vector<v1::Warning> warnings(const v1::DayState& before, const v1::DayState& after,
                                  const Cause& cause, Memory& memory) {
    const Moment was(before.sheet(), memory);
    auto all = harmed(was, Moment(after.sheet(), memory), cause);
    add_remedy(was, after.sheet(), cause, memory, all);
    return all;
}

}  // namespace fieldpeg::day
