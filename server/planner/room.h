#pragma once

#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <vector>

namespace fieldpeg::planner {

/// Somebody who may yet come.
struct Newcomer {
    spectrum::Transmitter transmitter;
    std::vector<spectrum::Receiver> receivers;  ///< theirs; `hears` and `owner` do not matter
    Allowed allowed;
    /// What goes where it goes; `follows` and `spares` do not matter.
    std::vector<Beside> beside = {};
};

/// Whether one of a kind has a good flight with nobody else on the air.
bool has_good_flight(const Question& question, const Newcomer& kind);

/// How many more of a kind still fit.
struct Room {
    std::size_t more;  ///< so many do ...
    bool proved;       ///< ... and one more does not
    /// Channels on which the first of them leaves room for all the others.
    std::vector<spectrum::Hertz> channels;
};

/// How many newcomers of a kind, at most `most`, fit beside those of the question with everybody
/// at `target` or better. Who holds a channel is pinned by the question.
Room room(const Question& question, const Newcomer& kind, spectrum::Decibel target,
          std::size_t most, const Effort& effort);

}  // namespace fieldpeg::planner
