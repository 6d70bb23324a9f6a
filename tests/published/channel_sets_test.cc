#include "server/spectrum/hits.h"
#include "tests/published/channels.h"
#include "tests/published/published.h"

#include <gtest/gtest.h>

#include <cstddef>
#include <map>
#include <set>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::channels_at;
using testing::channels_mhz;
using testing::exact_hits;
using testing::for_each_subset;
using testing::HitCount;
using testing::published;

constexpr HitCount none{0, 0};

/// All pairwise differences differ.
bool is_golomb(const std::vector<double>& marks) {
    std::set<double> differences;
    for (const double a : marks)
        for (const double b : marks)
            if (a < b && !differences.insert(b - a).second) return false;
    return true;
}

TEST(ThirdOrderHits, GolombRulersHaveNone) {
    for (const auto& row : published("golomb_rulers.csv")) {
        const auto marks = row.numbers("marks");
        ASSERT_EQ(static_cast<double>(marks.size()), row.number("n")) << row.where();
        ASSERT_EQ(marks.back(), row.number("length")) << row.where();
        EXPECT_EQ(exact_hits(channels_at(marks)), none) << row.where();
    }
}

TEST(ThirdOrderHits, BabcocksChannelSetsHaveNone) {
    for (const auto& row : published("babcock_channels.csv")) {
        const auto channels = row.numbers("channels");
        ASSERT_EQ(static_cast<double>(channels.size()), row.number("n")) << row.where();
        EXPECT_EQ(exact_hits(channels_at(channels)), none) << row.where();
    }
}

TEST(ThirdOrderHits, ARulerWithOneMarkMovedHasSome) {
    for (const auto& row : published("golomb_rulers.csv")) {
        auto marks = row.numbers("marks");
        marks[1] =
            marks[0] + marks[marks.size() - 1] - marks[marks.size() - 2];  // a difference twice
        ASSERT_FALSE(is_golomb(marks)) << row.where();
        EXPECT_NE(exact_hits(channels_at(marks)), none) << row.where();
    }
}

// No 2A-B and no A+B-C on another channel if and only if all differences differ; derived, stated in
// the literature on difference triangles [Maxemchuk, abstract].
TEST(ThirdOrderHits, AreNoneIfAndOnlyIfAllDifferencesDiffer) {
    for_each_subset(9, 3, 10, [](const std::vector<double>& marks) {
        EXPECT_EQ(exact_hits(channels_at(marks)) == none, is_golomb(marks))
            << ::testing::PrintToString(marks);
    });
}

// Shortest lengths for 3 to 6 marks [OEIS, A003022], confirmed.
TEST(ThirdOrderHits, AreNoneInNoLessThanTheShortestRuler) {
    std::map<std::size_t, double> shortest;
    for_each_subset(17, 3, 6, [&](const std::vector<double>& marks) {
        if (marks.front() != 0) return;
        const auto known = shortest.find(marks.size());
        if (known != shortest.end() && known->second <= marks.back()) return;
        if (exact_hits(channels_at(marks)) == none) shortest[marks.size()] = marks.back();
    });
    const std::map<std::size_t, double> expected{{3, 3}, {4, 6}, {5, 11}, {6, 17}};
    EXPECT_EQ(shortest, expected);
}

// Without three terms in arithmetic progression no 2A-B falls on a channel [OEIS, A065825],
// confirmed: these many channels in as few places as possible.
TEST(ThirdOrderHits, OfTwoSignalsAreNoneWithoutThreeInAProgression) {
    EXPECT_EQ(exact_hits(channels_at({1, 2, 6, 7, 9, 14, 15, 18, 20})).two_signal, 0);
    EXPECT_EQ(exact_hits(channels_at({1, 3, 4, 8, 9, 11, 20, 22, 23, 27, 28, 30})).two_signal, 0);
}

TEST(ThirdOrderHits, OfTwoSignalsAreNoneInNoFewerPlaces) {
    std::map<std::size_t, double> fewest;
    for_each_subset(10, 1, 7, [&](const std::vector<double>& marks) {
        if (exact_hits(channels_at(marks)).two_signal != 0) return;
        const double places = marks.back() - marks.front() + 1;
        const auto [entry, is_new] = fewest.try_emplace(marks.size(), places);
        if (places < entry->second) entry->second = places;
    });
    const std::map<std::size_t, double> expected{{1, 1}, {2, 2}, {3, 4}, {4, 5}, {5, 9}, {6, 11}};
    EXPECT_EQ(fewest, expected);
}

TEST(HobbyRows, AllEightHaveTheirExactHits) {  // common practice, no published source
    for (const auto& row : published("hobby_rows.csv")) {
        const HitCount expected{static_cast<std::ptrdiff_t>(row.number("two_signal_hits")),
                                static_cast<std::ptrdiff_t>(row.number("three_signal_hits"))};
        EXPECT_EQ(exact_hits(channels_mhz(row.numbers("channels"))), expected) << row.where();
    }
}

// Recomputed by brute force: 5658 + 5917 = 5732 + 5843.
TEST(HobbyRows, FourWideChannelsOfOneRowStillMeetByThrees) {
    const HitCount expected{0, 4};
    EXPECT_EQ(exact_hits(channels_mhz({5658, 5732, 5843, 5917})), expected);
}

// Recomputed: the nearest 2A-B is 18 MHz off, the nearest A+B-C 3 MHz (5695 + 5760 - 5658 = 5797).
TEST(HobbyRows, FiveUnevenChannelsKeepThisFarFromTheirProducts) {
    const auto channels = channels_mhz({5658, 5695, 5760, 5800, 5880});
    EXPECT_EQ(exact_hits(channels), none);
    std::map<std::size_t, Hertz> nearest;  // by how many signals make the product
    bool found_5797_on_5800 = false;
    for (const auto& hit : third_order_hits(channels, 60_MHz)) {
        nearest.try_emplace(hit.from.size(), hit.offset);
        if (hit.product == 5797_MHz && channels[hit.on] == 5800_MHz) found_5797_on_5800 = true;
    }
    const std::map<std::size_t, Hertz> expected{{2, 18_MHz}, {3, 3_MHz}};
    EXPECT_EQ(nearest, expected);
    EXPECT_TRUE(found_5797_on_5800);
}

// Recomputed: 5658 + 5917 = 5695 + 5880 = 11575.
TEST(HobbyRows, ASixthChannelBringsFourHits) {
    const HitCount expected{0, 4};
    EXPECT_EQ(exact_hits(channels_mhz({5658, 5695, 5760, 5800, 5880, 5917})), expected);
}

}  // namespace
}  // namespace fieldpeg::spectrum
