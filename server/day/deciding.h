#pragma once

#include "server/day/decide.h"
#include "server/day/state.h"
#include "server/day/warnings.h"

/// The parts of decide(), one a kind of command. Each gives events without version and time.
namespace fieldpeg::day {

/// What a decision is made on.
struct Given {
    const v1::DayState& state;
    Actor actor;
    std::int64_t now_ms;
    Memory* memory = nullptr;  ///< none: nothing is known

    const v1::DaySheet& sheet() const { return state.sheet(); }
    bool is_marshal() const { return actor.role == v1::Role::marshal; }
    /// A pilot acts for themself and for relays of their own, the marshal for everybody.
    bool may_act_for(const Holder& holder) const;
};

/// A decision and, where the air may have changed, what did it.
struct Decided {
    Decision decision;
    std::optional<Cause> cause;
    std::vector<v1::Warning> warnings = {};  ///< of what is only held
};

Decided decide_claim(const Given& given, const v1::ClaimChannel& asked);
Decided decide_release(const Given& given, const v1::Release& asked);
Decided decide_on(const Given& given, const v1::SwitchOn& asked);
Decided decide_line(const Given& given, const v1::LeaveLine& asked);
Decided decide_line(const Given& given, const v1::MoveInLine& asked);
Decided decide_hand_over(const Given& given, const v1::HandOver& asked);
Decided decide_walk(const Given& given, const v1::Walk& asked);
Decided decide_nod(const Given& given, const v1::Nod& asked);
Decided decide_withdraw(const Given& given, const v1::WithdrawKey& asked);
Decided decide_off(const Given& given, const v1::SwitchOff& asked);
Decided decide_assign(const Given& given, const v1::Assign& asked);
Decided decide_see(const Given& given, const NoteSighting& seen);
Decided decide_unsee(const Given& given, const v1::Unsee& asked);
Decided decide_sweep(const Given& given, const v1::EnterSweep& asked);
Decided decide_measurement(const Given& given, const v1::RecordMeasurement& asked);
Decided decide_group(const Given& given, const v1::CallGroup& asked);
Decided decide_close(const Given& given, const v1::CloseField& asked);
Decided decide_open(const Given& given);
Decided decide_put(const Given& given, const PutParts& put);
Decided decide_change(const Given& given, const ChangePilot& change);
Decided decide_take(const Given& given, const TakeDay& take);
Decided decide_remove(const Given& given, const v1::Remove& asked);
Decided decide_rules(const Given& given, const HoldAgainst& asked);

/// What is noted of a transmitter.
v1::StageSet stage_set(std::uint32_t subject, v1::Claim::Stage stage);
/// Who did it, by a claim that comes on the air or goes.
Cause cause_of(const Holder& held, const v1::Claim& claim, bool comes_on);

/// Versions, times and the actor; the last version.
std::uint64_t stamp(std::uint64_t version, const Actor& actor, std::int64_t now_ms,
                    std::vector<v1::Event>& events);

/// The state once some events of a decision have happened.
v1::DayState after(const Given& given, const std::vector<v1::Event>& events);

/// Gives ids to what is new and keeps those of what is known, with its claim.
v1::PartsPut with_ids(const Given& given, v1::PartsPut parts);

/// Why a transmitter cannot be put on a channel at a power; none if it can.
std::optional<Refusal> unfit(const Holder& holder, const v1::Channel& channel, double power_dbm);

/// The stage of a channel newly held: one who has landed keeps being one who has landed.
v1::Claim::Stage stage_when_held(const Holder& holder);

/// To one who pays for a claim that the marshal allowed.
v1::Warning allowed_against(const v1::Harm& harm, const v1::DaySheet& sheet, std::uint32_t cause,
                            const v1::Claim& claim);

v1::Refusal not_permitted(std::string why, std::string next = "");
v1::Refusal conflict(std::string where, std::string why, std::string next = "");
v1::Refusal not_found(std::string where, std::string why, std::string next = "");

/// A refusal and nothing else.
Decided refused(v1::Refusal refusal);
Decided done(std::string text);

}  // namespace fieldpeg::day
