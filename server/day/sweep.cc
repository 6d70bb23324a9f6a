#include "server/day/sweep.h"

#include "server/day/deciding.h"
#include "server/day/scene.h"
#include "server/day/words.h"
#include "server/spectrum/noise.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

constexpr double stands_out_db = 10;  ///< over the floor
constexpr double heard_db = 6;
constexpr double joined_mhz = 3;     ///< humps nearer to each other are one
constexpr double floor_share = 0.2;  ///< so much of a sweep is taken to be nothing but noise
constexpr double floor_rise_db = 3;  ///< less is no news
constexpr double near_mhz = 10;

double mhz_at(const v1::Sweep& sweep, int i) {
    return sweep.start_mhz() + i * sweep.step_mhz();
}

double high_of(const v1::Sweep& sweep) {
    return mhz_at(sweep, sweep.level_dbm_size() - 1);
}

double floor_dbm(const v1::Sweep& sweep) {
    std::vector<float> levels(sweep.level_dbm().begin(), sweep.level_dbm().end());
    const auto at = static_cast<std::ptrdiff_t>(floor_share * static_cast<double>(levels.size()));
    std::ranges::nth_element(levels, levels.begin() + at);
    return levels[static_cast<std::size_t>(at)];
}

std::vector<v1::Hump> humps(const v1::Sweep& sweep) {
    const double least = floor_dbm(sweep) + stands_out_db;
    std::vector<v1::Hump> all;
    double mw = 0, weighed = 0;
    const auto close = [&] {
        if (all.empty() || mw == 0) return;
        all.back().set_centre_mhz(milli(weighed / mw));
        all.back().set_level_dbm(milli(10 * std::log10(mw)));
    };
    for (int i = 0; i < sweep.level_dbm_size(); ++i) {
        if (sweep.level_dbm(i) < least) continue;
        const double at = mhz_at(sweep, i);
        if (all.empty() || at - all.back().high_mhz() > joined_mhz) {
            close();
            mw = weighed = 0;
            all.emplace_back().set_low_mhz(milli(at));
        }
        all.back().set_high_mhz(milli(at));
        const double one =
            std::pow(10, sweep.level_dbm(i) / 10) * sweep.step_mhz() / sweep.resolution_mhz();
        mw += one;
        weighed += one * at;
    }
    close();
    std::ranges::stable_sort(all, std::greater<>{}, &v1::Hump::level_dbm);
    return all;
}

/// Half of what a transmitter fills; of one that hops half of its band.
double half_width_mhz(const Situation& situation, std::size_t t, const v1::DaySheet& sheet) {
    const auto& hops = situation.scene.transmitters[t].hops;
    if (hops) return spectrum::mhz(hops->high - hops->low) / 2;
    const auto& name = situation.transmitters[t].gear->emission();
    const auto emission = std::ranges::find(sheet.emissions(), name, &v1::Emission::name);
    return emission == sheet.emissions().end() ? near_mhz : emission->occupied_mhz() / 2;
}

/// What the best receiver in the sweep's stretch is assumed to hear of noise.
std::optional<double> assumed_dbm_per_mhz(const v1::Sweep& sweep, const v1::DaySheet& sheet) {
    std::optional<double> least;
    for (const auto& r : sheet.receiver_profiles()) {
        if (r.front_end_high_mhz() < sweep.start_mhz() || r.front_end_low_mhz() > high_of(sweep))
            continue;
        const double dbm = spectrum::thermal_noise_per_mhz().count() + r.noise_figure_db();
        least = std::min(least.value_or(dbm), dbm);
    }
    return least;
}

