#include "server/day/reasons.h"

#include "server/day/state.h"
#include "server/day/words.h"
#include "server/spectrum/reach.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace fieldpeg::day {
namespace {

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
        case spectrum::Contribution::Kind::burst:
            return fmt::format("bursts of {}", who(c.from[0]));
        case spectrum::Contribution::Kind::harmonic:
            return fmt::format("a harmonic of {} at {} MHz", who(c.from[0]),
                               mhz_text(spectrum::mhz(*c.product)));
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
    if (const auto heard = a.situation().transmitter(of.hears)) {
        const auto& transmitter = a.situation().transmitters[*heard];
        if (!of.can_show)
            return fmt::format("{} cannot show what {} sends ({})", of.gear->receiver(), of.hears,
                               transmitter.gear->emission());
        if (!of.can_tune)
            return fmt::format("cannot be tuned to {}", channel_text(transmitter.channel));
        return fmt::format("{} is on the bench", of.hears);
    }
    if (const auto holds = holder(a.sheet(), of.hears); holds && holds->claim)
        return fmt::format("{} is not on the air", of.hears);
    return fmt::format("{} holds no channel", of.hears);
}

std::string front_end_text(const Assessment& a, std::size_t v, Geometry geometry) {
    const auto signals = a.front_end_signals(v, geometry, 1);
    const auto& of = a.situation().transmitters[signals.front().transmitter];
    return fmt::format("{} on {} ({:.1f} dBm at its front end)", of.name, of.channel.name(),
                       signals.front().level.count());
}

/// What the others do in a geometry.
std::string others_text(const Assessment& a, std::size_t v, Geometry geometry, bool in_trouble) {
    const auto& reception = *a.reception(v);
    const auto& budget = reception.budget(geometry);
    const bool felt = budget.desensitisation > spectrum::Decibel(1);
    const auto terms = a.contributions(v, geometry, 1);
    const bool on_the_channel =
        !terms.empty() && terms.front().kind == spectrum::Contribution::Kind::co_channel;
    const bool swamped = on_the_channel ? spectrum::is_ruled_by_desensitisation(reception, geometry)
                                        : spectrum::is_swamped(reception, geometry);
    if (swamped && (in_trouble || felt))
        return (in_trouble ? "swamped by " : "weakened by ") + front_end_text(a, v, geometry);
    const bool quiet = budget.interference_mw() < spectrum::milliwatts(reception.noise) / 4;
    if (terms.empty() || (quiet && !in_trouble)) return "noise and range";
    return disturbance_text(a.situation(), terms.front());
}

/// Why the flight is not good though nobody disturbs it.
std::string range_text(const Assessment& a, std::size_t v) {
    constexpr double nearly = 0.97;  // then it is not distance that is lacking
    const auto& scene = a.situation().scene;
    const auto& receiver = scene.receivers[v];
    const auto& transmitter = scene.transmitters[*receiver.hears];
    const auto* area = std::get_if<spectrum::Envelope>(&transmitter.at);
    if (area == nullptr) return "too far for its power and antennas";
    const auto rim = spectrum::far_rim(*area, receiver.at);
    const spectrum::Direction out{rim.azimuth,
                                  spectrum::Metres((area->z_low_m + area->z_high_m) / 2)};
    const auto reach = spectrum::reach(out, transmitter, receiver, *a.reception(v),
                                       spectrum::good_share, spectrum::Air::alone);
    if (reach && reach->to.count() >= nearly * rim.distance.count())
        return "flies where its antennas look past each other";
    return "the area is larger than power and antennas reach";
}

