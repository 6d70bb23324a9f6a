#include "server/spectrum/rejection.h"

#include <boost/assert.hpp>
#include <boost/math/tools/toms748_solve.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

constexpr double nepers_per_db = std::numbers::ln10 / 10;  // of power

/// The power under a line that runs straight in dB from `left` to `right`, `width_mhz` apart:
///
///     integral of p0 e^(k t / w) dt over [0, w]  =  p0 w (e^k - 1) / k,   k = ln(p1 / p0)
double power_under_line(Decibel left, Decibel right, double width_mhz) {
    const double k = (right - left).count() * nepers_per_db;
    const double shape = std::abs(k) < 1e-9 ? 1 + k / 2 : std::expm1(k) / k;
    return linear(left) * width_mhz * shape;
}

/// Where either curve bends, on the emission's offsets and within the emission.
std::vector<Hertz> bends(const Curve& density, const Curve& selectivity, Hertz separation) {
    std::vector<Hertz> offsets;
    for (const auto& knot : density.knots()) {
        offsets.push_back(knot.offset);
        offsets.push_back(-knot.offset);
    }
    for (const auto& knot : selectivity.knots()) {
        for (const Hertz offset : {knot.offset - separation, -knot.offset - separation})
            if (distance(offset, 0_Hz) < density.last()) offsets.push_back(offset);
    }
    std::ranges::sort(offsets);
    return offsets;
}

/// Power of a density between its centre and `edge`, one side.
double power_within(const Curve& density, Hertz edge) {
    double power = 0;
    const auto knots = density.knots();
    for (std::size_t i = 1; i < knots.size() && knots[i - 1].offset < edge; ++i) {
        const Hertz right = std::min(knots[i].offset, edge);
        power += power_under_line(knots[i - 1].level, density.at(right),
                                  mhz(right - knots[i - 1].offset));
    }
    return power;
}

/// e^(x^2) erfc(x) for x >= 0, by the asymptotic series where erfc itself would underflow
/// [A&S, 7.1.23].
double scaled_erfc(double x) {
    if (x < 25) return std::exp(x * x) * std::erfc(x);
    const double y = 1 / (2 * x * x);
    return (1 - y + 3 * y * y) / (x * std::sqrt(std::numbers::pi));
}

/// One straight piece of a selectivity, in nepers of power: attenuation alpha + beta f.
struct Piece {
    double from_mhz, to_mhz, alpha, beta;
};

/// The power of N(f; df, sigma^2) that comes through one piece. Completing the square moves the
/// Gaussian's mean to df - beta sigma^2; in the tails the large exponents are joined first, so
/// that neither a steep curve nor a far product overflows or loses its figures.
double power_through(const Piece& piece, double df_mhz, double sigma_mhz) {
    const double from = piece.from_mhz, to = piece.to_mhz, alpha = piece.alpha, beta = piece.beta;
    const double mean = df_mhz - beta * sigma_mhz * sigma_mhz;
    const double u0 = (from - mean) / (sigma_mhz * std::numbers::sqrt2);
    const double u1 = (to - mean) / (sigma_mhz * std::numbers::sqrt2);
    const auto integrand = [&](double f) {
        const double z = (f - df_mhz) / sigma_mhz;
        return std::exp(-alpha - beta * f - z * z / 2);
    };
    if (u0 > 0) return (integrand(from) * scaled_erfc(u0) - integrand(to) * scaled_erfc(u1)) / 2;
    if (u1 < 0) return (integrand(to) * scaled_erfc(-u1) - integrand(from) * scaled_erfc(-u0)) / 2;
    const double gain = std::exp(-alpha - beta * df_mhz + beta * beta * sigma_mhz * sigma_mhz / 2);
    return gain * (1 - (std::erfc(-u0) + std::erfc(u1)) / 2);
}

}  // namespace

Decibel frequency_dependent_rejection(const Density& density, const Selectivity& selectivity,
                                      Hertz separation) {
    const auto sent = [&](Hertz offset) { return density.curve().at(offset); };
    const auto received = [&](Hertz offset) {
        return sent(offset) - selectivity.curve().at(offset + separation);
    };
    const auto offsets = bends(density.curve(), selectivity.curve(), separation);

    double sent_power = 0;
    double received_power = 0;
    for (std::size_t i = 1; i < offsets.size(); ++i) {
        const auto left = offsets[i - 1];
        const auto right = offsets[i];
        const double width_mhz = mhz(right - left);
        sent_power += power_under_line(sent(left), sent(right), width_mhz);
        received_power += power_under_line(received(left), received(right), width_mhz);
    }
    return decibel(sent_power / received_power);  // [SM.337-6, Annex 1, eq. (2)]
}

Decibel product_rejection(double sigma_mhz, const Selectivity& selectivity, Hertz separation) {
    BOOST_ASSERT(sigma_mhz > 0);
    const double df = mhz(separation);
    const auto knots = selectivity.curve().knots();

    double received = 0;
    for (std::size_t i = 1; i < knots.size(); ++i) {
        const double x0 = mhz(knots[i - 1].offset);
        const double x1 = mhz(knots[i].offset);
        const double y0 = knots[i - 1].level.count() * nepers_per_db;
        const double beta = (knots[i].level.count() * nepers_per_db - y0) / (x1 - x0);
        const double alpha = y0 - beta * x0;
        received += power_through({x0, x1, alpha, beta}, df, sigma_mhz) +
                    power_through({-x1, -x0, alpha, -beta}, df, sigma_mhz);
    }
    const double edge = mhz(knots.back().offset);
    const double ultimate = knots.back().level.count() * nepers_per_db;
    constexpr double far = 1e6;  // MHz, where nothing is left of any product
    received += power_through({edge, far, ultimate, 0}, df, sigma_mhz) +
                power_through({-far, -edge, ultimate, 0}, df, sigma_mhz);
    return decibel(1 / received);
}

Hertz noise_bandwidth(const Selectivity& selectivity) {
    const auto knots = selectivity.curve().knots();
    double width_mhz = 0;
    for (std::size_t i = 1; i < knots.size(); ++i)
        width_mhz += 2 * power_under_line(-knots[i - 1].level, -knots[i].level,
                                          mhz(knots[i].offset - knots[i - 1].offset));
    return from_mhz(width_mhz);
}

Hertz power_bandwidth(const Density& density) {
    const auto& curve = density.curve();
    const double one_side = power_within(curve, curve.last());
    return from_mhz(2 * one_side / linear(curve.at(0_Hz)));
}

Hertz occupied_bandwidth(const Density& density) {
    constexpr double share_within = 0.99;  // [47CFR2.202, (a)]
    const auto& curve = density.curve();
    const double all = power_within(curve, curve.last());
    const auto missing = [&](double edge_mhz) {
        return power_within(curve, from_mhz(edge_mhz)) / all - share_within;
    };
    std::uintmax_t steps = 100;
    const auto [low_mhz, high_mhz] = boost::math::tools::toms748_solve(
        missing, 0.0, mhz(curve.last()), boost::math::tools::eps_tolerance<double>(30), steps);
    return from_mhz(low_mhz + high_mhz);  // both sides of the centre
}

}  // namespace fieldpeg::spectrum
