#pragma once

#include "server/spectrum/margin.h"

#include <cstddef>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {

/// One term of a receiver's interference.
struct Contribution {
    enum class Kind {
        co_channel,
        adjacent,
        receiver_product,
        transmitter_product,
        burst,
        harmonic
    };

    Kind kind;
    /// Who makes it: {a}; {a, b} for 2a-b; {a, b, c} for a+b-c. Made in a transmitter: a is the
    /// one whose output stage it comes from.
    std::vector<std::size_t> from;
    std::optional<Hertz> product;  ///< where a product or a harmonic falls
    Dbm level;                     ///< as it counts, after all rejection
};

/// The strongest terms at one receiver, strongest first, at most `most`. Requires that it hears
/// something.
std::vector<Contribution> contributions(const Scene& scene, const LinkTable& links,
                                        RejectionTables& tables, std::size_t receiver,
                                        Geometry geometry, std::size_t most);

/// A signal at a receiver's front end.
struct FrontEndSignal {
    std::size_t transmitter;
    Dbm level;
};
/// The strongest of those that make up `Budget::blockers`, strongest first, at most `most`.
std::vector<FrontEndSignal> front_end_signals(const Scene& scene, const LinkTable& links,
                                              RejectionTables& tables, std::size_t receiver,
                                              Geometry geometry, std::size_t most);

/// 3A-2B: listed with its distance from the receiver's channel, not counted.
struct FifthOrder {
    std::size_t a, b;
    Hertz product;
    Hertz offset;  ///< from the receiver's channel
};
/// Those within `product_reach`, nearest first, at most `most`.
std::vector<FifthOrder> fifth_order(const Scene& scene, std::size_t receiver, std::size_t most);

}  // namespace fieldpeg::spectrum
