#pragma once

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/event.pb.h"

#include <optional>
#include <variant>
#include <vector>

/// A command as the day decides it: names in the day's own spelling, what was written read, rule
/// sets and gear as numbers, nothing left that is wrong by itself. The service makes it of what
/// somebody asked (service/resolve.h).
namespace fieldpeg::day {

struct PutParts {
    v1::PartsPut parts;  ///< without ids
    bool only_new = false;
    std::optional<v1::HeadSet> head = {};  ///< the whole of it, where any of it is written
    v1::PartsGone gone = {};               ///< places and areas that the day has
};

/// Whether there is anything in it to enter or to take away.
bool says_anything(const PutParts& put);

struct ChangePilot {
    v1::ChangePilot asked;              ///< names as the day or the library has them
    std::vector<v1::Channel> channels;  ///< what was asked for
    v1::Gear gear;                      ///< to which it refers and which the day lacks
};

struct TakeDay {
    v1::TakeDay asked;  ///< `only` as the day or the file spells it
    v1::DaySheet file;
};

struct HoldAgainst {
    std::optional<v1::RuleSet> rules;  ///< none: the day is held against no rule set
};

struct NoteSighting {
    v1::See asked;
    v1::Gear gear;  ///< to which it refers and which the day lacks
};

/// Whoever adds one writes what decides it, and what resolves it, or nothing compiles.
using Command =
    std::variant<PutParts, v1::Remove, HoldAgainst, v1::ClaimChannel, v1::Release, v1::SwitchOn,
                 v1::SwitchOff, NoteSighting, v1::Unsee, v1::AcknowledgeWarning, v1::Nod,
                 v1::WithdrawKey, v1::RenewTicket, v1::Assign, v1::EnterSweep,
                 v1::RecordMeasurement, v1::CallGroup, v1::CloseField, v1::OpenField, ChangePilot,
                 v1::LeaveLine, v1::MoveInLine, v1::HandOver, v1::Walk, TakeDay>;

}  // namespace fieldpeg::day
