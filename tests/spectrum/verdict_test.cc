#include "server/spectrum/verdict.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

constexpr Standing well{5_dB, 3_dB, 1_dB, 8_dB};

/// Somebody whose range is fine, with the margin `ref`, and one as good in the worst geometry.
Standing usual(Decibel ref) {
    return {ref, ref, ref - 10_dB, 8_dB};
}

struct Row {
    const char* what;
    Standing standing;
    Verdict verdict;
};

// docs/model.md, section 7, every word from both sides of its edges.
TEST(Verdict, HasItsWordOnEachSideOfEachEdge) {
    const Row rows[] = {
        {"plenty", {5_dB, 3_dB, 0_dB, 8_dB}, Verdict::steady},
        {"just enough in both", {0_dB, 0_dB, -10_dB, 0_dB}, Verdict::steady},
        {"just not enough at worst", {0_dB, -0.001_dB, -10_dB, 0_dB}, Verdict::tight},
        {"usually fine, at worst not at all", {5_dB, -20_dB, 0_dB, 8_dB}, Verdict::tight},
        {"just not enough", {-0.001_dB, -0.001_dB, -10_dB, 8_dB}, Verdict::shaky},
        {"better at worst than usual, under an area",
         {-0.001_dB, 2_dB, -10_dB, 8_dB},
         Verdict::shaky},
        {"three short", {-3_dB, -9_dB, -13_dB, 8_dB}, Verdict::shaky},
        {"more than three short", {-3.001_dB, -9_dB, -13_dB, 8_dB}, Verdict::clash},
        {"far more", {-40_dB, -50_dB, -50_dB, 0_dB}, Verdict::clash},
        {"just out of range", {-0.001_dB, -0.001_dB, -10_dB, -0.001_dB}, Verdict::too_far},
        {"out of range and disturbed", {-40_dB, -50_dB, -50_dB, -5_dB}, Verdict::too_far},
    };
    for (const auto& row : rows) EXPECT_EQ(verdict(row.standing), row.verdict) << row.what;
    EXPECT_EQ(verdict(std::nullopt), Verdict::no_picture);
}

TEST(Picture, IsGradedInTheUsualGeometry) {
    EXPECT_EQ(picture(Standing{5_dB, -20_dB, 0_dB, 8_dB}), Picture::sharp);
    EXPECT_EQ(picture(Standing{5_dB, -20_dB, -0.001_dB, 8_dB}), Picture::watchable);
    EXPECT_EQ(picture(Standing{0_dB, 5_dB, -10_dB, 8_dB}), Picture::watchable);
    EXPECT_EQ(picture(Standing{-0.001_dB, 5_dB, -10_dB, 8_dB}), Picture::broken);
    EXPECT_EQ(picture(std::nullopt), Picture::broken);
}

TEST(Standing, ReportsTheSmallerMarginAsTheWorst) {
    EXPECT_EQ((Standing{5_dB, 3_dB, 0_dB, 8_dB}).reported_worst(), 3_dB);
    EXPECT_EQ((Standing{3_dB, 5_dB, 0_dB, 8_dB}).reported_worst(), 3_dB);
}

TEST(Diversity, ShowsTheBestPictureInEachGeometry) {
    const std::vector<Standing> two = {{5_dB, -3_dB, -1_dB, 6_dB}, {2_dB, 1_dB, -4_dB, 8_dB}};
    const auto best = best_of(two);
    EXPECT_EQ(best.ref, 5_dB);
    EXPECT_EQ(best.worst, 1_dB);
    EXPECT_EQ(best.sharp, -1_dB);
    EXPECT_EQ(best.alone, 8_dB);
    EXPECT_EQ(best_of(std::vector{well}).ref, well.ref);
}

TEST(Chain, IsAsGoodAsItsWorstLink) {
    const std::vector<Standing> two = {{5_dB, -3_dB, -1_dB, 6_dB}, {2_dB, 1_dB, -4_dB, 8_dB}};
    const auto least = least_of(two);
    EXPECT_EQ(least.ref, 2_dB);
    EXPECT_EQ(least.worst, -3_dB);
    EXPECT_EQ(least.sharp, -4_dB);
    EXPECT_EQ(least.alone, 6_dB);
    EXPECT_EQ(verdict(least), Verdict::tight);
}

TEST(Diversity, NeverShowsLessThanAnyReceiver) {
    testing::for_all(100, [](std::mt19937_64& rng) {
        const auto db = [&] { return Decibel(testing::between(rng, -20, 20)); };
        std::vector<Standing> all(static_cast<std::size_t>(testing::whole(rng, 1, 5)));
        for (auto& s : all) s = {db(), db(), db(), db()};
        const auto best = best_of(all);
        const auto least = least_of(all);
        for (const auto& s : all) {
            EXPECT_GE(best.ref, s.ref);
            EXPECT_GE(best.worst, s.worst);
            EXPECT_LE(least.ref, s.ref);
            EXPECT_LE(least.alone, s.alone);
        }
    });
}

struct Change {
    const char* what;
    Standing before, after;
    bool harms;
};

// What is refused is harm to others: to turn somebody shaky or into a clash, or to cost one who is
// too far more than 3 dB.
TEST(Harm, IsToCostSomebodyThePicture) {
    const auto far = [](Decibel ref) { return Standing{ref, ref, ref - 10_dB, -1_dB}; };
    const Change rows[] = {
        {"nothing changes", well, well, false},
        {"steady to tight", well, {5_dB, -3_dB, 0_dB, 8_dB}, false},
        {"steady to just watchable", usual(8_dB), usual(0_dB), false},
        {"steady to shaky", usual(8_dB), usual(-0.001_dB), true},
        {"steady to clash", usual(8_dB), usual(-5_dB), true},
        {"tight to shaky", {1_dB, -3_dB, -9_dB, 8_dB}, usual(-1_dB), true},
        {"shaky already, a little more", usual(-1_dB), usual(-2.9_dB), false},
        {"shaky to clash", usual(-2.9_dB), usual(-3.1_dB), true},
        {"in a clash already, three more", usual(-5_dB), usual(-8_dB), false},
        {"in a clash already, more than three", usual(-5_dB), usual(-8.001_dB), true},
        {"too far, three on top", far(-1_dB), far(-4_dB), false},
        {"too far, more than three on top", far(-1_dB), far(-4.001_dB), true},
        {"it gets better", usual(-5_dB), usual(2_dB), false},
    };
    for (const auto& row : rows) EXPECT_EQ(harms(row.before, row.after), row.harms) << row.what;
}

}  // namespace
}  // namespace fieldpeg::spectrum
