#include "server/day/relay_advice.h"

#include "server/day/choices.h"
#include "server/day/remarks.h"
#include "server/day/words.h"
#include "server/spectrum/propagation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace fieldpeg::day {
namespace {

using spectrum::Dbm;
using spectrum::Geometry;

constexpr std::size_t channels_offered = 3;
constexpr double worth_saying_db = 1;

/// A power as people write it, in three digits of milliwatts, on the safe side of what it is told
/// from: not below it, or not above.
double in_three_digits(double power_dbm, double (*towards)(double)) {
    const double mw = std::pow(10, power_dbm / 10);
    const double digit = std::pow(10, std::floor(std::log10(mw)) - 2);
    return 10 * std::log10(digit * towards(mw / digit));
}
double not_below(double power_dbm) {
    return in_three_digits(power_dbm, std::ceil);
}
double not_above(double power_dbm) {
    return in_three_digits(power_dbm, std::floor);
}
/// To 0.001 dB, as replies carry it.
double milli_up(double power_dbm) {
    return std::ceil(power_dbm * 1000) / 1000;
}

/// What would help one relay.
class Advising {
public:
    Advising(const RelayTrial& trial, v1::RelayCheckReply& reply) : trial_(trial), reply_(reply) {}

    void advise() const {
        advise_power(reply_);
        if (reply_.answer() == v1::RelayCheckReply::too_weak) return;
        advise_channel(reply_);
        advise_distance(reply_);
        advise_hand(reply_);
    }

private:
    /// The window that both geometries leave, if they leave one.
    struct Span {
        double low, high;
    };
    std::optional<Span> window() const {
        if (!trial_.usual().ceiling || (!trial_.usual().floor && !trial_.nobody_listens()))
            return std::nullopt;
        const double low = trial_.usual().floor.value_or(spectrum::relay_power_min).count();
        const double high = trial_.usual().ceiling->count();
        if (low > high) return std::nullopt;
        const double worst = trial_.worst().ceiling ? trial_.worst().ceiling->count() : high;
        return Span{low, worst >= low ? std::min(high, worst) : high};
    }

    /// The lowest step that is enough for its owner and harms nobody.
    void advise_power(v1::RelayCheckReply& r) const {
        auto steps = trial_.relay().transmitter().power_dbm();
        std::ranges::sort(steps);
        const auto span = window();
        if (!span) return;
        for (const double step : steps) {
            if (step < span->low || step > span->high || trial_.harms_at(step)) continue;
            auto* advice = r.add_advice();
            advice->set_kind(v1::RelayAdvice::set_power);
            advice->set_power_dbm(milli(step));
            advice->set_text("set " + power_text(step));
            return;
        }
        if (steps.empty()) {
            advise_span(r, *span);
            return;
        }
        if (steps[0] > span->high) advise_attenuator(r, steps[0], *span);
        if (steps[steps.size() - 1] < span->low)
            r.add_cautions(fmt::format("its highest step {} is {:.1f} dB too weak for its owner",
                                       power_text(steps[steps.size() - 1]),
                                       span->low - steps[steps.size() - 1]));
    }

    /// Between the least its owner needs and the most that harms nobody, those included who are too
    /// far as it is.
    void advise_span(v1::RelayCheckReply& r, const Span& span) const {
        constexpr double fine_db = 0.05;
        const double least = milli_up(not_below(span.low));
        if (least > span.high || trial_.harms_at(least)) return;
        double low = least, high = span.high;
        if (trial_.harms_at(high)) {
            while (high - low > fine_db) {
                const double middle = (low + high) / 2;
                (trial_.harms_at(middle) ? high : low) = middle;
            }
            high = low;
        }
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::set_power);
        advice->set_power_dbm(least);
        advice->set_text(fmt::format("between {} and {}", power_text(least),
                                     power_text(std::max(least, not_above(high)))));
    }

