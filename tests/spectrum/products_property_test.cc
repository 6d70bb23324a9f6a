#include "server/spectrum/products.h"

#include "server/spectrum/intermodulation.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::Channels;
using testing::for_all;
using testing::random_scene;

// Relative. The same terms in another order; and of a strong and a weak one on one channel sums of
// powers lose some digits: (a + b)^2 - a^2 - b^2.
constexpr double tolerance = 1e-5;  // what cancels may be a million times as strong

/// One receiver in one geometry, every pair and triple of transmitters taken by itself, with the
/// plain formulas of docs/model.md, section 6: no carriers, no tables, no link table.
class OneByOne {
public:
    OneByOne(const Scene& scene, std::size_t receiver, Geometry geometry)
        : scene_(scene),
          receiver_(scene.receivers[receiver]),
          profile_(scene.profiles[receiver_.profile]),
          hears_(*receiver_.hears),
          tuned_(scene.transmitters[hears_].frequency) {
        for (const auto& t : scene.transmitters) {
            gains_.push_back(unwanted_gain(t, receiver_, geometry));
            arriving_.push_back(t.power + gains_.back() - front_end(t.frequency));
        }
    }

    double blockers_mw() const {
        double sum = 0;
        for (std::size_t t = 0; t < size(); ++t)
            if (disturbs(t)) sum += milliwatts(arriving_[t]);
        return sum;
    }

    double adjacent_mw() const {
        double sum = 0;
        for (std::size_t t = 0; t < size(); ++t) {
            const auto& density = scene_.emissions[at(t).emission].density;
            const Hertz off = distance(at(t).frequency, tuned_);
            const Hertz reach = density.curve().last() + profile_.selectivity.curve().last();
            if (!disturbs(t) || at(t).hops || off > reach) continue;
            const Decibel fdr = frequency_dependent_rejection(density, profile_.selectivity, off);
            sum += rarity(at(t).duty) * milliwatts(arriving_[t] - std::max(fdr, 0_dB));
        }
        return sum;
    }

    double burst_mw() const {
        const double half_mhz = mhz(noise_bandwidth(profile_.selectivity)) / 2;
        double sum = 0;
        for (std::size_t t = 0; t < size(); ++t) {
            if (!disturbs(t) || !at(t).hops) continue;
            const double low = mhz(at(t).hops->low), high = mhz(at(t).hops->high);
            const double overlap =
                std::min(high, mhz(tuned_) + half_mhz) - std::max(low, mhz(tuned_) - half_mhz);
            if (overlap > 0)
                sum += rarity(at(t).duty * overlap / (high - low)) * milliwatts(arriving_[t]);
        }
        return sum;
    }

    double harmonic_mw() const {
        double sum = 0;
        for (std::size_t t = 0; t < size(); ++t)
            if (disturbs(t) && !at(t).hops)
                sum += harmonic_mw(t, 2, 40_dB) + harmonic_mw(t, 3, 50_dB);
        return sum;
    }

