#include "server/spectrum/products.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace fieldpeg::spectrum {
namespace {

using testing::Channels;
using testing::for_all;
using testing::random_scene;

constexpr double tolerance = 1e-9;  // relative; sums of the same terms in another order

/// One receiver in one geometry, every pair and triple of transmitters taken by itself, with the
/// plain formulas of docs/model.md, section 6: no carriers, no tables, no link table.
class OneByOne {
public:
    OneByOne(const Scene& scene, std::size_t receiver, Geometry geometry)
        : scene_(scene),
          receiver_(scene.receivers[receiver]),
          profile_(scene.profiles[receiver_.profile]),
          hears_(*receiver_.hears),
          tuned_(scene.transmitters[hears_].frequency),
          geometry_(geometry) {}

    double blockers_mw() const {
        double sum = 0;
        for (std::size_t t = 0; t < size(); ++t)
            if (t != hears_) sum += milliwatts(arriving(t));
        return sum;
    }

    double adjacent_mw() const {
        double sum = 0;
        for (std::size_t t = 0; t < size(); ++t) {
            const auto& density = scene_.emissions[at(t).emission].density;
            const Hertz off = distance(at(t).frequency, tuned_);
            const Hertz reach = density.curve().last() + profile_.selectivity.curve().last();
            if (t == hears_ || off > reach) continue;
            const Decibel fdr = frequency_dependent_rejection(density, profile_.selectivity, off);
            sum += milliwatts(arriving(t) - std::max(fdr, 0_dB));
        }
        return sum;
    }

    double receiver_product_mw() const {
        double sum = 0;
        for (std::size_t a = 0; a < size(); ++a) {
            for (std::size_t b = 0; b < size(); ++b) {
                if (a == hears_ || b == hears_ || a == b) continue;
                sum += left(two_signal_product(arriving(a), arriving(b), profile_.iip3,
                                               shape(a).constant_envelope),
                            two_signal_sigma_mhz(shape(a), shape(b)),
                            two_signal_frequency(at(a).frequency, at(b).frequency));
                for (std::size_t c = 0; c < size() && a < b; ++c) {
                    if (c == hears_ || c == a || c == b) continue;
                    sum += left(
                        three_signal_product(arriving(a), arriving(b), arriving(c), profile_.iip3),
                        three_signal_sigma_mhz(shape(a), shape(b), shape(c)),
                        three_signal_frequency(at(a).frequency, at(b).frequency, at(c).frequency));
                }
            }
        }
        return sum;
    }

    double transmitter_product_mw() const {
        double sum = 0;
        for (std::size_t host = 0; host < size(); ++host) {
            for (std::size_t b = 0; b < size(); ++b) {
                if (b == host || b == hears_) continue;
                const Hertz product = two_signal_frequency(at(host).frequency, at(b).frequency);
                const Dbm radiated = at(b).power + coupling(at(b), at(host)) - conversion_loss;
                sum += left(
                    radiated + unwanted_gain(at(host), receiver_, geometry_) - front_end(product),
                    two_signal_sigma_mhz(shape(host), shape(b)), product);
            }
        }
        return sum;
    }

private:
    std::size_t size() const { return scene_.transmitters.size(); }
    const Transmitter& at(std::size_t t) const { return scene_.transmitters[t]; }
    ProductShape shape(std::size_t t) const {
        const auto& emission = scene_.emissions[at(t).emission];
        return {emission.sigma_mhz, emission.constant_envelope};
    }
    Decibel front_end(Hertz frequency) const {
        const bool inside =
            profile_.front_end_low <= frequency && frequency <= profile_.front_end_high;
        return inside ? 0_dB : profile_.front_end_rejection;
    }
    Dbm arriving(std::size_t t) const {
        return at(t).power + unwanted_gain(at(t), receiver_, geometry_) -
               front_end(at(t).frequency);
    }
    double left(Dbm level, double sigma_mhz, Hertz product) const {
        const Hertz off = distance(product, tuned_);
        if (off > product_reach) return 0;
        return milliwatts(level - product_rejection(sigma_mhz, profile_.selectivity, off));
    }

