#pragma once

#include "server/spectrum/scene.h"

#include <cstddef>
#include <vector>

namespace fieldpeg::spectrum {

/// Receivers of one owner that show one transmitter's picture together: the better one counts,
/// place by place (diversity).
struct Hop {
    std::size_t transmitter;
    std::vector<std::size_t> receivers;

    bool operator==(const Hop&) const = default;
};

/// How a picture comes to somebody: the aircraft's hop, or that to a relay and then the relay's.
struct Way {
    std::vector<Hop> hops;

    bool operator==(const Way&) const = default;
};

/// Somebody who sees a picture. Each way is one to see it; the best counts.
struct Viewer {
    std::size_t owner;
    std::vector<Way> ways;  ///< at least one
};

/// Every hop of a scene, in the order of their first receivers.
std::vector<Hop> hops(const Scene& scene);

/// Everybody to whom a picture comes, in the order of their first receivers.
///
/// A relay with receivers of its own, none of which hears anything, carries no picture; one without
/// is taken as it is.
std::vector<Viewer> viewers(const Scene& scene);

}  // namespace fieldpeg::spectrum