/// Who is on the air by the log, in the sweep's stretch.
void match(const v1::Sweep& sweep, const v1::DaySheet& sheet, v1::SweepReply& reply) {
    const auto situation = day::situation(sheet, v1::Basis::on_air);
    const double least = floor_dbm(sweep) + heard_db;
    for (std::size_t t = 0; t < situation.transmitters.size(); ++t) {
        const auto& of = situation.transmitters[t];
        const double half = half_width_mhz(situation, t, sheet);
        auto channels = moves_to(of);
        channels.push_back(of.channel);
        const auto anywhere = [&](const auto& holds) {
            return std::ranges::any_of(channels, [&](const auto& c) { return holds(c.mhz()); });
        };
        const auto is_heard = [&](double at) {
            for (int i = 0; i < sweep.level_dbm_size(); ++i)
                if (std::abs(mhz_at(sweep, i) - at) <= half && sweep.level_dbm(i) >= least)
                    return true;
            return false;
        };
        const auto is_outside = [&](double at) {
            return at < sweep.start_mhz() || at > high_of(sweep);
        };
        const bool is_steady = of.source == Source::video || of.source == Source::relay;
        if (is_steady && of.stage != v1::Claim::bench && !anywhere(is_outside) &&
            !anywhere(is_heard))
            reply.add_not_heard(of.name);
        for (auto& hump : *reply.mutable_humps())
            if (anywhere([&](double at) {
                    return hump.low_mhz() - half <= at && at <= hump.high_mhz() + half;
                }))
                hump.add_claimed_by(of.name);
    }
}

void say(const v1::Sweep& sweep, v1::SweepReply& reply) {
    for (const auto& hump : reply.humps())
        if (hump.claimed_by().empty())
            reply.add_said(fmt::format(
                "something is on the air around {} MHz ({} to {}, {:.0f} dBm here) that nobody "
                "holds: find it, or enter it as seen",
                mhz_text(std::round(hump.centre_mhz())), mhz_text(std::round(hump.low_mhz())),
                mhz_text(std::round(hump.high_mhz())), hump.level_dbm()));
    for (const auto& name : reply.not_heard())
        reply.add_said(fmt::format(
            "{} is on the air by the log and is not heard here: off, far away, or on another "
            "channel than it holds",
            name));
    if (!reply.has_assumed_dbm_per_mhz()) return;
    const double rise = reply.floor_dbm_per_mhz() - reply.assumed_dbm_per_mhz();
    if (rise > floor_rise_db)
        reply.add_said(fmt::format(
            "the noise floor lies {:.0f} dB above the assumed one; it may be the scanner's own: "
            "does it stay with its aerial off? If it falls, let it count for the day",
            rise));
    else if (sweep.level_dbm_size() > 0 && reply.said().empty())
        reply.add_said(
            "all that stands out is held by somebody, and everybody on the air is heard");
}

}  // namespace

v1::NoiseFloor floor_of(const v1::Sweep& sweep) {
    v1::NoiseFloor floor;
    floor.set_low_mhz(sweep.start_mhz());
    floor.set_high_mhz(high_of(sweep));
    floor.set_dbm_per_mhz(milli(floor_dbm(sweep) - 10 * std::log10(sweep.resolution_mhz())));
    return floor;
}

v1::SweepReply read_against(const v1::Sweep& sweep, const v1::DaySheet& sheet) {
    v1::SweepReply reply;
    reply.set_low_mhz(milli(sweep.start_mhz()));
    reply.set_high_mhz(milli(high_of(sweep)));
    reply.set_floor_dbm_per_mhz(floor_of(sweep).dbm_per_mhz());
    if (const auto assumed = assumed_dbm_per_mhz(sweep, sheet))
        reply.set_assumed_dbm_per_mhz(milli(*assumed));
    for (auto& hump : humps(sweep)) *reply.add_humps() = std::move(hump);
    match(sweep, sheet, reply);
    say(sweep, reply);
    return reply;
}

Decided decide_sweep(const Given& given, const v1::EnterSweep& asked) {
    if (given.actor.role == v1::Role::onlooker || given.actor.role == v1::Role::unknown)
        return refused(not_permitted("onlookers enter nothing", "tell the marshal"));
    if (asked.use_floor() && !given.is_marshal())
        return refused(not_permitted("only the marshal lets a noise floor count"));
    Decided decided;
    auto& reply = *decided.decision.reply.mutable_swept();
    reply = read_against(asked.sweep(), given.sheet());
    if (asked.only_try()) return decided;
    auto& event = *decided.decision.events.emplace_back().mutable_swept();
    *event.mutable_sweep() = asked.sweep();
    event.mutable_sweep()->set_at_ms(given.now_ms);
    reply.set_entered(true);
    if (!asked.use_floor()) return decided;
    *event.mutable_floor() = floor_of(asked.sweep());
    reply.set_floor_used(true);
    decided.cause = Cause();
    return decided;
}

}  // namespace fieldpeg::day