/// What is wrong at a receiver with a standing, its own or that of the picture it carries.
std::string why(const Assessment& a, std::size_t v, const spectrum::Standing& standing) {
    const auto& heard = a.situation().scene.transmitters[*a.situation().scene.receivers[v].hears];
    if (!spectrum::is_in_front_end(*a.reception(v)->profile, heard.frequency))
        return "its channel lies outside the band of the receiver";
    const bool in_trouble = spectrum::interference(standing) != spectrum::Interference::none;
    const auto range = spectrum::range(standing);
    if (!in_trouble && range == spectrum::Range::too_close)
        return "too close to its own transmitter";
    if (!in_trouble && range != spectrum::Range::good) return range_text(a, v);
    if (spectrum::verdict(standing) == spectrum::Verdict::tight)
        return others_text(a, v, Geometry::closest, true) + ", passing close";
    return others_text(a, v, Geometry::usual, in_trouble);
}

/// What somebody can do who takes channels from a control.
std::string control_help(const TransmitterOf& of, const spectrum::Transmitter& transmitter,
                         const v1::Pilot& pilot, const spectrum::ControlLoss& loss) {
    const bool is_own = of.source == Source::video && of.owner == pilot.name();
    std::vector<std::string> help;
    if (loss.by == spectrum::ControlThief::harmonic && is_own)
        help.emplace_back("a filter in its lead");
    else if (loss.by == spectrum::ControlThief::harmonic && loss.cured_by)
        help.push_back(fmt::format("a filter of {:.0f} dB in its lead", loss.cured_by->count()));
    if (of.source == Source::video || of.source == Source::relay)
        help.push_back(loss.by == spectrum::ControlThief::harmonic
                           ? "a channel whose harmonic misses control"
                           : "another band");
    if (of.source == Source::emitter) help.push_back("another channel, or off while flying");
    constexpr double sensible_dbm = -10, sensible_m = 2000;
    if (loss.cured_by && !is_own) {
        const auto less = transmitter.power - *loss.cured_by;
        if (less.count() >= sensible_dbm && loss.by != spectrum::ControlThief::harmonic)
            help.push_back(fmt::format("at most {}", power_text(less.count())));
        const double times = std::pow(10, loss.cured_by->count() / 20);
        if (std::holds_alternative<spectrum::Point>(transmitter.at) &&
            of.source != Source::handset && times * sensible_m / 100 <= sensible_m)
            help.push_back(fmt::format("{:.1f} times as far away", times));
    }
    if (help.empty()) help.emplace_back("one of them at a time");
    return fmt::format("{}", fmt::join(help, ", or "));
}

}  // namespace

std::string control_reason(const Assessment& a, const v1::Pilot& pilot,
                           const spectrum::ControlStanding& standing) {
    switch (standing.word) {
        case spectrum::ControlWord::ok:
            return "";
        case spectrum::ControlWord::too_far:
            return "control does not reach the far rim of the area, by itself";
        case spectrum::ControlWord::at_risk:
            break;
    }
    const auto& of = a.situation().transmitters[standing.loss->to];
    const bool is_own = of.source == Source::video && of.owner == pilot.name();
    const auto how = standing.loss->by == spectrum::ControlThief::harmonic ? " and its harmonics"
                     : standing.loss->by == spectrum::ControlThief::blocking
                         ? ", so strong that the receiver hears less"
                         : "";
    return fmt::format(
        "control of the aircraft loses {} of its channels, most to {} on {}{}; would help: {}",
        standing.lost_share >= 1 ? "all" : share_text(standing.lost_share),
        is_own ? "its own video" : of.name, channel_text(of.channel), how,
        control_help(of, a.situation().scene.transmitters[standing.loss->to], pilot,
                     *standing.loss));
}

std::string reason(const Assessment& a, std::size_t v) {
    const auto standing = a.standing(v);
    return standing ? why(a, v, *standing) : why_no_picture(a, a.situation().receivers[v]);
}

std::string reason(const Assessment& a, const v1::Pilot& pilot) {
    if (const auto v = a.ruling_receiver(pilot)) return why(a, *v, *a.standing(pilot));
    const auto& all = a.situation().receivers;
    const auto own = std::ranges::find_if(
        all, [&](const ReceiverOf& of) { return of.owner == pilot.name() && of.relay.empty(); });
    return own == all.end() ? "" : reason(a, static_cast<std::size_t>(own - all.begin()));
}

}  // namespace fieldpeg::day
