#include "server/day/reasons.h"

#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::day {
namespace {

using spectrum::Demand;
using spectrum::Geometry;

/// What a disturbance does, as the sentence that a verdict comes with.
std::string disturbance_text(const Situation& situation, const spectrum::Contribution& c) {
    const auto who = [&](std::size_t t) {
        const auto& of = situation.transmitters[t];
        return fmt::format("{} on {}", of.name, of.channel.name());
    };
    switch (c.kind) {
        case spectrum::Contribution::Kind::co_channel:
            return fmt::format("{} is on the same channel", who(c.from[0]));
        case spectrum::Contribution::Kind::adjacent:
            return fmt::format("{} leaks across", who(c.from[0]));
        case spectrum::Contribution::Kind::receiver_product:
            return fmt::format("the product of {} and {}{} at {} MHz", who(c.from[0]),
                               who(c.from[1]), c.from.size() > 2 ? " and " + who(c.from[2]) : "",
                               mhz_text(spectrum::mhz(*c.product)));
        case spectrum::Contribution::Kind::transmitter_product:
            break;
    }
    return fmt::format("{} mixes with {} in its transmitter, product at {} MHz", who(c.from[1]),
                       who(c.from[0]), mhz_text(spectrum::mhz(*c.product)));
}

std::string why_no_picture(const Assessment& a, const ReceiverOf& of) {
    if (const auto heard = a.situation().transmitter(of.hears))
        return of.can_tune ? fmt::format("{} is on the bench", of.hears)
                           : fmt::format("cannot be tuned to {}",
                                         channel_text(a.situation().transmitters[*heard].channel));
    if (const auto holds = holder(a.sheet(), of.hears); holds && holds->claim)
        return fmt::format("{} is not on the air", of.hears);
    return fmt::format("{} holds no channel", of.hears);
}

std::string front_end_text(const Assessment& a, std::size_t v) {
    const auto signals =
        spectrum::front_end_signals(a.situation().scene, a.links(), v, Geometry::ref, 1);
    const auto& of = a.situation().transmitters[signals.front().transmitter];
    return fmt::format("{} on {} ({:.1f} dBm at its front end)", of.name, of.channel.name(),
                       signals.front().level.count());
}

}  // namespace

std::string reason(const Assessment& a, std::size_t v,
                   const std::optional<spectrum::Contribution>& strongest) {
    const auto& of = a.situation().receivers[v];
    if (!a.budgets(v)) return why_no_picture(a, of);
    const auto& profile = a.profile(v);
    const auto& budget = (*a.budgets(v))[0];
    const auto& heard = a.situation().scene.transmitters[*a.situation().scene.receivers[v].hears];
    if (!spectrum::is_in_front_end(profile, heard.frequency))
        return "its channel lies outside the band of the receiver";
    const auto verdict = spectrum::verdict(a.standing(v));
    if (verdict == spectrum::Verdict::too_far)
        return "the area is larger than power and antennas reach";
    const auto m = spectrum::margins(budget, profile, Demand::watchable);
    if (m.closeness < spectrum::Decibel(0)) return "too close to its own transmitter";
    const bool in_trouble =
        verdict == spectrum::Verdict::shaky || verdict == spectrum::Verdict::clash;
    const bool felt = budget.desensitisation > spectrum::Decibel(1);
    if (spectrum::is_swamped(budget, profile) && (in_trouble || felt))
        return (in_trouble ? "swamped by " : "weakened by ") + front_end_text(a, v);
    const bool quiet = budget.interference_mw() < spectrum::milliwatts(budget.noise) / 4;
    if (!strongest || (quiet && !in_trouble)) return "noise and range";
    return disturbance_text(a.situation(), *strongest);
}

std::string reason(const Assessment& a, std::size_t v) {
    const auto terms =
        a.budgets(v) ? a.contributions(v, Geometry::ref, 1) : std::vector<spectrum::Contribution>();
    return reason(a, v, terms.empty() ? std::nullopt : std::optional(terms.front()));
}

std::string reason(const Assessment& a, const v1::Pilot& pilot) {
    const auto v = a.ruling_receiver(pilot);
    return v ? reason(a, *v) : "";
}

}  // namespace fieldpeg::day
