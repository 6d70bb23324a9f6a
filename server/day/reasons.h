#pragma once

#include "server/day/assessment.h"

#include <cstddef>
#include <string>

/// What rules a margin, in words for people.
namespace fieldpeg::day {

/// One sentence: what rules a receiver's margin, or why it has no picture.
std::string reason(const Assessment& assessment, std::size_t receiver);
/// The same of a pilot's picture; without one, of the first of their own receivers. Empty: they
/// have none.
std::string reason(const Assessment& assessment, const v1::Pilot& pilot);

/// The same of how an aircraft is steered, and what would help.
std::string control_reason(const Assessment& assessment, const v1::Pilot& pilot,
                           const spectrum::ControlStanding& standing);

}  // namespace fieldpeg::day
