#pragma once

#include <gtest/gtest.h>

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <initializer_list>
#include <random>
#include <string>

namespace fieldpeg::testing {

/// Runs `property(rng)` for `trials` seeds. A failure names its seed; FIELDPEG_SEED=n runs it
/// alone.
template <class Property>
void for_all(int trials, Property property) {
    if (const char* only = std::getenv("FIELDPEG_SEED")) {
        std::mt19937_64 rng(std::stoull(only));
        property(rng);
        return;
    }
    for (std::uint64_t seed = 1; seed <= static_cast<std::uint64_t>(trials); ++seed) {
        SCOPED_TRACE("FIELDPEG_SEED=" + std::to_string(seed));
        std::mt19937_64 rng(seed);
        property(rng);
        if (::testing::Test::HasFailure()) return;
    }
}

inline double between(std::mt19937_64& rng, double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(rng);
}
/// Both ends included.
inline int whole(std::mt19937_64& rng, int low, int high) {
    return std::uniform_int_distribution<int>(low, high)(rng);
}
/// True `percent` times in a hundred.
inline bool chance(std::mt19937_64& rng, int percent) {
    return whole(rng, 1, 100) <= percent;
}
template <class T>
T one_of(std::mt19937_64& rng, std::initializer_list<T> choices) {
    return choices
        .begin()[static_cast<std::size_t>(whole(rng, 0, static_cast<int>(choices.size()) - 1))];
}

}  // namespace fieldpeg::testing
