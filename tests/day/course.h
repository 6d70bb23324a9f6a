#pragma once

#include "server/day/apply.h"
#include "server/day/decide.h"
#include "server/day/line.h"
#include "server/day/state.h"
#include "tests/support/days.h"

#include <stdexcept>
#include <string>
#include <vector>

namespace fieldpeg::testing {

/// A command that says everything as the day does.
inline day::Command as_it_stands(const v1::Command& command) {
    switch (command.ask_case()) {
        case v1::Command::kRemove:
            return command.remove();
        case v1::Command::kSetRules:
            return day::HoldAgainst{};
        case v1::Command::kClaim:
            return command.claim();
        case v1::Command::kRelease:
            return command.release();
        case v1::Command::kOn:
            return command.on();
        case v1::Command::kOff:
            return command.off();
        case v1::Command::kSee:
            return day::NoteSighting{command.see(), {}};
        case v1::Command::kUnsee:
            return command.unsee();
        case v1::Command::kAcknowledgeWarning:
            return command.acknowledge_warning();
        case v1::Command::kNod:
            return command.nod();
        case v1::Command::kWithdrawKey:
            return command.withdraw_key();
        case v1::Command::kRenewTicket:
            return command.renew_ticket();
        case v1::Command::kAssign:
            return command.assign();
        case v1::Command::kMeasurement:
            return command.measurement();
        case v1::Command::kSweep:
            return command.sweep();
        case v1::Command::kCallGroup:
            return command.call_group();
        case v1::Command::kCloseField:
            return command.close_field();
        case v1::Command::kOpenField:
            return command.open_field();
        case v1::Command::kLeaveLine:
            return command.leave_line();
        case v1::Command::kMoveInLine:
            return command.move_in_line();
        case v1::Command::kHandOver:
            return command.hand_over();
        case v1::Command::kWalk:
            return command.walk();
        case v1::Command::kPut:
        case v1::Command::kChangePilot:
        case v1::Command::kTakeDay:
        case v1::Command::ASK_NOT_SET:
            break;
    }
    throw std::logic_error("only the service can read that: " + command.ShortDebugString());
}

/// A day as it goes on: commands in, events kept, state folded.
class Course {
public:
    explicit Course(std::string_view toml) : Course(sheet_of(toml)) {}
    explicit Course(v1::DaySheet sheet) { keep(day::set_up(state_, std::move(sheet), now_ms_)); }

    v1::Reply send(const day::Command& command, const day::Actor& actor = {}) {
        now_ms_ += 1000;
        return keep(day::decide(state_, actor, command, now_ms_));
    }
    v1::Reply send(const v1::Command& command, const day::Actor& actor = {}) {
        return send(as_it_stands(command), actor);
    }

    /// Time goes by, and what comes of it.
    void pass(std::int64_t ms) {
        now_ms_ += ms;
        keep(day::lapses(state_, now_ms_));
    }
    void restart() { keep(day::restarted(state_, now_ms_)); }

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
