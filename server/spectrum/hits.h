#pragma once

#include "server/spectrum/units.h"

#include <cstddef>
#include <span>
#include <vector>

namespace fieldpeg::spectrum {

/// A third-order product of a set of channels and the channel of the set it falls nearest to, the
/// channels that make it apart.
struct Hit {
    std::vector<std::size_t> from;  ///< {a, b}: 2a-b; {a, b, c}: a+b-c; indices into the set
    std::size_t on;
    Hertz product;
    Hertz offset;  ///< distance between product and channel
};

/// Every product within `reach` of a channel of the set that has no part in making it, nearest
/// first. A product that meets several channels is listed for each.
///
/// Products are taken at their absolute frequency, as radio does: small abstract numbers would meet
/// products that ran through zero.
///
/// Requires that the channels are different. Work grows with the fourth power of their number.
std::vector<Hit> third_order_hits(std::span<const Hertz> channels, Hertz reach);

}  // namespace fieldpeg::spectrum
