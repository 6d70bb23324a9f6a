#pragma once

#include "tests/simulation/world.h"

#include <cstdint>
#include <string>

namespace fieldpeg::simulation {

struct Outcome {
    std::string broken;  ///< the promise, and the last steps; empty: all were kept
    std::uint64_t trace = 0;
    Tally tally;
};

/// A few minutes of a flying day, all of it by chance: who comes, what they ask, what fails when.
/// The same seed gives the same day.
Outcome play(std::uint64_t seed, Fault fault = Fault::none);

}  // namespace fieldpeg::simulation
