#pragma once

#include "server/day/apply.h"
#include "server/day/decide.h"
#include "server/day/state.h"
#include "tests/support/days.h"

#include <string>
#include <vector>

namespace fieldpeg::testing {

/// A day as it goes on: commands in, events kept, state folded.
class Course {
public:
    explicit Course(std::string_view toml) : Course(sheet_of(toml)) {}
    explicit Course(v1::DaySheet sheet) { keep(day::set_up(state_, std::move(sheet), now_ms_)); }

    v1::Reply send(const v1::Command& command, const day::Actor& actor = {}) {
        now_ms_ += 1000;
        return keep(day::decide(state_, actor, command, now_ms_));
    }

    /// Joins as the pilot of this name, by their own ticket.
    day::Actor join(const std::string& name, v1::Role::Kind role = v1::Role::pilot) {
        const auto reply =
            keep(day::join(state_, {name, role, role == v1::Role::pilot}, now_ms_).value());
        return {reply.done().id(), role};
    }

    const v1::DayState& state() const { return state_; }
    const std::vector<v1::Event>& events() const { return events_; }
    std::int64_t now_ms() const { return now_ms_; }

    v1::Claim::Stage stage(const std::string& name) const {
        const auto held = day::holder(state_.sheet(), name);
        return held && held->claim ? held->claim->stage() : v1::Claim::unknown;
    }

private:
    v1::Reply keep(day::Decision decision) {
        for (const auto& event : decision.events) {
            day::apply(state_, event);
            events_.push_back(event);
        }
        return decision.reply;
    }

    v1::DayState state_;
    std::vector<v1::Event> events_;
    std::int64_t now_ms_ = 1'789'000'000'000;
};

inline v1::Channel channel(const std::string& name, double mhz) {
    v1::Channel c;
    c.set_name(name);
    c.set_mhz(mhz);
    return c;
}

inline v1::Command claims(const std::string& who, const v1::Channel& on, double power_dbm) {
    v1::Command c;
    c.mutable_claim()->set_transmitter(who);
    *c.mutable_claim()->mutable_channel() = on;
    c.mutable_claim()->set_power_dbm(power_dbm);
    return c;
}

inline v1::Command asks_on(const std::string& who) {
    v1::Command c;
    c.mutable_on()->set_transmitter(who);
    return c;
}

inline v1::Command says_off(const std::string& who) {
    v1::Command c;
    c.mutable_off()->set_transmitter(who);
    return c;
}

inline v1::Command releases(const std::string& who) {
    v1::Command c;
    c.mutable_release()->set_transmitter(who);
    return c;
}

}  // namespace fieldpeg::testing
