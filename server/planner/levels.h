#pragma once

#include "server/planner/problem.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <unordered_map>
#include <vector>

namespace fieldpeg::planner {

/// One number for each channel of a band.
using Levels = std::array<float, band_size_max>;

/// What is left of a signal or a product on every channel of a band, so that a search adds levels
/// and evaluates no curve. LevelTables fill as they are asked for.
///
/// Memory: 256 bytes for each Levels; at most profiles x kinds x channels x bands of leak, and for
/// products profiles x kinds^3 x bands for each step on which one falls within reach.
class LevelTables {
public:
    explicit LevelTables(const Problem& problem);

    /// Share of a signal on `channel` of band `from` that is left in an ear in band `into`.
    const Levels& leak(std::size_t profile, std::size_t kind, std::size_t into, std::size_t from,
                       std::size_t channel) const {
        return leak_[((profile * kinds_ + kind) * bands_ + into) * bands_ + from][channel];
    }
    /// The least of these over all channels of `from`.
    const Levels& least_leak(std::size_t profile, std::size_t kind, std::size_t into,
                             std::size_t from) const {
        return least_leak_[((profile * kinds_ + kind) * bands_ + into) * bands_ + from];
    }
    /// What the front end leaves of a signal, by channel of a band.
    const Levels& front(std::size_t profile, std::size_t band) const {
        return front_[profile * bands_ + band];
    }
    /// Share of a product at `step` that is left; null if it is out of reach of the whole band. A
    /// product 2A-B has no third kind.
    const Levels* product(std::size_t profile, std::size_t a, std::size_t b, std::size_t c,
                          std::size_t into, std::int64_t step);
    const Levels* product(std::size_t profile, std::size_t a, std::size_t b, std::size_t into,
                          std::int64_t step) {
        return product(profile, a, b, kinds_, into, step);
    }

private:
    /// Levels by step. They are few steps, or the grid is fine: then a map holds them.
    struct Products {
        std::vector<std::uint32_t> by_step;  ///< one more than the index; 0: not made yet
        std::unordered_map<std::int64_t, std::uint32_t> by_fine_step;
        std::deque<Levels> all;
    };
    static constexpr std::int64_t dense_max = 1 << 14;

    Levels levels(const Falloff& curve, std::size_t into, std::int64_t step,
                  std::int64_t reach) const;

    const Problem& problem_;
    std::size_t kinds_;
    std::size_t bands_;
    std::vector<std::vector<Levels>> leak_;
    std::vector<Levels> least_leak_;
    std::vector<Levels> front_;
    std::vector<Products> product_;
};

}  // namespace fieldpeg::planner
