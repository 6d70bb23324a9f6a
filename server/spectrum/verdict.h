#pragma once

#include "server/spectrum/margin.h"
#include "server/spectrum/scene.h"

#include <algorithm>
#include <optional>
#include <span>

namespace fieldpeg::spectrum {

/// The words are unlike each other when shouted in wind; none of them means 'cleared to launch'.
enum class Verdict { steady, tight, shaky, clash, too_far, no_picture };
enum class Picture { sharp, watchable, broken };

/// A receiver `shaky` rather than in `clash` may lack this much [ours: docs/model.md, section 7].
inline constexpr Decibel shaky_down_to{-3};
/// Costing one who flies too far, or is in trouble, anyway more than this is harm all the same.
inline constexpr Decibel harm_tolerance = 3_dB;

/// How somebody stands, whether one receiver, a link with diversity, or a pilot's whole chain.
struct Standing {
    Decibel ref;    ///< margin at watchable, `ref` geometry
    Decibel worst;  ///< the same in the `worst` geometry, as computed
    Decibel sharp;  ///< margin at sharp, `ref` geometry
    Decibel alone;  ///< nobody else on the air: noise and range only

    /// What is reported as the worst margin; `worst` itself may exceed `ref` under an area.
    Decibel reported_worst() const { return std::min(ref, worst); }
};

Standing standing(const std::array<Budget, 2>& budgets, const ReceiverProfile& profile);

/// Diversity: the best picture is shown. Requires at least one.
Standing best_of(std::span<const Standing> receivers);
/// A chain is as good as its worst link. Requires at least one.
Standing least_of(std::span<const Standing> links);

/// From a standing; `no_picture` and `broken` from none.
Verdict verdict(const std::optional<Standing>& standing);
Picture picture(const std::optional<Standing>& standing);

/// Whether going from `before` to `after` harms a person who did not ask for it: their receiver
/// turns shaky or from shaky to clash, or one that is too far or in trouble already is cost more
/// than `harm_tolerance` (somebody's clash on paper must not hide the next one).
bool harms(const Standing& before, const Standing& after);

}  // namespace fieldpeg::spectrum
