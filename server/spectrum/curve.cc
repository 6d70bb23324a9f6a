#include "server/spectrum/curve.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace fieldpeg::spectrum {
namespace {

Refusal refuse(std::size_t index, std::string why) {
    return {Refusal::Kind::malformed, fmt::format("knot {}", index + 1), std::move(why)};
}

/// What is wrong with one knot, seen with the one before it; empty if nothing is.
std::string fault(const std::vector<Curve::Knot>& knots, std::size_t i,
                  Curve::Direction direction) {
    const auto [offset, level] = knots[i];
    if (offset > Curve::offset_limit)
        return fmt::format("offset beyond {} MHz", mhz(Curve::offset_limit));
    if (!(std::abs(level.count()) <= Curve::level_limit.count()))  // refuses a NaN too
        return fmt::format("level beyond {} dB", Curve::level_limit.count());
    if (i == 0) return offset == 0_Hz ? "" : "the first offset is not 0";
    if (offset <= knots[i - 1].offset) return "offset not above the one before";
    const bool turns_back = direction == Curve::Direction::rising ? level < knots[i - 1].level
                                                                  : level > knots[i - 1].level;
    return turns_back ? "the curve turns back here; away from the centre it may only get weaker"
                      : "";
}

}  // namespace

Result<Curve> Curve::make(std::vector<Knot> knots, Direction direction) {
    if (knots.size() < 2) return refuse(knots.size(), "missing, a curve has at least two");
    if (knots.size() > knots_max)
        return refuse(knots_max, fmt::format("too many, a curve has at most {}", knots_max));
    for (std::size_t i = 0; i < knots.size(); ++i) {
        auto why = fault(knots, i, direction);
        if (!why.empty()) return refuse(i, std::move(why));
    }
    return Curve(std::move(knots));
}

Decibel Curve::at(Hertz offset) const {
    const Hertz x = distance(offset, 0_Hz);
    const auto right = std::ranges::upper_bound(knots_, x, {}, &Knot::offset);
    if (right == knots_.end()) return knots_.back().level;
    const auto& from = *std::prev(right);
    const double share = mhz(x - from.offset) / mhz(right->offset - from.offset);
    return from.level + share * (right->level - from.level);
}

Result<Density> Density::make(std::vector<Curve::Knot> knots) {
    auto curve = Curve::make(std::move(knots), Curve::Direction::falling);
    if (!curve) return curve.error();
    return Density(std::move(*curve));
}

Result<Selectivity> Selectivity::make(std::vector<Curve::Knot> knots) {
    if (!knots.empty() && knots.front().level != 0_dB)
        return refuse(0, "attenuation at the centre is not 0 dB");
    auto curve = Curve::make(std::move(knots), Curve::Direction::rising);
    if (!curve) return curve.error();
    return Selectivity(std::move(*curve));
}

}  // namespace fieldpeg::spectrum
