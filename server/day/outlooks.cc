#include "server/day/outlooks.h"

#include "server/day/gear.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::day {
namespace {

using spectrum::Guess;

template <class Gear>
bool is_known(const Gear& gear, std::string_view key) {
    return std::ranges::any_of(gear.provenance(), [&](const v1::Provenance& p) {
        return p.key() == key &&
               (p.kind() == v1::Provenance::declared || p.kind() == v1::Provenance::measured);
    });
}

template <class List>
const auto& named(const List& list, const std::string& name) {
    return *std::ranges::find_if(list, [&](const auto& one) { return one.name() == name; });
}

/// Of a transmitter or a receiver: what its owner has measured.
template <class Device>
bool is_measured(const Device& device, std::string_view what) {
    return std::ranges::find(device.measured(), what) != device.measured().end();
}

template <class Device>
bool is_antenna_known(const v1::DaySheet& sheet, const Device& device) {
    return is_measured(device, "antenna") ||
           is_known(named(sheet.antennas(), device.mounting().antenna()), "gain_dbi");
}

v1::Guess::Kind kind(std::optional<Guess> guess) {
    if (!guess) return v1::Guess::nothing;
    switch (*guess) {
        case Guess::own_power:
            return v1::Guess::own_power;
        case Guess::own_antenna:
            return v1::Guess::own_antenna;
        case Guess::noise_figure:
            return v1::Guess::noise_figure;
        case Guess::selectivity:
            return v1::Guess::selectivity;
        case Guess::intercept:
            return v1::Guess::intercept;
        case Guess::others_power:
            return v1::Guess::others_power;
        case Guess::others_antenna:
            break;
    }
    return v1::Guess::others_antenna;
}

/// What a verdict rests on, and how somebody can find out with what a club has.
struct Question {
    std::string rests_on, ask;
};

/// `disturbed_by` is empty if nobody does.
Question question(Guess guess, const ReceiverOf& receiver, const std::string& disturbed_by) {
    const auto ears = receiver_text(receiver.owner, receiver.relay, receiver.name);
    const auto who = disturbed_by.empty() ? "the others" : disturbed_by;
    switch (guess) {
        case Guess::own_power:
            return {fmt::format("what {} really sends", receiver.hears),
                    fmt::format("hold it against a transmitter whose power is known, at the same "
                                "place: is {}'s picture worse?",
                                receiver.hears)};
        case Guess::own_antenna:
            return {fmt::format("the aerials between {} and {}", receiver.hears, ears),
                    fmt::format("is there a mark on each aerial of {}: both left, or both right? "
                                "then turn the aircraft around at the far end: does it drop out?",
                                receiver.owner)};
        case Guess::noise_figure:
            return {fmt::format("how weak a picture can still be seen in {}", ears),
                    fmt::format("carry the aircraft away at its least power: at how many metres "
                                "does the picture in {} break: the first dashes, a freeze?",
                                ears)};
        case Guess::selectivity:
            return {fmt::format("how well the filter of {} shuts out the channels beside", ears),
                    fmt::format("look up its width, 18 or 27 MHz; or switch a second transmitter "
                                "on one channel further: at how many metres do lines tear in {}?",
                                ears)};
        case Guess::intercept:
            return {fmt::format("how strong a neighbour can be beside {}", ears),
                    fmt::format("bring a transmitter on a far channel nearer: at how many metres "
                                "does the picture in {} go?",
                                ears)};
        case Guess::others_power:
            return {fmt::format("what {} really sends{}", who, disturbed_by.empty() ? "" : "s"),
                    fmt::format("is {} at the power that was said, and not a step higher?", who)};
        case Guess::others_antenna:
            break;
    }
    return {fmt::format("the aerials of {}", who),
            fmt::format("which aerial has {}, and how is it fastened?", who)};
}

std::string span_text(double value, double low, double high, std::string_view unit) {
    return fmt::format("{:.4g} to {:.4g} {}", value + low, value + high, unit);
}

spectrum::Latitude assumed(Guess guess) {
    return spectrum::assumed_guesses[static_cast<std::size_t>(guess)];
}

}  // namespace

