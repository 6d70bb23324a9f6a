#include "server/spectrum/hits.h"
#include "tests/published/channels.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstddef>
#include <set>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::channels_at;

/// The products of n carriers far from one another's, counted by who makes them.
testing::HitCount products_of(std::size_t n) {
    std::vector<double> marks;  // no product meets another: powers of four
    for (std::size_t i = 0; i < n; ++i) marks.push_back(static_cast<double>(1U << (2 * i)));
    std::set<std::vector<std::size_t>> makers;
    for (const auto& hit : third_order_hits(channels_at(marks), 1'000'000_MHz))
        makers.insert(hit.from);
    testing::HitCount count;
    for (const auto& from : makers) ++(from.size() == 2 ? count.two_signal : count.three_signal);
    return count;
}

// n (n - 1) of type 2A-B, n (n - 1) (n - 2) / 2 of type A+B-C; derived, as counted in every text on
// the subject. Three carriers have no fourth for A+B-C to meet, so counting starts at four.
TEST(ThirdOrderProducts, AreAsManyAsTheCombinations) {
    const std::vector<testing::HitCount> expected{
        {12, 12}, {20, 30}, {30, 60}, {42, 105}, {56, 168}};
    for (std::size_t i = 0; i < expected.size(); ++i)
        EXPECT_EQ(products_of(i + 4), expected[i]) << i + 4 << " carriers";
}

/// Products that fall on carrier r of n equal steps [Westcott, counts], from memory, recomputed by
/// brute force for every r and n = 3..20. D3 counts A+B-C on C itself, C midway between A and B.
struct Westcott {
    int n, r;

    int odd() const { return n % 2 == 1 ? 2 : 0; }  // 1 - (-1)^n
    static int sign(int k) { return k % 2 == 0 ? 1 : -1; }
    double d2() const { return 0.5 * (n - 2 - 0.5 * odd() * sign(r)); }
    double d3() const {
        return r / 2.0 * (n - r + 1) + 0.25 * ((n - 3) * (n - 3) - 5) - 0.125 * odd() * sign(n + r);
    }
    int midway() const { return std::min(r - 1, n - r); }
};

/// How many products fall on each of n channels in equal steps, by the code.
std::vector<testing::HitCount> hits_on_equal_steps(int n) {
    std::vector<double> marks;
    for (int r = 1; r <= n; ++r) marks.push_back(r);
    std::vector<testing::HitCount> on(marks.size());
    for (const auto& hit : third_order_hits(channels_at(marks), 0_Hz))
        ++(hit.from.size() == 2 ? on[hit.on].two_signal : on[hit.on].three_signal);
    return on;
}

TEST(ThirdOrderHits, OfEqualStepsAreWestcottsNumbers) {
    for (int n = 3; n <= 20; ++n) {
        const auto on = hits_on_equal_steps(n);
        for (int r = 1; r <= n; ++r) {
            const Westcott formula{n, r};
            const auto& count = on[static_cast<std::size_t>(r - 1)];
            EXPECT_EQ(static_cast<double>(count.two_signal), formula.d2()) << n << ' ' << r;
            EXPECT_EQ(static_cast<double>(count.three_signal + formula.midway()), formula.d3())
                << n << ' ' << r;
        }
    }
}

// The row for eight carriers as it is tabled; the sums are 24 and 100, or 88 without C itself.
TEST(ThirdOrderHits, OfEightEqualStepsAreTheTabledRow) {
    const int d3[] = {9, 12, 14, 15, 15, 14, 12, 9};
    const auto on = hits_on_equal_steps(8);
    for (int r = 1; r <= 8; ++r) {
        const auto& count = on[static_cast<std::size_t>(r - 1)];
        EXPECT_EQ(count.two_signal, 3);
        const Westcott formula{8, r};
        EXPECT_EQ(count.three_signal + formula.midway(), d3[r - 1]);
    }
}

}  // namespace
}  // namespace fieldpeg::spectrum
