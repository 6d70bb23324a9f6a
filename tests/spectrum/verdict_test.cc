#include "server/spectrum/verdict.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <optional>

namespace fieldpeg::spectrum {
namespace {

/// M98, M80, Mc; alone: M98_0, M80_0; and those without any O, as the columns of the table below.
Standing standing(double m98, double m80, double mc, double alone98, double alone80, double reach98,
                  double reach80) {
    return {Decibel(m98),     Decibel(m80),     Decibel(mc),      Decibel(m80 - 10),
            Decibel(alone98), Decibel(alone80), Decibel(reach98), Decibel(reach80)};
}
/// Nothing is too close.
Standing standing(double m98, double m80, double mc, double alone98, double alone80) {
    return standing(m98, m80, mc, alone98, alone80, alone98, alone80);
}

struct Row {
    const char* what;
    Standing standing;
    Range range;
    Interference interference;
    Verdict verdict;
};

// docs/model.md, section 7, read and written down by hand, every word from both sides of its edges.
TEST(Verdict, HasItsWordOnEachSideOfEachEdge) {
    using R = Range;
    using I = Interference;
    using V = Verdict;
    const double e = 0.001;  // just
    const Row rows[] = {
        // --- nobody is to blame, the range is good
        {"plenty", standing(5, 9, 3, 8, 12), R::good, I::none, V::steady},
        {"just enough in both", standing(0, 5, 0, 0, 5), R::good, I::none, V::steady},
        {"just not enough as they pass", standing(0, 5, -e, 0, 5), R::good, I::none, V::tight},
        {"as they pass not at all", standing(5, 9, -20, 8, 12), R::good, I::none, V::tight},
        {"others cost much and it is enough", standing(1, 6, 1, 30, 35), R::good, I::none,
         V::steady},
        // --- the range is good and others are to blame, whatever they cost
        {"others cost the last of it", standing(-e, 5, 5, 0, 5), R::good, I::shaky, V::shaky},
        {"just usable", standing(-9, 0, 5, 8, 12), R::good, I::shaky, V::shaky},
        {"just not usable", standing(-9, -e, 5, 8, 12), R::good, I::clash, V::clash},
        {"clash, however good as they pass", standing(-3, -1, 2, 8, 12), R::good, I::clash,
         V::clash},
        {"gone", standing(-40, -35, -50, 8, 12), R::good, I::clash, V::clash},
        // --- patchy: usable alone, not good
        {"just not good alone", standing(-e, 5, 5, -e, 5), R::patchy, I::none, V::patchy},
        {"just usable alone", standing(-5, 0, -5, -5, 0), R::patchy, I::none, V::patchy},
        {"patchy, others cost little", standing(-5, 1, -5, -2.001, 4), R::patchy, I::none,
         V::patchy},
        {"patchy, others cost three", standing(-5, 1, -5, -2, 4), R::patchy, I::shaky, V::shaky},
        {"patchy, little pushes it below usable", standing(-5, -e, -5, -4, 0.5), R::patchy,
         I::clash, V::clash},
        {"patchy, three and below usable", standing(-8, -2, -8, -2, 4), R::patchy, I::clash,
         V::clash},
        {"patchy as they pass badly", standing(-1, 4, -30, -1, 4), R::patchy, I::none, V::patchy},
        // --- too far: not even usable alone
        {"just not usable alone", standing(-6, -e, -9, -6, -e), R::too_far, I::none, V::too_far},
        {"too far, others cost little", standing(-10, -5, -9, -7.001, -2), R::too_far, I::none,
         V::too_far},
        {"too far, others cost three", standing(-10, -5, -9, -7, -2), R::too_far, I::clash,
         V::clash},
        {"on one channel both too far", standing(-40, -35, -50, -7, -2), R::too_far, I::clash,
         V::clash},
        // --- too close: what takes a margin is the own transmitter
        {"good but for being close", standing(-2, 1, 1, -2, 1, 20, 25), R::too_close, I::none,
         V::too_close},
        {"usable but for being close", standing(-6, -2, -2, -6, -2, -1, 3), R::too_close, I::none,
         V::too_close},
        {"close takes just all", standing(-e, 3, 3, -e, 3, 0, 5), R::too_close, I::none,
         V::too_close},
        {"patchy, close or not", standing(-2, 1, 1, -2, 1, -1, 2), R::patchy, I::none, V::patchy},
        {"too far, close or not", standing(-9, -4, -4, -9, -4, -6, -1), R::too_far, I::none,
         V::too_far},
        {"close and still good", standing(1, 2, 2, 1, 2, 30, 35), R::good, I::none, V::steady},
        {"close, and others cost three", standing(-6, 1, 1, -3, 2, 20, 25), R::too_close, I::shaky,
         V::shaky},
        {"close, and others push it below usable", standing(-4, -1, -1, -3, 2, 20, 25),
         R::too_close, I::clash, V::clash},
    };
    for (const auto& row : rows) {
        EXPECT_EQ(range(row.standing), row.range) << row.what;
        EXPECT_EQ(interference(row.standing), row.interference) << row.what;
        EXPECT_EQ(verdict(row.standing), row.verdict) << row.what;
    }
    EXPECT_EQ(verdict(std::nullopt), Verdict::no_picture);
}

TEST(Picture, IsGradedForAUsableFlight) {
    const auto graded = [](double usable, double sharp) {
        auto s = standing(5, usable, -20, 8, 12);
        s.sharp = Decibel(sharp);
        return picture(s);
    };
    EXPECT_EQ(graded(9, 0), Picture::sharp);
    EXPECT_EQ(graded(9, -0.001), Picture::watchable);
    EXPECT_EQ(graded(0, -10), Picture::watchable);
    EXPECT_EQ(graded(-0.001, -10), Picture::broken);
    EXPECT_EQ(picture(std::nullopt), Picture::broken);
    EXPECT_EQ(picture(standing(-3, 1, 5, 8, 12)), Picture::watchable);  // shaky, and there
}

TEST(Standing, ReportsTheSmallerMarginAsTheWorst) {
    EXPECT_EQ(standing(5, 9, 3, 8, 12).worst(), 3_dB);
    EXPECT_EQ(standing(3, 9, 5, 8, 12).worst(), 3_dB);
    EXPECT_EQ(standing(5, 9, 3, 8, 12).cost(), 3_dB);
}

/// What a receiver or a chain may have: a margin without closeness that others lower, and room for
/// its own transmitter, which they do not touch. For 80 % there is never less than for 98 %.
struct Somebody {
    double reach_98, reach_80, room_98, room_80;