    double receiver_product_mw() const {
        double sum = 0;
        for (std::size_t a = 0; a < size(); ++a) {
            for (std::size_t b = 0; b < size(); ++b) {
                if (!mixes(a) || !mixes(b) || a == b) continue;
                sum += left(two_signal_product(arriving_[a], arriving_[b], profile_.iip3,
                                               shape(a).constant_envelope),
                            two_signal_sigma_mhz(shape(a), shape(b)),
                            two_signal_frequency(at(a).frequency, at(b).frequency));
                for (std::size_t c = 0; c < size() && a < b; ++c) {
                    if (!mixes(c) || c == a || c == b) continue;
                    sum += left(
                        three_signal_product(arriving_[a], arriving_[b], arriving_[c],
                                             profile_.iip3),
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
                if (b == host || !mixes(b) || !(mixes(host) || host == hears_)) continue;
                const Hertz product = two_signal_frequency(at(host).frequency, at(b).frequency);
                const Dbm radiated = at(b).power + coupling(at(b), at(host)) - 10_dB;
                sum += left(radiated + gains_[host] - front_end(product),
                            two_signal_sigma_mhz(shape(host), shape(b)), product);
            }
        }
        return sum;
    }

private:
    std::size_t size() const { return scene_.transmitters.size(); }
    const Transmitter& at(std::size_t t) const { return scene_.transmitters[t]; }
    /// Neither the wanted one nor one that waits while this receiver listens.
    bool disturbs(std::size_t t) const {
        const bool spares = at(t).spares && *at(t).spares == receiver_.owner;
        return t != hears_ && !spares;
    }
    bool mixes(std::size_t t) const { return disturbs(t) && !at(t).hops; }
    static double rarity(double hit) { return hit < 0.10 ? hit / 0.10 : 1; }

    ProductShape shape(std::size_t t) const {
        const auto& emission = scene_.emissions[at(t).emission];
        return {emission.sigma_mhz, emission.constant_envelope};
    }
    Decibel front_end(Hertz frequency) const {
        const bool inside =
            profile_.front_end_low <= frequency && frequency <= profile_.front_end_high;
        return inside ? 0_dB : profile_.front_end_rejection;
    }
    double harmonic_mw(std::size_t t, std::int64_t n, Decibel suppression) const {
        const Hertz falls = n * at(t).frequency;
        if (distance(falls, tuned_) > n * 40_MHz) return 0;
        std::vector<Curve::Knot> wide;
        for (const auto& knot : scene_.emissions[at(t).emission].density.curve().knots())
            wide.push_back({n * knot.offset, knot.level});
        const Decibel fdr = frequency_dependent_rejection(
            Density::make(wide).value(), profile_.selectivity, distance(falls, tuned_));
        const Decibel farther(20 * std::log10(static_cast<double>(n)));
        return rarity(at(t).duty) *
               milliwatts(at(t).power + gains_[t] - farther - suppression - at(t).harmonic_filter -
                          front_end(falls) - std::max(fdr, 0_dB));
    }
    double left(Dbm level, double sigma_mhz, Hertz product) const {
        const Hertz off = distance(product, tuned_);
        if (off > 60_MHz) return 0;
        return milliwatts(level - product_rejection(sigma_mhz, profile_.selectivity, off));
    }

    const Scene& scene_;
    const Receiver& receiver_;
    const ReceiverProfile& profile_;
    std::size_t hears_;
    Hertz tuned_;
    std::vector<Decibel> gains_;
    std::vector<Dbm> arriving_;
};

void expect_same(double found, double expected, const char* what, std::size_t receiver) {
    EXPECT_LE(std::abs(found - expected), tolerance * expected)
        << what << " at receiver " << receiver << ": " << found << " mW, one by one " << expected;
}

void expect_one_by_one(const Scene& scene) {
    const testing::Assessed assessed(scene);
    const auto& all = assessed.receptions;
    ASSERT_EQ(all.size(), scene.receivers.size());
    for (std::size_t v = 0; v < all.size(); ++v) {
        ASSERT_EQ(all[v].has_value(), scene.receivers[v].hears.has_value());
        if (!all[v]) continue;
        for (const auto geometry : geometries) {
            const auto& budget = all[v]->budget(geometry);
            const OneByOne expected(scene, v, geometry);
            expect_same(budget.adjacent_mw, expected.adjacent_mw(), "adjacent", v);
            expect_same(budget.burst_mw, expected.burst_mw(), "bursts", v);
            expect_same(budget.harmonic_mw, expected.harmonic_mw(), "harmonics", v);
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
    const testing::Assessed assessed(scene);
    const auto& budget = assessed.receptions[0]->budget(Geometry::usual);
    EXPECT_GT(budget.receiver_product_mw, 0);
    EXPECT_GT(budget.transmitter_product_mw, 0);
    expect_one_by_one(scene);
}

TEST(Assess, CountsAProductAsFarAsTheReachAndNoFarther) {
    const auto products_mw = [](Hertz b) {
        auto scene = three_bands_on_tune();
        scene.transmitters[1].frequency = 2'400_MHz;
        scene.transmitters[2].frequency = b;  // 2 x 2400 - b
        return testing::Assessed(scene).receptions[0]->budget(Geometry::usual).receiver_product_mw;
    };
    EXPECT_GT(products_mw(2'300_MHz), 0);      // 2500 MHz, 60 from 2440
    EXPECT_EQ(products_mw(2'299'999_kHz), 0);  // one kilohertz farther
}

// Twice 1220 MHz is 2440 MHz, and three times 813 MHz one less; n times 40 MHz off they still
// count, one kilohertz farther they do not.
TEST(Assess, CountsSecondAndThirdHarmonicsAsFarAsTheyAreWide) {
    const auto harmonic_mw = [](Hertz frequency) {
        auto scene = three_bands_on_tune();
        scene.transmitters[1].frequency = frequency;
        scene.transmitters.pop_back();
        scene.transmitters[1].harmonic_filter = 6_dB;
        expect_one_by_one(scene);
        return testing::Assessed(scene).receptions[0]->budget(Geometry::usual).harmonic_mw;
    };
    const double on_tune_mw = harmonic_mw(1'220_MHz);
    EXPECT_GT(on_tune_mw, harmonic_mw(813_MHz));
    EXPECT_GT(harmonic_mw(1'180_MHz), 0);
    EXPECT_LT(harmonic_mw(1'180_MHz), on_tune_mw);
    EXPECT_EQ(harmonic_mw(1'179'999_kHz), 0);
    EXPECT_GT(harmonic_mw(853'333_kHz), 0);
    EXPECT_EQ(harmonic_mw(853'334_kHz), 0);
    EXPECT_EQ(harmonic_mw(610_MHz), 0);  // four times 610 MHz is nobody's concern
}

/// A handset that hops beside a 2.4 GHz receiver.
Scene beside_a_handset(Hertz low, Hertz high, double duty) {
    auto scene = three_bands_on_tune();
    scene.transmitters.pop_back();
    auto& handset = scene.transmitters[1];
    handset.hops = HopBand{low, high};
    handset.frequency = Hertz((low.count() + high.count()) / 2);
    handset.duty = duty;
    return scene;
}

// docs/model.md, section 6.1: what counts of a hopping one is how often it hits the channel, in
// full from a tenth of the time on; nothing beside its band.
TEST(Assess, CountsBurstsByHowOftenTheyHit) {
    const auto of = [](const Scene& scene) {
        expect_one_by_one(scene);
        return testing::Assessed(scene).receptions[0]->budget(Geometry::usual);
    };
    const auto always = of(beside_a_handset(2'402_MHz, 2'478_MHz, 1));
    EXPECT_NEAR(always.burst_mw / milliwatts(always.blockers.value()), 1, 1e-9);
    EXPECT_EQ(always.adjacent_mw, 0);
    const auto rarely = of(beside_a_handset(2'402_MHz, 2'478_MHz, 0.04));
    const double hit = 0.04 * 18.11 / 76;  // of a receiver 18.11 MHz wide
    EXPECT_NEAR(rarely.burst_mw / always.burst_mw, hit / 0.10, 1e-4);
    EXPECT_NEAR(rarely.blockers->count(), always.blockers->count(), 1e-9);
    const auto beside = of(beside_a_handset(2'452_MHz, 2'478_MHz, 1));
    EXPECT_EQ(beside.burst_mw, 0);
    EXPECT_TRUE(beside.blockers);
}

// A two-way system's ground side does not disturb its own pilot, in no way.
TEST(Assess, LeavesOutThoseThatSpareTheOwner) {
    for_all(20, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::three_bands, 5);
        auto spared = scene;
        for (auto& t : spared.transmitters) t.spares = 77;
        spared.transmitters.push_back(spared.transmitters[0]);
        spared.transmitters.back().spares = 99;
        for (auto& v : spared.receivers) v.owner = 99;
        auto without = spared;
        without.transmitters.pop_back();
        const testing::Assessed with_it(spared), without_it(without);
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            if (!scene.receivers[v].hears) continue;
            for (const auto geometry : geometries) {
                const auto& a = with_it.receptions[v]->budget(geometry);
                const auto& b = without_it.receptions[v]->budget(geometry);
                EXPECT_NEAR(a.interference_mw(), b.interference_mw(), 1e-9 * b.interference_mw());
                EXPECT_EQ(a.blockers.has_value(), b.blockers.has_value());
            }
        }
    });
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
