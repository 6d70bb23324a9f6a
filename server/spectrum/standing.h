#pragma once

#include "server/spectrum/margin.h"
#include "server/spectrum/viewer.h"

#include <algorithm>

/// Margins of receivers, hops, ways and viewers (docs/model.md, sections 7 and 8).
namespace fieldpeg::spectrum {

/// Which margin is meant: for what picture, for what share of the flight, with whom on the air.
struct Aim {
    Demand demand = Demand::watchable;
    double share = good_share;  ///< between 0 and 1
    Air air = Air::usual;
    bool heeds_closeness = true;  ///< false: as if no transmitter were too strong for its receiver
};

/// The margin of one receiver: the wanted level less J and what is required, but no more than what
/// is left before its own transmitter is too strong.
Decibel margin(const Reception& reception, const Aim& aim);
/// Of receivers in diversity. Their fading is independent, so together they miss less than the best
/// of them; one that is overloaded is left for the others.
Decibel margin(const Receptions& receptions, const Hop& hop, const Aim& aim);
/// Of a chain. Analogue hops add their noise; a digital one is as good as its weakest hop.
Decibel margin(const Receptions& receptions, const Way& way, const Aim& aim);
/// Of the best way.
Decibel margin(const Receptions& receptions, const Viewer& viewer, const Aim& aim);

/// The share of the flight with a picture: that for which the margin is 0 dB. J takes the others at
/// their usual level all the time, so one far below 80 % is a low estimate.
double share(const Reception& reception, Demand demand, Air air);
double share(const Receptions& receptions, const Hop& hop, Demand demand, Air air);
double share(const Receptions& receptions, const Way& way, Demand demand, Air air);
double share(const Receptions& receptions, const Viewer& viewer, Demand demand, Air air);

/// How somebody stands, whether one receiver, a hop with diversity, or all the ways to a picture.
struct Standing {
    Decibel good;     ///< M98: margin at watchable for a good flight
    Decibel usable;   ///< M80: the same for a usable one
    Decibel closest;  ///< Mc: for a usable flight while the others pass as near as they come
    Decibel sharp;    ///< margin at sharp for a usable flight
    /// Nobody else on the air; the second as if nothing were too close.
    Decibel alone_good, alone_usable;
    Decibel reach_good, reach_usable;

    /// What is reported as the worst margin.
    Decibel worst() const { return std::min(good, closest); }
    /// What the others take of a good flight.
    Decibel cost() const { return alone_good - good; }

    auto operator<=>(const Standing&) const = default;
};

Standing standing(const Reception& reception);
Standing standing(const Receptions& receptions, const Hop& hop);
Standing standing(const Receptions& receptions, const Way& way);
Standing standing(const Receptions& receptions, const Viewer& viewer);

}  // namespace fieldpeg::spectrum
