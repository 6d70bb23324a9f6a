#pragma once

#include "server/day/assessment.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"

#include <optional>
#include <set>
#include <string>
#include <vector>

namespace fieldpeg::day {

/// What is held against the day's rule set and the services to keep clear of.
struct Occupied {
    v1::Channel channel;
    double width_mhz;                ///< 99 % of the power
    std::optional<double> eirp_dbm;  ///< in the main beam
};

/// Advice, never clearance: each remark carries its source.
std::vector<v1::Remark> remarks(const Occupied& occupied, const v1::RuleSet* rules,
                                const google::protobuf::RepeatedPtrField<v1::Service>& services);

/// The remarks on one transmitter of a situation, on every channel that it moves to by itself.
std::vector<v1::Remark> remarks(const Situation& situation, std::size_t transmitter,
                                const v1::DaySheet& sheet);

/// What the model does not cover and the people on the field should mind all the same.
struct Caution {
    std::set<std::string> concerns;  ///< pilots
    std::string text;
};
/// Of every moment of an assessment; each is told once.
std::vector<Caution> cautions(const Assessment& assessment);

/// e.i.r.p. of a transmitter of a situation in its main beam.
spectrum::Dbm eirp(const spectrum::Transmitter& transmitter);

}  // namespace fieldpeg::day
