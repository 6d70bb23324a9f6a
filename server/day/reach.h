#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/reach.pb.h"

#include <string>
#include <vector>

namespace fieldpeg::day {

/// In how many directions, and at which heights, it is looked.
struct ReachDetail {
    int bearings = 8;
    /// Beside the heights flown: does climbing help?
    std::vector<double> heights_m = {30, 120, 300};
};

/// How far a pilot's picture carries: receiver by receiver, by bearing and by height, alone and
/// with the others as `basis` has them. Refuses who has no aircraft with a claim, or no receiver
/// for it.
Result<v1::ReachReply> reach(const v1::DaySheet& sheet, const v1::Pilot& pilot,
                             v1::Basis::Kind basis, const ReachDetail& detail = {});

/// "north-west", to the nearest of eight.
std::string compass_text(double azimuth_deg);
/// "340 m", "8.2 km", "100 km or more".
std::string distance_text(double metres);
/// Of a scale, which does not end.
std::string length_text(double metres);

}  // namespace fieldpeg::day
