#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <optional>
#include <string>

namespace fieldpeg::day {

/// Somebody or something that refers to what the day does not have.
struct Loose {
    std::string who, why;
    std::string what;  ///< that is not there: a place, an area, an owner, a relay
};

/// The first of a sheet that does; none: all is there.
std::optional<Loose> find_loose(const v1::DaySheet& sheet);

}  // namespace fieldpeg::day
