#include "server/spectrum/curve.h"

#include <gtest/gtest.h>

#include <limits>
#include <string>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using Knots = std::vector<Curve::Knot>;

constexpr Decibel no_level{std::numeric_limits<double>::quiet_NaN()};
constexpr Decibel endless{std::numeric_limits<double>::infinity()};

void expect_refused(const Result<Curve>& curve, const char* where, const char* why) {
    ASSERT_FALSE(curve) << where << " was taken";
    EXPECT_EQ(curve.error().kind, Refusal::Kind::malformed);
    EXPECT_EQ(curve.error().where, where);
    EXPECT_NE(curve.error().why.find(why), std::string::npos) << curve.error().why;
}

Result<Curve> falling(Knots knots) {
    return Curve::make(std::move(knots), Curve::Direction::falling);
}

TEST(Curve, HasAtLeastTwoKnots) {
    expect_refused(falling({}), "knot 1", "at least two");
    expect_refused(falling({{0_MHz, 0_dB}}), "knot 2", "at least two");
    EXPECT_TRUE(falling({{0_MHz, 0_dB}, {1_MHz, 0_dB}}));
}

TEST(Curve, HasNoMoreKnotsThanItMay) {
    Knots knots;
    for (int i = 0; i < static_cast<int>(Curve::knots_max); ++i)
        knots.push_back({Hertz(i), Decibel(-i)});
    EXPECT_TRUE(falling(knots));
    knots.push_back({1_MHz, -100_dB});
    expect_refused(falling(knots), "knot 65", "at most 64");
}

TEST(Curve, BeginsAtItsCentre) {
    expect_refused(falling({{1_Hz, 0_dB}, {1_MHz, 0_dB}}), "knot 1", "not 0");
    expect_refused(falling({{-1_MHz, 0_dB}, {1_MHz, 0_dB}}), "knot 1", "not 0");
}

TEST(Curve, RunsOutwards) {
    expect_refused(falling({{0_MHz, 0_dB}, {5_MHz, -1_dB}, {5_MHz, -2_dB}}), "knot 3", "not above");
    expect_refused(falling({{0_MHz, 0_dB}, {5_MHz, -1_dB}, {4_MHz, -2_dB}}), "knot 3", "not above");
}

TEST(Curve, EndsWithinTheLimits) {
    EXPECT_TRUE(falling({{0_MHz, 300_dB}, {Curve::offset_limit, -300_dB}}));
    expect_refused(falling({{0_MHz, 0_dB}, {Curve::offset_limit + 1_Hz, 0_dB}}), "knot 2",
                   "beyond 10000 MHz");
    expect_refused(falling({{0_MHz, 300.001_dB}, {1_MHz, 0_dB}}), "knot 1", "beyond 300 dB");
    expect_refused(falling({{0_MHz, 0_dB}, {1_MHz, -300.001_dB}}), "knot 2", "beyond 300 dB");
}

TEST(Curve, HasOnlyNumbersForLevels) {
    expect_refused(falling({{0_MHz, no_level}, {1_MHz, 0_dB}}), "knot 1", "beyond");
    expect_refused(falling({{0_MHz, 0_dB}, {1_MHz, no_level}}), "knot 2", "beyond");
    expect_refused(falling({{0_MHz, 0_dB}, {1_MHz, -endless}}), "knot 2", "beyond");
}

// The planner prunes by it: farther away never leaks more.
TEST(Curve, NeverTurnsBack) {
    const Knots down_and_up{{0_MHz, 0_dB}, {5_MHz, -20_dB}, {9_MHz, -19.9_dB}};
    const Knots up_and_down{{0_MHz, 0_dB}, {5_MHz, 20_dB}, {9_MHz, 19.9_dB}};
    expect_refused(falling(down_and_up), "knot 3", "turns back");
    expect_refused(Curve::make(up_and_down, Curve::Direction::rising), "knot 3", "turns back");
    EXPECT_FALSE(Density::make(down_and_up));
    EXPECT_FALSE(Density::make(up_and_down));
    EXPECT_FALSE(Selectivity::make(up_and_down));
    EXPECT_FALSE(Selectivity::make(down_and_up));
}

TEST(Curve, MayBeLevelForAWhile) {
    EXPECT_TRUE(Density::make({{0_MHz, -10_dB}, {4_MHz, -10_dB}, {5_MHz, -10_dB}}));
    EXPECT_TRUE(Selectivity::make({{0_MHz, 0_dB}, {4_MHz, 0_dB}, {5_MHz, 50_dB}}));
}

TEST(Selectivity, LosesNothingAtItsCentre) {
    const auto lossy = Selectivity::make({{0_MHz, 1_dB}, {5_MHz, 20_dB}});
    ASSERT_FALSE(lossy);
    EXPECT_EQ(lossy.error().where, "knot 1");
    EXPECT_FALSE(Selectivity::make({}));
}

TEST(Curve, IsStraightBetweenKnotsAndLevelBeyond) {
    const auto curve = falling({{0_MHz, 0_dB}, {10_MHz, -20_dB}, {20_MHz, -60_dB}}).value();
    EXPECT_NEAR(curve.at(0_Hz).count(), 0, 1e-12);
    EXPECT_NEAR(curve.at(5_MHz).count(), -10, 1e-12);
    EXPECT_NEAR(curve.at(10_MHz).count(), -20, 1e-12);
    EXPECT_NEAR(curve.at(12'500_kHz).count(), -30, 1e-12);
    EXPECT_NEAR(curve.at(20_MHz).count(), -60, 1e-12);
    EXPECT_NEAR(curve.at(3'000_MHz).count(), -60, 1e-12);
    EXPECT_EQ(curve.last(), 20_MHz);
}

TEST(Curve, IsTheSameOnBothSides) {
    const auto curve = falling({{0_MHz, 0_dB}, {10_MHz, -20_dB}, {20_MHz, -60_dB}}).value();
    for (const Hertz offset : {1_MHz, 10_MHz, 15_MHz, 20_MHz, 400_MHz})
        EXPECT_EQ(curve.at(-offset), curve.at(offset)) << mhz(offset);
}

TEST(Refusal, NamesThePlaceOutermostFirst) {
    const auto refused = falling({});
    const auto seen = in("receiver 2", in("selectivity_db", refused.error()));
    EXPECT_EQ(seen.where, "receiver 2, selectivity_db, knot 1");
    EXPECT_EQ(in("day", Refusal{Refusal::Kind::not_found, "", "no such thing"}).where, "day");
}

TEST(Refusal, IsNotOverlooked) {
    EXPECT_THROW(falling({}).value(), std::logic_error);
}

}  // namespace
}  // namespace fieldpeg::spectrum
