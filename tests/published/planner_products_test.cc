// The planner's search on channel sets that are free of third-order products.

#include "tests/published/planner_problems.h"
#include "tests/published/published.h"

#include <gtest/gtest.h>

#include <cstddef>

namespace fieldpeg::planner {
namespace {

using testing::Answer;
using testing::answer;
using testing::free_of_products;
using testing::Products;
using testing::published;

constexpr std::size_t refuted_up_to = testing::is_optimised ? 8 : 6;  // 9 takes ten seconds

// No product 2A-B or A+B-C on a channel in use: all differences differ, so n stations need one
// channel more than the shortest ruler with n marks is long [OEIS, A003022] [Babcock, table].
TEST(BestChoice, NeedsAsManyChannelsAsTheShortestRulerIsLong) {
    for (const auto& row : published("least_channels.csv")) {
        if (row.text("products") != "all") continue;
        const auto n = static_cast<std::size_t>(row.number("n"));
        const auto channels = static_cast<std::size_t>(row.number("channels"));
        EXPECT_EQ(answer(free_of_products(n, channels, Products::all)), Answer::solved)
            << row.where();
        if (n > refuted_up_to) continue;
        EXPECT_EQ(answer(free_of_products(n, channels - 1, Products::all)), Answer::refuted)
            << row.where();
    }
}

// No 2A-B on a channel in use: no three channels equally spaced [OEIS, A065825].
TEST(BestChoice, NeedsAsManyChannelsAsHoldNoThreeEquallySpaced) {
    for (const auto& row : published("least_channels.csv")) {
        if (row.text("products") != "two-signal") continue;
        const auto n = static_cast<std::size_t>(row.number("n"));
        const auto channels = static_cast<std::size_t>(row.number("channels"));
        EXPECT_EQ(answer(free_of_products(n, channels, Products::two_signal)), Answer::solved)
            << row.where();
        EXPECT_EQ(answer(free_of_products(n, channels - 1, Products::two_signal)), Answer::refuted)
            << row.where();
    }
}

}  // namespace
}  // namespace fieldpeg::planner
