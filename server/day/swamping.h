#pragma once

#include "server/day/scene.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <optional>
#include <string>

namespace fieldpeg::day {

/// How far a transmitter alone is more than a receiver stands, in the direction of that receiver.
struct Swamping {
    spectrum::Metres within;
    std::string owner, receiver;
};

/// Of the receivers of others than its owner the one that it swamps farthest; none: it swamps none.
std::optional<Swamping> swamping(const Situation& situation, std::size_t transmitter,
                                 const std::string& owner);

}  // namespace fieldpeg::day