    static void advise_attenuator(v1::RelayCheckReply& r, double lowest_step, const Span& span) {
        const double over = lowest_step - span.high;
        const double attenuator = std::ceil(over);
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::add_attenuator);
        advice->set_power_dbm(milli(lowest_step));
        advice->set_attenuator_db(attenuator);
        advice->set_text(fmt::format(
            "{} through an attenuator of {:.0f} dB: its lowest step is {:.1f} dB too strong{}",
            power_text(lowest_step), attenuator, over,
            lowest_step - attenuator < span.low ? ", though its owner then lacks some" : ""));
    }

    /// Link gains where the relay, or who can hear it, is another.
    spectrum::LinkTable links_of(const spectrum::Scene& changed) const {
        auto links = trial_.with().links();
        links.update(changed, trial_.transmitter());
        return links;
    }

    /// The scene with the relay on another channel of its band, its goggles tuned to it.
    spectrum::Scene on_channel(const v1::Channel& channel) const {
        auto moved = scene();
        moved.transmitters[trial_.transmitter()].frequency = spectrum::from_mhz(channel.mhz());
        for (std::size_t v = 0; v < moved.receivers.size(); ++v)
            if (receiver(v).hears == trial_.relay().name())
                moved.receivers[v].hears =
                    receiver(v).can_show && can_tune(*receiver(v).gear, channel)
                        ? std::optional(trial_.transmitter())
                        : std::nullopt;
        return moved;
    }

    /// The channels on which the asked power harms nobody, those with most room first; if there are
    /// none, those that have a window at all.
    void advise_channel(v1::RelayCheckReply& r) const {
        struct Candidate {
            v1::Channel channel;
            double margin;
        };
        std::vector<Candidate> candidates;
        for (const auto& channel : channels_to_try()) {
            const auto moved = on_channel(channel);
            const auto least = spectrum::least_neighbour_margin(
                moved, links_of(moved), trial_.transmitter(), Geometry::usual);
            candidates.push_back({channel, least ? least->count() : 99});
        }
        std::ranges::stable_sort(candidates, std::greater<>{}, &Candidate::margin);
        std::size_t offered = 0;
        for (const auto& [channel, margin] : candidates) {
            if (offered == channels_offered || (offered > 0 && margin < 0)) break;
            const auto moved = on_channel(channel);
            auto window = spectrum::relay_window(moved, links_of(moved), trial_.transmitter(),
                                                 Geometry::usual);
            if (trial_.nobody_listens()) window.floor = spectrum::relay_power_min;
            if (!window.is_open()) continue;
            const auto power = power_on(channel, window);
            if (!power) continue;
            const bool as_asked = *power == trial_.asked().count();
            const auto before = trial_.usual().ceiling;
            const double gained = before ? (*window.ceiling - *before).count() : 0;
            // Less power where it is does as much.
            if (!as_asked && this->window() && gained < worth_saying_db) continue;
            ++offered;
            auto* advice = r.add_advice();
            advice->set_kind(v1::RelayAdvice::change_channel);
            *advice->mutable_channel() = channel;
            advice->set_power_dbm(as_asked ? milli(*power) : *power);
            if (before) advice->set_gained_db(milli(gained));
            advice->set_text(channel_advice(channel, *power, as_asked, window));
        }
    }

    /// The asked power if that will do on a channel, else the least of its steps, or of anything,
    /// that is enough for its owner and harms nobody.
    std::optional<double> power_on(const v1::Channel& channel,
                                   const spectrum::PowerWindow& window) const {
        const auto& gear = trial_.relay().transmitter();
        std::vector<double> powers;
        if (can_be_set_to(gear, trial_.asked().count())) powers.push_back(trial_.asked().count());
        if (gear.power_dbm().empty()) powers.push_back(milli_up(not_below(window.floor->count())));
        auto rising = gear.power_dbm();
        std::ranges::sort(rising);
        powers.insert(powers.end(), rising.begin(), rising.end());
        const auto found = std::ranges::find_if(powers, [&](double power) {
            return *window.floor <= Dbm(power) && Dbm(power) <= *window.ceiling &&
                   !trial_.harms_on(channel, power);
        });
        return found == powers.end() ? std::nullopt : std::optional(*found);
    }

    std::string channel_advice(const v1::Channel& channel, double power, bool as_asked,
                               const spectrum::PowerWindow& window) const {
        if (as_asked)
            return fmt::format("{} on {} disturbs nobody", power_text(power),
                               channel_text(channel));
        if (!trial_.relay().transmitter().power_dbm().empty())
            return fmt::format("{} with {}", channel_text(channel), power_text(power));
        return fmt::format("{} with {} to {}", channel_text(channel), power_text(power),
                           power_text(std::max(power, not_above(window.ceiling->count()))));
    }

    /// What the relay can be tuned to, its goggles too; if nothing is said, the rows' channels of
    /// its band. Channels on which the rule set or a service has something to remark are left out.
    std::vector<v1::Channel> channels_to_try() const {
        std::vector<v1::Channel> list(trial_.relay().transmitter().channels().begin(),
                                      trial_.relay().transmitter().channels().end());
        const auto band = [](double mhz) {
            return spectrum::band_reference(spectrum::from_mhz(mhz));
        };
        if (list.empty())
            for (const auto& row : trial_.with().sheet().rows())
                for (const auto& channel : row.channels())
                    if (band(channel.mhz()) == band(trial_.claim().channel().mhz()))
                        list.push_back(channel);
        std::set<double> seen = {trial_.claim().channel().mhz()};
        const auto emission =
            std::ranges::find(trial_.with().sheet().emissions(),
                              trial_.relay().transmitter().emission(), &v1::Emission::name);
        std::erase_if(list, [&](const v1::Channel& c) {
            return !seen.insert(c.mhz()).second || !goggles_tune(c) ||
                   !remarks(Occupied{c, emission->occupied_mhz(), std::nullopt},
                            trial_.with().sheet().has_rules() ? &trial_.with().sheet().rules()
                                                              : nullptr,
                            trial_.with().sheet().services())
                        .empty();
        });
        return list;
    }

    bool goggles_tune(const v1::Channel& channel) const {
        return trial_.nobody_listens() ||
               std::ranges::any_of(trial_.with().situation().receivers, [&](const ReceiverOf& of) {
                   return of.hears == trial_.relay().name() && of.can_show &&
                          can_tune(*of.gear, channel);
               });
    }

    void advise_distance(v1::RelayCheckReply& r) const {
        const auto move =
            spectrum::bench_advice(scene(), trial_.with().links(), trial_.transmitter());
        if (!move.harmed_first || !move.step_back) return;
        const auto& first = receiver(*move.harmed_first);
        auto moved = scene();
        auto& at = std::get<spectrum::Point>(moved.transmitters[trial_.transmitter()].at);
        at = spectrum::moved_away(at, scene().receivers[*move.harmed_first].at, *move.step_back);
        if (trial_.harms_at(at)) return;
        const auto window = spectrum::relay_window(moved, trial_.transmitter(), Geometry::usual);
        const bool still_sharp = !window.floor || *window.floor <= trial_.asked();
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::move_away);
        advice->set_metres(milli(move.step_back->count()));
        advice->set_text(fmt::format("at {}, {:.0f} m farther away from {}{}",
                                     power_text(trial_.asked().count()),
                                     std::ceil(move.step_back->count()), first.owner,
                                     still_sharp ? "" : ", though its owner then lacks some"));
    }

    /// The other hand, or plane, at both ends of the relay's own link.
    void advise_hand(v1::RelayCheckReply& r) const {
        const auto turned = [](spectrum::Polarisation p) {
            switch (p) {
                case spectrum::Polarisation::rhcp:
                    return spectrum::Polarisation::lhcp;
                case spectrum::Polarisation::lhcp:
                    return spectrum::Polarisation::rhcp;
                case spectrum::Polarisation::vertical:
                    return spectrum::Polarisation::horizontal;
                case spectrum::Polarisation::horizontal:
                    break;
            }
            return spectrum::Polarisation::vertical;
        };
        auto other = scene();
        auto& mine = other.transmitters[trial_.transmitter()].antenna;
        mine.polarisation = turned(mine.polarisation);
        for (auto& v : other.receivers)
            if (v.hears == trial_.transmitter())
                v.antenna.polarisation = turned(v.antenna.polarisation);
        spectrum::LinkTable links = trial_.with().links();
        links.update(other, trial_.transmitter());
        const auto window =
            spectrum::relay_window(other, links, trial_.transmitter(), Geometry::usual);
        if (!window.ceiling) return;
        const double before = trial_.usual().ceiling.value_or(spectrum::relay_power_min).count();
        const double gained = window.ceiling->count() - before;
        if (gained < worth_saying_db) return;
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::change_hand);
        advice->set_gained_db(milli(gained));
        advice->set_power_dbm(milli(window.ceiling->count()));
        advice->set_text(
            fmt::format("the other {} on the relay and on its owner's goggles: the neighbours can "
                        "take {:.0f} dB more",
                        spectrum::is_linear(mine.polarisation) ? "plane" : "hand", gained));
    }

    const spectrum::Scene& scene() const { return trial_.scene(); }
    const ReceiverOf& receiver(std::size_t v) const { return trial_.receiver(v); }

    const RelayTrial& trial_;
    v1::RelayCheckReply& reply_;
};

}  // namespace

void add_advice(const RelayTrial& trial, v1::RelayCheckReply& reply) {
    Advising(trial, reply).advise();
}

}  // namespace fieldpeg::day
