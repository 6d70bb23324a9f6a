#include "tests/published/waveform.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/rejection.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <complex>
#include <random>
#include <utility>
#include <vector>

/// From first principles: signals like the ones on the field, sample by sample, through a cubic
/// receiver and its filter. Nothing of the radio model is in it but the selectivity curve.
/// [ours: an experiment, not a published value]
namespace fieldpeg::spectrum {
namespace {

using testing::arriving;
using testing::cubic_part;
using testing::frequency_modulated;
using testing::noise_like;
using testing::power_through;
using testing::rms_width_mhz;
using testing::Samples;
using testing::sum;
using testing::to_spectrum;

constexpr Dbm iip3 = -20_dBm;
constexpr Dbm p1db = iip3 - 9.6357_dB;  // of the cubic, derived
constexpr double product_db = 0.5;      // what a Gaussian in place of the true spectrum may be off
constexpr double desensitisation_db = 0.1;  // products of the blockers beside the wanted signal

/// A filter and how far the product falls from its centre.
struct Place {
    Selectivity selectivity;
    double offset_mhz;
};

/// On the receiver's tune, and on the shoulder, where the width of the product tells.
const std::vector<Place>& places() {
    static const auto all = [] {
        const auto wide = testing::receiver("fm-video-5g8").selectivity;
        const auto narrow = testing::receiver("ofdm-10-5g8").selectivity;
        return std::vector<Place>{{wide, 0}, {wide, 4}, {wide, 8}, {narrow, 0}, {narrow, 4}};
    }();
    return all;
}

ProductShape shape(const Samples& signal, bool constant_envelope = true) {
    return {rms_width_mhz(signal), constant_envelope};
}

/// Peak deviations as they are set on small transmitters, MHz, one for each signal of a trial.
constexpr std::array<std::array<double, 3>, 4> trials{
    {{4, 4, 4}, {3, 4, 3.5}, {4, 3, 3}, {3.5, 3.5, 4}}};

/// Predicted less measured powers of a product that falls on 0 MHz, of several contents.
class Errors {
public:
    explicit Errors(std::vector<Place> at) : places_(std::move(at)), sums_db_(places_.size()) {}

