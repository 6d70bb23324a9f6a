#pragma once

#include "server/spectrum/scene.h"

#include <random>

/// Random club fields for the Monte Carlo check (docs/model.md, section 12). The mix is invented
/// [ours: assumed], was written down before any of it was played, and is not tuned.
namespace fieldpeg::testing {

enum class FieldKind {
    front,   ///< 2 to 7 pilots, 25 to 600 mW, areas wholly in front of the line
    inside,  ///< 1 to 6 pilots who stand in their areas, to 400 m
    relays,  ///< either of these, and one pilot or two who see their picture through a relay
};
inline constexpr FieldKind field_kinds[] = {FieldKind::front, FieldKind::inside, FieldKind::relays};

/// Gear of the library. Channels of 5.8 GHz are 37 MHz apart, one in four nearer to another.
spectrum::Scene random_field(std::mt19937_64& rng, FieldKind kind);

}  // namespace fieldpeg::testing
