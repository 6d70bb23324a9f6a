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
using Row = std::array<float, band_size_max>;

/// What is left of a signal or a product on every channel of a band, so that a search adds rows
/// and evaluates no curve. Rows fill as they are asked for.
///
/// Memory: 256 bytes a row; at most profiles x kinds x channels x bands rows of leak, and for
/// products profiles x kinds^3 x bands rows for each step on which one falls within reach.
class Rows {
public:
    explicit Rows(const Problem& problem);

    /// Share of a signal on `channel` of band `from` that is left in an ear in band `into`.
    const Row& leak(std::size_t profile, std::size_t kind, std::size_t into, std::size_t from,
                    std::size_t channel) const {
        return leak_[((profile * kinds_ + kind) * bands_ + into) * bands_ + from][channel];
    }
    /// The least of these over all channels of `from`.
    const Row& least_leak(std::size_t profile, std::size_t kind, std::size_t into,
                          std::size_t from) const {
        return least_leak_[((profile * kinds_ + kind) * bands_ + into) * bands_ + from];
    }
    /// What the front end leaves of a signal, by channel of a band.
    const Row& front(std::size_t profile, std::size_t band) const {
        return front_[profile * bands_ + band];
    }
    /// Share of a product at `step` that is left; null if it is out of reach of the whole band. A
    /// product 2A-B has no third kind.
    const Row* product(std::size_t profile, std::size_t a, std::size_t b, std::size_t c,
                       std::size_t into, std::int64_t step);
    const Row* product(std::size_t profile, std::size_t a, std::size_t b, std::size_t into,
                       std::int64_t step) {
        return product(profile, a, b, kinds_, into, step);
    }

private:
    /// Rows by step. They are few steps, or the grid is fine: then a map holds them.
    struct Products {
        std::vector<std::uint32_t> by_step;  ///< one more than the index of a row; 0: not made yet
        std::unordered_map<std::int64_t, std::uint32_t> by_fine_step;
        std::deque<Row> rows;
    };
    static constexpr std::int64_t dense_max = 1 << 14;

    Row row(const Curve& curve, std::size_t into, std::int64_t step, std::int64_t reach) const;

    const Problem& problem_;
    std::size_t kinds_;
    std::size_t bands_;
    std::vector<std::vector<Row>> leak_;
    std::vector<Row> least_leak_;
    std::vector<Row> front_;
    std::vector<Products> product_;
};

}  // namespace fieldpeg::planner
