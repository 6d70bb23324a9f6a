#pragma once

#include "server/refusal/refusal.h"
#include "server/spectrum/units.h"

#include <span>
#include <utility>
#include <vector>

namespace fieldpeg::spectrum {

/// A curve symmetric about its centre: straight lines in dB between knots, level over |offset|.
///
/// Always has at least two knots, the first at offset 0, offsets strictly increasing, levels never
/// turning back. A curve that turned back would let a signal farther away leak more than a nearer
/// one, and the planner's proofs rest on its never being so.
class Curve {
public:
    static constexpr Hertz offset_limit = 10'000_MHz;
    static constexpr Decibel level_limit = 300_dB;
    static constexpr std::size_t knots_max = 64;

    struct Knot {
        Hertz offset;  ///< from the centre, never negative
        Decibel level;

        bool operator==(const Knot&) const = default;
    };
    enum class Direction { rising, falling };

    /// Refuses what the class comment rules out; the refusal names the knot, counted from 1.
    static Result<Curve> make(std::vector<Knot> knots, Direction direction);

    /// The level at `offset`, either side of the centre; beyond the last knot, that knot's level.
    Decibel at(Hertz offset) const;

    std::span<const Knot> knots() const { return knots_; }
    Hertz last() const { return knots_.back().offset; }

    bool operator==(const Curve&) const = default;

private:
    explicit Curve(std::vector<Knot> knots) : knots_(std::move(knots)) {}

    std::vector<Knot> knots_;
};

/// What a transmitter radiates: power density around its centre, and nothing beyond the last knot.
/// Only the shape counts; the area is taken as one.
class Density {
public:
    static Result<Density> make(std::vector<Curve::Knot> knots);
    const Curve& curve() const { return curve_; }

    bool operator==(const Density&) const = default;

private:
    explicit Density(Curve curve) : curve_(std::move(curve)) {}
    Curve curve_;
};

/// By how much a receiver weakens what is off its tune: attenuation, 0 dB at the centre; beyond
/// the last knot it stays at that knot's level, the ultimate rejection of the receiver.
class Selectivity {
public:
    static Result<Selectivity> make(std::vector<Curve::Knot> knots);
    const Curve& curve() const { return curve_; }

    bool operator==(const Selectivity&) const = default;

private:
    explicit Selectivity(Curve curve) : curve_(std::move(curve)) {}
    Curve curve_;
};

}  // namespace fieldpeg::spectrum