    /// `level` is that of the whole product, `sigma_mhz` its width.
    void add(const Samples& received, Dbm level, double sigma_mhz) {
        const auto spectrum = to_spectrum(cubic_part(received, iip3));
        for (std::size_t i = 0; i < places_.size(); ++i) {
            const auto& [selectivity, offset_mhz] = places_[i];
            const Dbm predicted =
                level - product_rejection(sigma_mhz, selectivity, from_mhz(offset_mhz));
            const Dbm measured = power_through(spectrum, selectivity, -offset_mhz);
            EXPECT_NEAR((predicted - measured).count(), 0, product_db) << "place " << i;
            sums_db_[i] += (predicted - measured).count();
        }
        ++contents_;
    }
    /// On average half of what one may be off.
    void expect_small_mean() const {
        for (std::size_t i = 0; i < places_.size(); ++i)
            EXPECT_NEAR(sums_db_[i] / contents_, 0, product_db / 2) << "place " << i;
    }

private:
    std::vector<Place> places_;
    std::vector<double> sums_db_;
    int contents_ = 0;
};

// A at 40 MHz and B at 80 MHz: 2A-B at 0, everything else 40 MHz away or more.
TEST(Waveform, TwoSignalProductInTheFilterIsAsPredicted) {
    std::mt19937_64 rng(1);
    Errors errors(places());
    for (const auto& deviation : trials) {
        const auto a = frequency_modulated(rng, deviation[0]);
        const auto b = frequency_modulated(rng, deviation[1]);
        errors.add(sum({arriving(a, 40, -42_dBm), arriving(b, 80, -45_dBm)}),
                   two_signal_product(-42_dBm, -45_dBm, iip3, true),
                   two_signal_sigma_mhz(shape(a), shape(b)));
    }
    errors.expect_small_mean();
}

// A at 40, B at 120 and C at 160 MHz: A+B-C at 0, everything else 40 MHz away or more.
TEST(Waveform, ThreeSignalProductInTheFilterIsAsPredicted) {
    std::mt19937_64 rng(2);
    Errors errors(places());
    for (const auto& deviation : trials) {
        const auto a = frequency_modulated(rng, deviation[0]);
        const auto b = frequency_modulated(rng, deviation[1]);
        const auto c = frequency_modulated(rng, deviation[2]);
        errors.add(
            sum({arriving(a, 40, -42_dBm), arriving(b, 120, -45_dBm), arriving(c, 160, -40_dBm)}),
            three_signal_product(-42_dBm, -45_dBm, -40_dBm, iip3),
            three_signal_sigma_mhz(shape(a), shape(b), shape(c)));
    }
    errors.expect_small_mean();
}

// With A like noise: 3 dB more, and another width. On tune.
TEST(Waveform, TwoSignalProductOfANoiseLikeSignalIsAsPredicted) {
    std::mt19937_64 rng(3);
    Errors errors({places().front()});
    for (const auto& deviation : trials) {
        const auto a = noise_like(rng, 9);
        const auto b = frequency_modulated(rng, deviation[1]);
        errors.add(sum({arriving(a, 70, -42_dBm), arriving(b, 140, -45_dBm)}),
                   two_signal_product(-42_dBm, -45_dBm, iip3, false),
                   two_signal_sigma_mhz(shape(a, false), shape(b)));
    }
    errors.expect_small_mean();
}

// The widths that the predictions are made of: a frequency-modulated signal squared is twice as
// wide.
TEST(Waveform, ProductsHaveTheWidthThatTheirSignalsGiveThem) {
    constexpr double measured_ratio = 0.05;
    std::mt19937_64 rng(4);
    const auto a = frequency_modulated(rng, 4);
    const auto b = frequency_modulated(rng, 3);
    const auto c = frequency_modulated(rng, 3.5);
    Samples two(a.size());
    Samples three(a.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
        two[i] = a[i] * a[i] * std::conj(b[i]);
        three[i] = a[i] * b[i] * std::conj(c[i]);
    }
    EXPECT_NEAR(rms_width_mhz(two) / two_signal_sigma_mhz(shape(a), shape(b)), 1, measured_ratio);
    EXPECT_NEAR(rms_width_mhz(three) / three_signal_sigma_mhz(shape(a), shape(b), shape(c)), 1,
                measured_ratio);
}

/// By how much a weak wanted signal at 0 MHz is weakened by blockers of `each` dBm. The offsets
/// below keep their products 40 MHz away or more.
Decibel measured_desensitisation(const std::vector<double>& offsets_mhz, Dbm each) {
    std::mt19937_64 rng(5);
    const auto wanted = arriving(frequency_modulated(rng, 4), 0, -90_dBm);
    std::vector<Samples> signals{wanted};
    for (const double offset : offsets_mhz)
        signals.push_back(arriving(frequency_modulated(rng, 4), offset, each));
    const auto received = sum(signals);
    const auto cubic = cubic_part(received, iip3);

    std::complex<double> through = 0;  // how much of the wanted signal is in what comes out
    for (std::size_t i = 0; i < wanted.size(); ++i)
        through += (received[i] + cubic[i]) * std::conj(wanted[i]);
    through /= static_cast<double>(wanted.size()) * testing::mean_power_mw(wanted);
    return Decibel(-20 * std::log10(std::abs(through)));
}

TEST(Waveform, OneBlockerDesensitisesAsPredicted) {
    for (const Dbm blocker : {-40_dBm, -32_dBm, -29.6_dBm, -26.1_dBm})
        EXPECT_NEAR(measured_desensitisation({80}, blocker).count(),
                    desensitisation(blocker, p1db).count(), desensitisation_db);
}

// Blockers of several frequencies count by the sum of their powers.
TEST(Waveform, SeveralBlockersDesensitiseByTheirSum) {
    for (const Dbm each : {-40_dBm, -34_dBm, -31_dBm}) {
        const std::vector<Dbm> two{each, each};
        const std::vector<Dbm> three{each, each, each};
        EXPECT_NEAR(measured_desensitisation({80, 200}, each).count(),
                    desensitisation(power_sum(two), p1db).count(), desensitisation_db);
        EXPECT_NEAR(measured_desensitisation({-168, -104, 152}, each).count(),
                    desensitisation(power_sum(three), p1db).count(), desensitisation_db);
    }
}

}  // namespace
}  // namespace fieldpeg::spectrum
