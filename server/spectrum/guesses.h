#pragma once

#include "server/spectrum/standing.h"
#include "server/spectrum/verdict.h"

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

/// What a verdict rests on that nobody measured (docs/model.md, section 15).
namespace fieldpeg::spectrum {

/// What is guessed, in the order in which it is asked about where two would change as much.
enum class Guess {
    own_power,
    own_antenna,  ///< pattern, the floor of its nulls, axial ratio, feed
    noise_figure,
    selectivity,
    intercept,  ///< third-order intercept and compression point together
    others_power,
    others_antenna,
};
inline constexpr std::size_t guess_count = 7;

/// How far a value may lie from the one that is used, towards a worse picture and towards a better
/// one. Both 0 dB: it was measured.
struct Latitude {
    Decibel weak, strong;
};
using Guesses = std::array<Latitude, guess_count>;

/// [ours: assumed; the reasons stand in docs/model.md, section 15]. `selectivity` is for a
/// disturber 20 MHz away or more; nearer it fades, and at 5 MHz it is nothing.
inline constexpr Guesses assumed_guesses = {{{-3_dB, 1_dB},
                                             {-3_dB, 2_dB},
                                             {2_dB, -2_dB},
                                             {-10_dB, 5_dB},
                                             {-5_dB, 10_dB},
                                             {1_dB, -3_dB},
                                             {2_dB, -3_dB}}};

/// By how much margins may be worse (0 dB or less) or better (0 dB or more).
struct Change {
    Decibel worse, better;
};

/// How one receiver's margins would change.
struct Doubt {
    std::array<Change, guess_count> of;  ///< M98, each guess by itself
    Change all;                          ///< M98, all of them: independent, so by squares
    Change alone;                        ///< the same with nobody else on the air
};

/// By receiver; none if it hears nothing. `guesses` by receiver; `receptions` are the scene's.
std::vector<std::optional<Doubt>> doubts(const Scene& scene, const LinkTable& links,
                                         RejectionTables& tables, const Receptions& receptions,
                                         const std::vector<Guesses>& guesses);
/// Of a picture: that of the receiver with the least margin, in the last hop of its best way.
const Doubt& doubt(const std::vector<std::optional<Doubt>>& doubts, const Receptions& receptions,
                   const Viewer& viewer);

/// What a standing may be, whatever the guesses are.
struct Outlook {
    Verdict low, high;
    Decibel margin_low, margin_high;  ///< M98
    /// Whose knowledge would most likely change the verdict; none: it holds.
    std::optional<Guess> would_settle;
};
Outlook outlook(const Standing& standing, const Doubt& doubt);

}  // namespace fieldpeg::spectrum
