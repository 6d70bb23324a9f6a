#pragma once

#include "server/spectrum/geometry.h"
#include "server/spectrum/link.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace fieldpeg::spectrum {

/// Between the leak of an intruder into a transmitter's output and the product that leaves it.
/// [SM.2021, 2.1] gives the method; the value is assumed, real stages range from 5 to 20 dB.
inline constexpr Decibel conversion_loss = 10_dB;
/// Below this rejection a disturber counts as being on the same channel.
inline constexpr Decibel co_channel_below = 3_dB;

/// What is asked of the picture.
enum class Demand { watchable, sharp };

/// The budget of one receiver in one geometry (docs/model.md, sections 6 and 7).
struct Budget {
    Dbm wanted;            ///< C, where it is weakest, fade taken off
    Dbm wanted_strongest;  ///< where it is strongest
    Dbm noise;
    Decibel desensitisation;
    std::optional<Dbm> blockers;        ///< T, everything unwanted that gets into the front end
    double adjacent_mw = 0;             ///< co-channel and adjacent-channel terms
    double receiver_product_mw = 0;     ///< third-order products made in the receiver
    double transmitter_product_mw = 0;  ///< third-order products made in transmitters

    double interference_mw() const {
        return adjacent_mw + receiver_product_mw + transmitter_product_mw;
    }
};

/// The three numbers of which a margin is the least, and the margin.
struct Margins {
    Decibel noise_and_interference;   ///< C/(N+I) less what is required
    std::optional<Decibel> swamping;  ///< P1dB less all blockers; none without any
    Decibel closeness;                ///< room before its own transmitter is too strong for it
    Decibel least;
};
Margins margins(const Budget& budget, const ReceiverProfile& profile, Demand demand);

/// Whether strong signals off the channel are what is wrong with a receiver: they are more than its
/// front end stands, or desensitise it by more than noise and interference together cost.
bool is_swamped(const Budget& budget, const ReceiverProfile& profile);

/// Whether a receiver's front end lets a frequency pass as it is.
bool is_in_front_end(const ReceiverProfile& profile, Hertz frequency);
/// What a receiver's front end takes off a signal: nothing in its band.
Decibel front_end_loss(const ReceiverProfile& profile, Hertz frequency);

/// C/N less what watchable requires, nobody else on the air.
Decibel range_margin(const Budget& budget, const ReceiverProfile& profile);

/// A receiver's budgets, in the order of `geometries`; none if it hears nothing in the scene.
using Budgets = std::optional<std::array<Budget, 2>>;

/// The budgets of every receiver. `links` and `tables` belong to this scene, powers aside.
///
/// Products are formed between distinct frequencies, not between transmitters, so the work grows
/// with the cube of the frequencies in use and no faster than the square of the transmitters.
std::vector<Budgets> assess(const Scene& scene, const LinkTable& links, RejectionTables& tables);
std::vector<Budgets> assess(const Scene& scene);

/// One term of a receiver's interference.
struct Contribution {
    enum class Kind { co_channel, adjacent, receiver_product, transmitter_product };

    Kind kind;
    /// Who makes it: {a}; {a, b} for 2a-b; {a, b, c} for a+b-c. Made in a transmitter: a is the
    /// one whose output stage it comes from.
    std::vector<std::size_t> from;
    std::optional<Hertz> product;  ///< where a product falls
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
                                              std::size_t receiver, Geometry geometry,
                                              std::size_t most);

/// 3A-2B: listed with its distance from the receiver's channel, not counted.
struct FifthOrder {
    std::size_t a, b;
    Hertz product;
    Hertz offset;  ///< from the receiver's channel
};
/// Those within `product_reach`, nearest first, at most `most`.
std::vector<FifthOrder> fifth_order(const Scene& scene, std::size_t receiver, std::size_t most);

}  // namespace fieldpeg::spectrum
