#pragma once

#include "server/spectrum/units.h"

namespace fieldpeg::spectrum {

/// Products farther than this from a receiver's channel are not counted.
inline constexpr Hertz product_reach = 60_MHz;

/// What a signal contributes to the width of a product, and whether its envelope is constant.
struct ProductShape {
    double sigma_mhz;  ///< rms width of the emission
    bool constant_envelope;
};

/// Input-referred level of 2 f_a - f_b in a cubic receiver. [Pozar, ch. 10] [SM.1134-1, 3.2]
///
///     P(2A-B) = 2 P_A + P_B - 2 IIP3
///
/// and 3.01 dB more when A is noise-like: the mean of its squared power is then twice the square
/// of the mean [ours: derived, agrees with a waveform simulation to 0.03 dB].
Dbm two_signal_product(Dbm a, Dbm b, Dbm iip3, bool a_constant_envelope);

/// Input-referred level of f_a + f_b - f_c. [Pozar, ch. 10]
///
///     P(A+B-C) = P_A + P_B + P_C - 2 IIP3 + 6.02
Dbm three_signal_product(Dbm a, Dbm b, Dbm c, Dbm iip3);

/// rms width of 2A-B: A^2 of a frequency-modulated signal is one with doubled deviation (4
/// sigma^2), of a noise-like one its self-convolution (2 sigma^2) [ours: docs/model.md, section 6].
double two_signal_sigma_mhz(const ProductShape& a, const ProductShape& b);

/// rms width of A+B-C.
double three_signal_sigma_mhz(const ProductShape& a, const ProductShape& b, const ProductShape& c);

/// 2 f_a - f_b and f_a + f_b - f_c at their absolute frequencies.
constexpr Hertz two_signal_frequency(Hertz a, Hertz b) {
    return distance(2 * a, b);
}
constexpr Hertz three_signal_frequency(Hertz a, Hertz b, Hertz c) {
    return distance(a + b, c);
}
/// 3 f_a - 2 f_b, fifth order: listed, not counted.
constexpr Hertz fifth_order_frequency(Hertz a, Hertz b) {
    return distance(3 * a, 2 * b);
}

}  // namespace fieldpeg::spectrum
