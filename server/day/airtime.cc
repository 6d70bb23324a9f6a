#include "server/day/airtime.h"

#include "server/day/state.h"
#include "server/day/timeline_picture.h"
#include "server/day/words.h"

#include <algorithm>
#include <set>
#include <string>
#include <tuple>
#include <utility>

namespace fieldpeg::day {
namespace {

constexpr double minute_ms = 60'000;

/// What a stage is of a flight.
enum class Part { none, perhaps, flown };

Part part(const v1::Claim& claim) {
    if (claim.always()) return Part::none;
    switch (claim.stage()) {
        case v1::Claim::told_on:
            return Part::perhaps;
        case v1::Claim::on_air:
            return Part::flown;
        default:
            return Part::none;
    }
}

v1::Flight::End end_by(v1::Claim::Stage stage) {
    if (stage == v1::Claim::down) return v1::Flight::down;
    return stage == v1::Claim::bench ? v1::Flight::bench : v1::Flight::off;
}

void set_names(const v1::Pilot& pilot, v1::Flight& flight) {
    flight.set_pilot(pilot.name());
}
void set_names(const v1::Relay& relay, v1::Flight& flight) {
    flight.set_pilot(relay.owner());
    flight.set_relay(relay.name());
}

/// A clock that was set makes no flight shorter than nothing, nor longer than any day.
void set_minutes(std::int64_t until_ms, v1::Flight& flight) {
    const auto lasted_ms =
        std::clamp<std::int64_t>(until_ms - flight.from_ms(), 0, timeline_longest_ms);
    flight.set_minutes(milli(static_cast<double>(lasted_ms) / minute_ms));
}

void add_totals(v1::AirtimeReply& reply) {
    std::map<std::pair<std::string, std::string>, int> place;
    for (const auto& flight : reply.flights()) {
        const auto [at, is_new] =
            place.try_emplace({flight.pilot(), flight.relay()}, reply.totals_size());
        auto& total = is_new ? *reply.add_totals() : *reply.mutable_totals(at->second);
        total.set_pilot(flight.pilot());
        total.set_relay(flight.relay());
        total.set_flights(total.flights() + 1);
        total.set_minutes(milli(total.minutes() + flight.minutes()));
    }
}

/// Beginnings and ends in the order of the log; whatever one entry ends was over when another
/// begins.
void add_most(v1::AirtimeReply& reply) {
    std::set<std::tuple<std::uint64_t, bool, int>> course;
    for (int i = 0; i < reply.flights_size(); ++i) {
        const auto& flight = reply.flights(i);
        if (!flight.relay().empty()) continue;
        course.emplace(flight.from_version(), true, i);
        if (flight.has_until_version()) course.emplace(flight.until_version(), false, i);
    }
    std::set<int> up, most;
    for (const auto& [version, begins, i] : course) {
        if (begins)
            up.insert(i);
        else
            up.erase(i);
        if (up.size() <= most.size()) continue;
        most = up;
        reply.set_most_at_once_ms(reply.flights(i).from_ms());
    }
    reply.set_most_at_once(static_cast<std::uint32_t>(most.size()));
    for (const int i : most) reply.add_most_at_once_who(reply.flights(i).pilot());
}

}  // namespace

template <class One>
void Airtime::look_at(const One& one, const v1::DayState& state) {
    const auto is = one.has_claim() ? part(one.claim()) : Part::none;
    if (is == Part::none) {
        if (const auto at = begun_.find(one.id()); at != begun_.end()) {
            end(*at, end_by(one.claim().stage()), state);
            begun_.erase(at);
        }
        return;
    }
    const auto [at, is_new] = begun_.try_emplace(one.id());
    auto& [flight, is_flown, seen_version] = at->second;
    if (is_new && !take_up(one.id(), state.at_ms(), flight)) {
        flight.set_from_ms(state.at_ms());
        flight.set_from_version(state.version());
    }
    set_names(one, flight);
    *flight.mutable_channel() = one.claim().channel();
    flight.set_power_dbm(milli(one.claim().power_dbm()));
    is_flown = is_flown || is == Part::flown;
    seen_version = state.version();
}

/// Who is told to be on another channel is off and on again in one breath: two entries of one
/// command.
bool Airtime::take_up(std::uint32_t id, std::int64_t at_ms, v1::Flight& flight) {
    const auto last = std::ranges::find_if(ended_.rbegin(), ended_.rend(),
                                           [&](const auto& one) { return one.first == id; });
    if (last == ended_.rend() || last->second.until_ms() != at_ms) return false;
    flight = std::move(last->second);
    flight.clear_until_ms();
    flight.clear_until_version();
    ended_.erase(std::next(last).base());
    return true;
}

void Airtime::end(const std::pair<const std::uint32_t, Begun>& one, v1::Flight::End how,
                  const v1::DayState& state) {
    const auto& [id, begun] = one;
    // Whoever is down has flown, whether they said that it was on or not.
    if (!begun.is_flown && how != v1::Flight::down) return;
    auto& flight = ended_.emplace_back(id, begun.flight).second;
    flight.set_end(how);
    flight.set_until_ms(state.at_ms());
    flight.set_until_version(state.version());
    set_minutes(state.at_ms(), flight);
}

void Airtime::take(const v1::DayState& state) {
    for_each_holder(state.sheet(), [&](const auto& one) { look_at(one, state); });
    std::erase_if(begun_, [&](const auto& one) {
        if (one.second.seen_version == state.version()) return false;
        end(one, v1::Flight::off, state);  // is no longer on this day
        return true;
    });
}

std::vector<v1::Flight> Airtime::flights(std::int64_t now_ms) const {
    std::vector<v1::Flight> all;
    for (const auto& [id, flight] : ended_) all.push_back(flight);
    for (const auto& [id, begun] : begun_) {
        if (!begun.is_flown) continue;
        all.push_back(begun.flight);
        all.back().set_end(v1::Flight::in_the_air);
        set_minutes(now_ms, all.back());
    }
    std::ranges::stable_sort(all, {}, &v1::Flight::from_version);
    return all;
}

v1::AirtimeReply airtime(std::vector<v1::Flight> flights) {
    v1::AirtimeReply reply;
    for (auto& flight : flights) *reply.add_flights() = std::move(flight);
    add_totals(reply);
    add_most(reply);
    return reply;
}

}  // namespace fieldpeg::day
