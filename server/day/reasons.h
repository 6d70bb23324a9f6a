#pragma once

#include "server/day/assessment.h"

#include <cstddef>
#include <optional>
#include <string>

/// What rules a margin, in words for people.
namespace fieldpeg::day {

/// One sentence: what rules a receiver's margin. `strongest` is its strongest term, if any.
std::string reason(const Assessment& assessment, std::size_t receiver,
                   const std::optional<spectrum::Contribution>& strongest);
std::string reason(const Assessment& assessment, std::size_t receiver);
/// The same of a pilot's picture; empty if nothing arrives.
std::string reason(const Assessment& assessment, const v1::Pilot& pilot);

}  // namespace fieldpeg::day
