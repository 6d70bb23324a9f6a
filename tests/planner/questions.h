#pragma once

#include "server/planner/tables.h"

#include <cstddef>
#include <random>
#include <string_view>
#include <vector>

/// Questions to hold the planner to: random small ones, and flying days of many pilots.
namespace fieldpeg::testing {

/// The 39 distinct centres of the letter rows at 5.8 GHz.
std::vector<spectrum::Hertz> distinct_channels();

/// A random scene of 2 to `most` transmitters, each with some channels (near each other, so that
/// they hurt) and one or two powers; now and then one is pinned.
planner::Question random_question(std::mt19937_64& rng, int most = 4);

struct Crowd {
    std::size_t pilots = 8;
    double spread_m = 3;                 ///< between pilots on the line; 0: all alike
    std::vector<double> powers_dbm{14};  ///< dealt out in turn
    std::size_t channels_each = 0;       ///< how many of the 39 each has; 0: all
    std::string_view antenna = "circular-omni";
};
/// Pilots side by side who fly one area.
planner::Question crowd(const Crowd& crowd, std::uint64_t seed = 1);

/// Pilots side by side, each with three to eight channels of the R and F rows.
planner::Question rows_day(std::size_t pilots, std::uint64_t seed);

/// 200 transmitters and more: pilots on 1.3, 2.4 and 5.8 GHz, areas and places of their own.
planner::Question big_day(std::size_t pilots, std::uint64_t seed = 1);

}  // namespace fieldpeg::testing