    const Scene& scene_;
    const Receiver& receiver_;
    const ReceiverProfile& profile_;
    std::size_t hears_;
    Hertz tuned_;
    Geometry geometry_;
};

void expect_same(double found, double expected, const char* what, std::size_t receiver) {
    EXPECT_LE(std::abs(found - expected), tolerance * expected)
        << what << " at receiver " << receiver << ": " << found << " mW, one by one " << expected;
}

void expect_one_by_one(const Scene& scene) {
    const auto all = assess(scene);
    ASSERT_EQ(all.size(), scene.receivers.size());
    for (std::size_t v = 0; v < all.size(); ++v) {
        ASSERT_EQ(all[v].has_value(), scene.receivers[v].hears.has_value());
        if (!all[v]) continue;
        for (const auto geometry : geometries) {
            const auto& budget = (*all[v])[static_cast<std::size_t>(geometry)];
            const OneByOne expected(scene, v, geometry);
            expect_same(budget.adjacent_mw, expected.adjacent_mw(), "adjacent", v);
            expect_same(budget.receiver_product_mw, expected.receiver_product_mw(),
                        "products made in the receiver", v);
            expect_same(budget.transmitter_product_mw, expected.transmitter_product_mw(),
                        "products made in transmitters", v);
            expect_same(budget.blockers ? milliwatts(*budget.blockers) : 0, expected.blockers_mw(),
                        "blockers", v);
        }
    }
}

TEST(Assess, IsTheSumOfEveryPairAndTriple) {
    for_all(60,
            [](std::mt19937_64& rng) { expect_one_by_one(random_scene(rng, Channels::one_band)); });
}

TEST(Assess, IsTheSameSumWhereFrequenciesHaveNoCommonStep) {
    for_all(40, [](std::mt19937_64& rng) { expect_one_by_one(random_scene(rng, Channels::fine)); });
}

// f_b - 2 f_a and f_c - f_a - f_b are products too: 5000 - 2 x 1280 MHz is 2440 MHz.
TEST(Assess, IsTheSameSumAcrossBands) {
    for_all(40, [](std::mt19937_64& rng) {
        expect_one_by_one(random_scene(rng, Channels::three_bands));
    });
}

// Everybody on one frequency: the products of a carrier with itself, each combination once.
TEST(Assess, IsTheSameSumWhereAllShareOneChannel) {
    for_all(20, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::one_band, 5);
        for (auto& transmitter : scene.transmitters) transmitter.frequency = 5'732_MHz;
        expect_one_by_one(scene);
    });
}

/// A 1.3 GHz video and something on 5 GHz whose reflected product meets a 2.4 GHz receiver.
Scene three_bands_on_tune() {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    for (const auto* name : {"fm-video-2g4", "fm-video-1g3"})
        scene.profiles.push_back(testing::receiver(name));
    const auto whip = testing::upright("dipole", Polarisation::vertical);
    double x_m = 0;
    for (const Hertz frequency : {2'440_MHz, 1'280_MHz, 5'000_MHz})
        scene.transmitters.push_back({0, frequency, 27_dBm, whip, 0.5_dB, Point{x_m += 2, 0, 1.5}});
    scene.receivers.push_back({0, 0, whip, 0.5_dB, {0, -5, 1.7}});
    return scene;
}

TEST(Assess, CountsAProductReflectedAtZero) {
    const auto scene = three_bands_on_tune();
    const Budget budget = (*assess(scene)[0])[0];
    EXPECT_GT(budget.receiver_product_mw, 0);
    EXPECT_GT(budget.transmitter_product_mw, 0);
    expect_one_by_one(scene);
}

TEST(Assess, CountsAProductAsFarAsTheReachAndNoFarther) {
    const auto products_mw = [](Hertz b) {
        auto scene = three_bands_on_tune();
        scene.transmitters[1].frequency = 2'400_MHz;
        scene.transmitters[2].frequency = b;  // 2 x 2400 - b
        return (*assess(scene)[0])[0].receiver_product_mw;
    };
    EXPECT_GT(products_mw(2'300_MHz), 0);      // 2500 MHz, 60 from 2440
    EXPECT_EQ(products_mw(2'299'999_kHz), 0);  // one kilohertz farther
}

TEST(PowerPair, KeepsItsGeometriesApart) {
    const PowerPair a{2, 3}, b{5, 7};
    EXPECT_EQ((a + b)[0], 7);
    EXPECT_EQ((a + b)[1], 10);
    EXPECT_EQ((a * b)[0], 10);
    EXPECT_EQ((a * b)[1], 21);
    EXPECT_EQ((b - a)[1], 4);
    EXPECT_EQ((2 * b)[1], 14);
}

}  // namespace
}  // namespace fieldpeg::spectrum
