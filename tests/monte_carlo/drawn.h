#pragma once

#include "server/spectrum/guesses.h"
#include "server/spectrum/scene.h"
#include "server/spectrum/verdict.h"

#include <random>
#include <vector>

/// Fields whose gear is not quite as it is reckoned, beside what is said of that (docs/model.md,
/// section 15).
namespace fieldpeg::testing {

/// The same field with gear as it may really be. Every transmitter sends more or less than it says,
/// its antenna is better or worse; every receiver has a noise figure, a filter, an intercept and a
/// compression point of its own. All are drawn evenly and by themselves from the ranges of
/// docs/model.md, section 15, [ours: assumed].
spectrum::Scene drawn(std::mt19937_64& rng, spectrum::Scene field);

/// Somebody's outlook, and their word in a field that was drawn.
struct Drawn {
    spectrum::Outlook outlook;
    spectrum::Verdict word;   ///< as reckoned
    spectrum::Verdict drawn;  ///< as it may be
};
bool holds(const Drawn& one);
/// From steady or tight to any other word or back.
bool changes_side(const Drawn& one);

/// Everybody's, and every receiver's by itself, in so many fields drawn from one.
std::vector<Drawn> draw(std::mt19937_64& rng, const spectrum::Scene& field, int times);

}  // namespace fieldpeg::testing
