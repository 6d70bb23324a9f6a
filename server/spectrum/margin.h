#pragma once

#include "server/spectrum/geometry.h"
#include "server/spectrum/link.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {

/// Between the leak of an intruder into a transmitter's output and the product that leaves it.
/// [SM.2021, 2.1] gives the method; the value is assumed, real stages range from 5 to 20 dB.
inline constexpr Decibel conversion_loss = 10_dB;
/// Below this rejection a disturber counts as being on the same channel.
inline constexpr Decibel co_channel_below = 3_dB;
/// One that is there for this share of the time or more counts in full: lines tear, and averaging
/// would hide it [ours: assumed].
inline constexpr double full_duty = 0.10;

/// What is asked of the picture.
enum class Demand { watchable, sharp };

/// Who else is on the air.
enum class Air {
    usual,    ///< everybody, all over their areas
    closest,  ///< everybody, passing as near as they come
    alone,    ///< nobody
};

/// What disturbs one receiver in one geometry (docs/model.md, section 6).
struct Budget {
    Decibel desensitisation;            ///< D
    std::optional<Dbm> blockers;        ///< T, everything unwanted that gets into the front end
    double adjacent_mw = 0;             ///< co-channel and adjacent-channel terms
    double burst_mw = 0;                ///< from transmitters that hop
    double harmonic_mw = 0;             ///< second and third harmonics
    double receiver_product_mw = 0;     ///< third-order products made in the receiver
    double transmitter_product_mw = 0;  ///< third-order products made in transmitters

    double interference_mw() const {
        return adjacent_mw + burst_mw + harmonic_mw + receiver_product_mw + transmitter_product_mw;
    }
};

/// What one receiver gets of its transmitter and of everybody else. Refers to the scene and the
/// link table.
struct Reception {
    const ReceiverProfile* profile;
    const WantedGain* gain;
    Dbm sent;  ///< what the front end lets through of its transmitter's power
    Decibel body;
    Dbm noise;                      ///< N
    bool hears_analogue;            ///< its transmitter's envelope is constant
    std::array<Budget, 2> budgets;  ///< in the order of `geometries`

    const Budget& budget(Geometry geometry) const {
        return budgets[static_cast<std::size_t>(geometry)];
    }
    /// C: the level of the wanted signal that is exceeded for a share of the flight.
    Dbm wanted(double share) const { return sent + gain->exceeded(share) - body; }
    /// J: what the wanted signal has to stand out from, D and noise and interference.
    Dbm floor(Air air) const;
    Decibel required(Demand demand) const {
        return demand == Demand::watchable ? profile->watchable : profile->sharp;
    }
    /// O: room before its own transmitter is too strong for it, for a share of the flight.
    Decibel closeness(double share) const {
        return profile->strongest_wanted - (sent + gain->exceeded(1 - share));
    }
};

/// Whether strong signals off the channel cost a receiver more than what is on it does.
bool is_ruled_by_desensitisation(const Reception& reception, Geometry geometry = Geometry::usual);
/// The same, or they are more than its front end stands.
bool is_swamped(const Reception& reception, Geometry geometry = Geometry::usual);

/// Whether a receiver's front end lets a frequency pass as it is.
bool is_in_front_end(const ReceiverProfile& profile, Hertz frequency);
/// What a receiver's front end takes off a signal: nothing in its band.
Decibel front_end_loss(const ReceiverProfile& profile, Hertz frequency);

/// By receiver; none if it hears nothing in the scene.
using Receptions = std::vector<std::optional<Reception>>;

/// What every receiver gets. `links` and `tables` belong to this scene, powers aside.
///
/// Products are formed between distinct frequencies, not between transmitters, and summed by
/// correlation, so the work grows with the square of the transmitters.
Receptions assess(const Scene& scene, const LinkTable& links, RejectionTables& tables);

}  // namespace fieldpeg::spectrum
