#pragma once

#include "server/planner/plan.h"
#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/contributions.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <optional>
#include <vector>

namespace fieldpeg::planner {

/// What holds the worst off of a plan below a margin.
struct Obstacle {
    enum class Limit {
        range,      ///< it does not reach the margin with nobody else on the air
        swamped,    ///< others are more than its front end stands
        too_close,  ///< its own transmitter is too strong for it
        others,     ///< the strongest of what disturbs it is `strongest`
    };

    std::size_t viewer;    ///< index into Tables::viewers()
    std::size_t receiver;  ///< that on which the picture hangs
    spectrum::Decibel margin;
    Limit limit;
    std::optional<spectrum::Contribution> strongest;
    /// Two who cannot both reach the margin whatever their channels, if there are such.
    std::optional<std::pair<std::size_t, std::size_t>> strangers;
};

/// What stands between a choice and a margin that it does not reach; none if it does.
std::optional<Obstacle> obstacle(const Tables& tables, const Choice& choice,
                                 spectrum::Decibel target);

/// One change and how good a plan it makes possible.
struct Relief {
    enum class Change {
        stays_out,    ///< the transmitter is not on the air
        any_channel,  ///< it may take every channel that anybody may
        any_power,    ///< the same of powers
    };

    Change change;
    std::size_t transmitter;
    spectrum::Decibel worst;  ///< of the best plan found with it
};

/// What would help most, best first: each change to each transmitter tried with the effort.
std::vector<Relief> reliefs(const Question& question, const Effort& effort);

}  // namespace fieldpeg::planner
