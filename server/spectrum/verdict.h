#pragma once

#include "server/spectrum/standing.h"

#include <optional>

namespace fieldpeg::spectrum {

/// The words are unlike each other when shouted in wind; none of them means 'cleared to launch'.
/// In order of seriousness: more disturbance never gives a better one.
enum class Verdict { steady, tight, patchy, too_close, shaky, too_far, clash, no_picture };
enum class Picture { sharp, watchable, broken };

/// What a pilot would have with nobody else on the air.
enum class Range {
    good,
    patchy,     ///< a usable flight, not a good one
    too_close,  ///< the own transmitter is too strong for the receiver
    too_far,
};
/// What the others do to somebody.
enum class Interference { none, shaky, clash };

/// Others who cost somebody less than this are not to blame for what range does [ours:
/// docs/model.md, section 7]; and costing one who is in trouble anyway so much is harm.
inline constexpr Decibel blame_from = 3_dB;

Range range(const Standing& standing);
Interference interference(const Standing& standing);
/// From a standing; `no_picture` and `broken` from none.
Verdict verdict(const std::optional<Standing>& standing);
Picture picture(const std::optional<Standing>& standing);

/// Whether going from `before` to `after` harms a person who did not ask for it: the others' doing
/// turns shaky, or from shaky to clash, or one whose flight is not good anyway is cost `blame_from`
/// more (somebody's clash on paper must not hide the next one).
bool harms(const Standing& before, const Standing& after);

}  // namespace fieldpeg::spectrum