    explicit Somebody(std::mt19937_64& rng)
        : reach_98(testing::between(rng, -25, 25)),
          reach_80(reach_98 + testing::between(rng, 0, 10)),
          room_98(testing::chance(rng, 50) ? 50 : testing::between(rng, -10, 10)),
          room_80(room_98 + testing::between(rng, 0, 10)) {}

    Standing with(double cost_98, double cost_80, double cost_closest) const {
        const double good = reach_98 - cost_98;
        return standing(std::min(good, room_98),
                        std::min(std::max(good, reach_80 - cost_80), room_80),
                        std::min(reach_80 - cost_closest, room_80), std::min(reach_98, room_98),
                        std::min(reach_80, room_80), reach_98, reach_80);
    }
};

TEST(Verdict, IsNeverBetterWithMoreDisturbance) {
    testing::for_all(100'000, [](std::mt19937_64& rng) {
        const Somebody one(rng);
        const auto some = [&] {
            return testing::chance(rng, 20) ? 0 : testing::between(rng, 0, 15);
        };
        const double a = some(), b = some(), c = some();
        const auto before = one.with(a, b, c);
        const auto after = one.with(a + some(), b + some(), c + some());
        EXPECT_LE(verdict(before), verdict(after));
        EXPECT_LE(interference(before), interference(after));
        EXPECT_LE(picture(before), picture(after));
        EXPECT_EQ(range(before), range(after));  // nobody else's doing
    });
}

// Nobody else on the air: nobody to blame.
TEST(Interference, IsNobodysWhereNothingIsLost) {
    testing::for_all(2000, [](std::mt19937_64& rng) {
        const auto alone = Somebody(rng).with(0, 0, 0);
        EXPECT_EQ(interference(alone), Interference::none);
        EXPECT_NE(verdict(alone), Verdict::shaky);
        EXPECT_NE(verdict(alone), Verdict::clash);
    });
}

struct Change {
    const char* what;
    Standing before, after;
    bool harms;
};

/// Good alone, with this much lost of both margins.
Standing good_less(double lost) {
    return standing(8 - lost, 12 - lost, 12 - lost, 8, 12);
}
Standing patchy_less(double lost) {
    return standing(-1 - lost, 4 - lost, 4 - lost, -1, 4);
}
Standing far_less(double lost) {
    return standing(-6 - lost, -1 - lost, -1 - lost, -6, -1);
}
Standing close_less(double lost) {
    return standing(-2 - lost, 1 - lost, 1 - lost, -2, 1, 20, 25);
}

// docs/model.md, section 7: what is refused is to turn somebody shaky or into a clash, or to cost
// one who is patchy, too close or too far three decibels more.
TEST(Harm, IsToCostSomebodyThePicture) {
    const Change rows[] = {
        {"nothing changes", good_less(0), good_less(0), false},
        {"steady to tight", good_less(0), standing(5, 9, -3, 8, 12), false},
        {"steady to just good", good_less(0), good_less(8), false},
        {"steady to shaky", good_less(0), good_less(8.001), true},
        {"steady to clash", good_less(0), good_less(13), true},
        {"tight to shaky", standing(1, 5, -3, 8, 12), good_less(9), true},
        {"shaky already, a little more", good_less(9), good_less(11.9), false},
        {"shaky already, three more", good_less(8.5), good_less(11.5), true},
        {"shaky to clash", good_less(11.9), good_less(12.1), true},
        {"in a clash already, less than three more", good_less(13), good_less(15.9), false},
        {"in a clash already, three more", good_less(13), good_less(16), true},
        {"patchy, less than three", patchy_less(0), patchy_less(2.999), false},
        {"patchy, three", patchy_less(0), patchy_less(3), true},
        {"patchy, little by little", patchy_less(2), patchy_less(3), true},
        {"patchy, little and below usable", standing(-5, 0.5, 0, -5, 0.5),
         standing(-6, -0.5, 0, -5, 0.5), true},
        {"too far, less than three", far_less(0), far_less(2.999), false},
        {"too far, three", far_less(0), far_less(3), true},
        {"too close, less than three", close_less(0), close_less(0.999), false},
        {"too close, three", close_less(0), close_less(3), true},
        {"it gets better", good_less(14), good_less(2), false},
        {"far, and it gets better", far_less(14), far_less(0), false},
    };
    for (const auto& row : rows) EXPECT_EQ(harms(row.before, row.after), row.harms) << row.what;
}

}  // namespace
}  // namespace fieldpeg::spectrum
