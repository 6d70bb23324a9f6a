#pragma once

#include "server/day/state.h"
#include "server/day/trial.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <functional>
#include <optional>
#include <vector>

/// Channels and powers that are tried for a transmitter, and which of them is to be preferred.
namespace fieldpeg::day {

/// More are not tried.
inline constexpr std::size_t channels_tried_max = 64;

/// A channel and power that was tried for somebody.
struct Candidate {
    v1::Channel channel;
    double power_dbm;
    Trial::Outcome outcome;

    /// Neither the rule set nor a service to keep clear of has a remark.
    bool is_clean() const { return outcome.remarks.empty(); }
    /// The day's rule set has a band for it, or there is none.
    bool is_inside() const;
    /// It harms nobody, and its owner is in no trouble.
    bool is_good() const { return outcome.harms.empty() && !in_trouble(outcome.own.verdict()); }
    bool is_loud_enough(bool sharp) const;
    /// The worst margin that anybody is left with.
    double least_db() const;
};

/// Good before bad, inside the rule set, without a remark, then by the worst margin that is left.
bool is_better(const Candidate& one, const Candidate& other);

v1::Alternative message(const Candidate& candidate);

using Try = std::function<Candidate(const v1::Channel& channel, double power_dbm)>;

/// Of rising powers the lowest at which the picture is steady, or sharp if that was asked for, with
/// nobody else on the air, else the highest that harms nobody.
Candidate least_steady(const Try& tried, const v1::Channel& channel,
                       const std::vector<double>& rising, bool sharp);

/// What a transmitter may be tuned to, as far as it is tried.
std::vector<v1::Channel> channels_tried(const Holder& held, const v1::DaySheet& sheet);

/// Whether too many channels would be in use with another, or without: work grows with the square
/// of them.
bool are_too_many_channels(const v1::DaySheet& sheet, const Holder& held,
                           const v1::Channel* another);

}  // namespace fieldpeg::day