spectrum::Guesses guesses(const Assessment& a, std::size_t v) {
    auto all = spectrum::assumed_guesses;
    const auto know = [&](Guess guess) {
        all[static_cast<std::size_t>(guess)] = {spectrum::Decibel(0), spectrum::Decibel(0)};
    };
    const auto& of = a.situation().receivers[v];
    const auto heard = a.situation().scene.receivers[v].hears;
    const auto& profile = named(a.sheet().receiver_profiles(), of.gear->receiver());
    if (is_measured(*of.gear, "noise_figure") || is_known(profile, "noise_figure_db") ||
        is_known(profile, "cascade"))
        know(Guess::noise_figure);
    if (is_measured(*of.gear, "selectivity") || is_known(profile, "selectivity_db"))
        know(Guess::selectivity);
    if (is_measured(*of.gear, "intercept") ||
        (is_known(profile, "iip3_dbm") && is_known(profile, "p1db_dbm")))
        know(Guess::intercept);
    bool all_powers = true, all_antennas = true;
    for (std::size_t t = 0; t < a.situation().transmitters.size(); ++t) {
        const auto& gear = *a.situation().transmitters[t].gear;
        const bool antenna = is_antenna_known(a.sheet(), gear);
        const bool power =
            is_power_measured(gear, a.situation().scene.transmitters[t].power.count());
        if (t != heard) {
            all_powers &= power;
            all_antennas &= antenna;
            continue;
        }
        if (power) know(Guess::own_power);
        if (antenna && is_antenna_known(a.sheet(), *of.gear)) know(Guess::own_antenna);
    }
    if (all_powers) know(Guess::others_power);
    if (all_antennas) know(Guess::others_antenna);
    return all;
}

std::string range_text(const v1::ReceiverProfile& r, const std::string& key) {
    const auto figure = assumed(Guess::noise_figure), intercept = assumed(Guess::intercept),
               selectivity = assumed(Guess::selectivity);
    if (key == "noise_figure_db")
        return span_text(r.noise_figure_db(), figure.strong.count(), figure.weak.count(), "dB");
    if (key == "iip3_dbm")
        return span_text(r.iip3_dbm(), intercept.weak.count(), intercept.strong.count(), "dBm");
    if (key == "p1db_dbm")
        return span_text(r.p1db_dbm(), intercept.weak.count(), intercept.strong.count(), "dBm");
    if (key == "selectivity_db")
        return fmt::format("{:.0f} dB less to {:.0f} dB more, 20 MHz off and farther",
                           -selectivity.weak.count(), selectivity.strong.count());
    return "";
}

std::string range_text(const v1::Antenna& a, const std::string& key) {
    const auto antenna = assumed(Guess::own_antenna);
    if (key != "gain_dbi") return "";
    return span_text(a.gain_dbi(), antenna.weak.count(), antenna.strong.count(),
                     "dBi, with pattern, floor and axial ratio");
}

std::string range_text(const v1::Emission& /*emission*/, const std::string& /*key*/) {
    return "";
}

Outlooks::Outlooks(const Assessment& assessment) : assessment_(assessment) {
    std::vector<spectrum::Guesses> all;
    for (std::size_t v = 0; v < assessment.situation().receivers.size(); ++v)
        all.push_back(guesses(assessment, v));
    doubts_ = assessment.doubts(all);
}

std::optional<v1::Outlook> Outlooks::of(const v1::Pilot& pilot) const {
    if (const auto& worst = assessment_.at_worst_for(pilot); &worst != &assessment_)
        return Outlooks(worst).of(pilot);
    const auto found = assessment_.outlook(pilot, doubts_);
    if (!found) return std::nullopt;
    v1::Outlook m;
    m.set_holds(!found->would_settle.has_value());
    m.set_low(word(found->low));
    m.set_high(word(found->high));
    m.set_margin_low_db(milli(found->margin_low.count()));
    m.set_margin_high_db(milli(found->margin_high.count()));
    m.set_would_settle(kind(found->would_settle));
    const auto v = assessment_.ruling_receiver(pilot);
    if (!found->would_settle || !v) return m;
    const auto terms = assessment_.contributions(*v, spectrum::Geometry::usual, 1);
    const auto by =
        terms.empty() ? "" : assessment_.situation().transmitters[terms.front().from.front()].name;
    const auto asked = question(*found->would_settle, assessment_.situation().receivers[*v], by);
    m.set_rests_on(asked.rests_on);
    m.set_ask(asked.ask);
    return m;
}

}  // namespace fieldpeg::day
