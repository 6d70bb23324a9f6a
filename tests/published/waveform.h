#pragma once

#include "server/spectrum/curve.h"
#include "server/spectrum/units.h"

#include <fftw3.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <numbers>
#include <random>
#include <vector>

/// Signals as complex baseband samples, periodic, so that a transform sees no edge. Power is the
/// mean of |x|^2, in mW.
namespace fieldpeg::testing {

using Samples = std::vector<std::complex<double>>;

constexpr std::size_t sample_count = 1 << 16;
constexpr double sample_rate_mhz = 512;  // room for products up to 256 MHz either side
constexpr double bin_mhz = sample_rate_mhz / sample_count;

/// Frequency of a bin of a transform, -256 to 256 MHz.
inline double bin_frequency_mhz(std::size_t bin) {
    const auto i = static_cast<double>(bin);
    return bin_mhz * (bin < sample_count / 2 ? i : i - sample_count);
}

/// Discrete Fourier transform, forward divided by the number of samples.
inline Samples transform(Samples samples, int direction) {
    auto* data = reinterpret_cast<fftw_complex*>(samples.data());
    const std::unique_ptr<fftw_plan_s, decltype(&fftw_destroy_plan)> plan(
        fftw_plan_dft_1d(static_cast<int>(samples.size()), data, data, direction, FFTW_ESTIMATE),
        &fftw_destroy_plan);
    fftw_execute(plan.get());
    if (direction == FFTW_FORWARD)
        for (auto& x : samples) x /= static_cast<double>(samples.size());
    return samples;
}
inline Samples to_spectrum(const Samples& samples) {
    return transform(samples, FFTW_FORWARD);
}
inline Samples to_samples(const Samples& spectrum) {
    return transform(spectrum, FFTW_BACKWARD);
}

inline double mean_power_mw(const Samples& samples) {
    double sum = 0;
    for (const auto& x : samples) sum += std::norm(x);
    return sum / static_cast<double>(samples.size());
}

/// The picture: steps of random brightness, a quarter of a microsecond each, limited to
/// `video_mhz`, without a mean, between -1 and 1.
inline std::vector<double> picture(std::mt19937_64& rng, double video_mhz) {
    constexpr std::size_t step = sample_count / 512;
    std::uniform_real_distribution<double> brightness(-1, 1);
    Samples samples(sample_count);
    for (std::size_t i = 0; i < sample_count; ++i)
        samples[i] = i % step == 0 ? brightness(rng) : samples[i - 1];
    auto spectrum = to_spectrum(samples);
    for (std::size_t bin = 0; bin < sample_count; ++bin)
        if (bin == 0 || std::abs(bin_frequency_mhz(bin)) > video_mhz) spectrum[bin] = 0;
    samples = to_samples(spectrum);
    double peak = 0;
    for (const auto& x : samples) peak = std::max(peak, std::abs(x.real()));
    std::vector<double> video;
    for (const auto& x : samples) video.push_back(x.real() / peak);
    return video;
}

/// A picture on a frequency-modulated carrier of 1 mW at 0 MHz.
inline Samples frequency_modulated(std::mt19937_64& rng, double peak_deviation_mhz,
                                   double video_mhz = 5) {
    Samples samples;
    double phase = 0;
    for (const double level : picture(rng, video_mhz)) {
        samples.push_back(std::polar(1.0, phase));
        phase += 2 * std::numbers::pi * peak_deviation_mhz * level / sample_rate_mhz;
    }
    return samples;
}

/// Complex noise, flat over +-`edge_mhz`, 1 mW: what a multicarrier signal looks like.
inline Samples noise_like(std::mt19937_64& rng, double edge_mhz) {
    std::normal_distribution<double> normal;
    Samples spectrum(sample_count);
    for (std::size_t bin = 0; bin < sample_count; ++bin)
        if (std::abs(bin_frequency_mhz(bin)) <= edge_mhz)
            spectrum[bin] = {normal(rng), normal(rng)};
    auto samples = to_samples(spectrum);
    const double scale = 1 / std::sqrt(mean_power_mw(samples));
    for (auto& x : samples) x *= scale;
    return samples;
}

/// sqrt(integral f^2 P / integral P), about 0 MHz.
inline double rms_width_mhz(const Samples& samples) {
    double power = 0;
    double second = 0;
    const auto spectrum = to_spectrum(samples);
    for (std::size_t bin = 0; bin < sample_count; ++bin) {
        const double f = bin_frequency_mhz(bin);
        power += std::norm(spectrum[bin]);
        second += f * f * std::norm(spectrum[bin]);
    }
    return std::sqrt(second / power);
}

/// A signal of 1 mW as it arrives: moved to `offset_mhz`, which must be on a bin, and weakened.
inline Samples arriving(const Samples& signal, double offset_mhz, spectrum::Dbm power) {
    Samples moved(signal.size());
    const double amplitude = std::sqrt(spectrum::milliwatts(power));
    const auto cycles = static_cast<std::size_t>(std::llround(std::abs(offset_mhz) / bin_mhz));
    const double sign = offset_mhz < 0 ? -1 : 1;
    for (std::size_t i = 0; i < signal.size(); ++i) {
        const auto turn = static_cast<double>(i * cycles % sample_count) / sample_count;
        moved[i] = signal[i] * std::polar(amplitude, sign * 2 * std::numbers::pi * turn);
    }
    return moved;
}

inline Samples sum(const std::vector<Samples>& signals) {
    Samples total(signals.front().size());
    for (const auto& signal : signals)
        for (std::size_t i = 0; i < total.size(); ++i) total[i] += signal[i];
    return total;
}

/// The cubic part of y = x - |x|^2 x / P_IIP3, the complex baseband of a receiver whose gain is 1.
/// (Two tones of P_IIP3 each would, by this term, have products as strong as themselves.)
inline Samples cubic_part(const Samples& x, spectrum::Dbm iip3) {
    const double p_iip3_mw = spectrum::milliwatts(iip3);
    Samples y(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) y[i] = -std::norm(x[i]) / p_iip3_mw * x[i];
    return y;
}

/// What a receiver tuned to `tuned_mhz` lets through: the selectivity as |H|^2 on every bin.
inline spectrum::Dbm power_through(const Samples& spectrum,
                                   const spectrum::Selectivity& selectivity, double tuned_mhz) {
    double power_mw = 0;
    for (std::size_t bin = 0; bin < sample_count; ++bin) {
        const auto offset = spectrum::from_mhz(bin_frequency_mhz(bin) - tuned_mhz);
        power_mw += std::norm(spectrum[bin]) / spectrum::linear(selectivity.curve().at(offset));
    }
    return spectrum::dbm(power_mw);
}

}  // namespace fieldpeg::testing
