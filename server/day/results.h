#pragma once

#include "server/day/assessment.h"

#include <cstddef>

/// How receivers and pilots stand, as messages.
namespace fieldpeg::day {

v1::Contribution message(const Situation& situation, const spectrum::Contribution& contribution);
/// With at most so many `contributions`, strongest first.
v1::ReceiverResult receiver_result(const Assessment& assessment, std::size_t receiver,
                                   std::size_t contributions);
/// Where control of the aircraft is at risk, that is the verdict and the reason.
v1::PilotResult pilot_result(const Assessment& assessment, const v1::Pilot& pilot);

}  // namespace fieldpeg::day
