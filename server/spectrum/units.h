#pragma once

#include <cmath>
#include <compare>
#include <cstdint>
#include <span>

/// Quantities of a link budget, as types that cannot be confused.
///
/// The pattern is that of std::chrono: a Decibel is to a Dbm what a duration is to a time_point.
/// Two ratios add up; a level plus a ratio is a level; the difference of two levels is a ratio;
/// and there is no level plus level, since powers add in milliwatts and not in dBm.
namespace fieldpeg::spectrum {

template <class Tag, class Rep>
class Quantity {
public:
    constexpr Quantity() = default;
    constexpr explicit Quantity(Rep count) : count_(count) {}

    constexpr Rep count() const { return count_; }

    constexpr auto operator<=>(const Quantity&) const = default;
    constexpr Quantity operator-() const { return Quantity(-count_); }
    friend constexpr Quantity operator+(Quantity a, Quantity b) {
        return Quantity(a.count_ + b.count_);
    }
    friend constexpr Quantity operator-(Quantity a, Quantity b) {
        return Quantity(a.count_ - b.count_);
    }
    friend constexpr Quantity operator*(Rep k, Quantity a) { return Quantity(k * a.count_); }

private:
    Rep count_{};
};

/// A point on a logarithmic scale whose zero is a fixed reference.
template <class Tag, class Ratio>
class Level {
public:
    constexpr Level() = default;
    constexpr explicit Level(double above_reference) : above_reference_(above_reference) {}

    constexpr double count() const { return above_reference_.count(); }

    constexpr auto operator<=>(const Level&) const = default;
    constexpr Level operator-() const { return Level(-count()); }  // so that -87_dBm can be written
    friend constexpr Level operator+(Level a, Ratio r) { return Level(a.count() + r.count()); }
    friend constexpr Level operator-(Level a, Ratio r) { return Level(a.count() - r.count()); }
    friend constexpr Ratio operator-(Level a, Level b) {
        return a.above_reference_ - b.above_reference_;
    }

private:
    Ratio above_reference_;
};

/// Frequency, or the distance between two. Whole hertz, so that the products of intermodulation
/// (2 f1 - f2 and its like) come out exact.
using Hertz = Quantity<struct HertzTag, std::int64_t>;
using Metres = Quantity<struct MetresTag, double>;
/// An angle. Azimuth 0 is north, clockwise positive; elevation is above the horizon.
using Degrees = Quantity<struct DegreesTag, double>;
/// A ratio of two powers. A loss and a margin are positive ones.
using Decibel = Quantity<struct DecibelTag, double>;
/// A power, relative to one milliwatt.
using Dbm = Level<struct DbmTag, Decibel>;

/// The least and the most that a power may be said to be. Beyond it somebody mistyped.
inline constexpr Dbm power_min{-60};
inline constexpr Dbm power_max{50};

constexpr double mhz(Hertz frequency) {
    return static_cast<double>(frequency.count()) / 1e6;
}
inline Hertz from_mhz(double mhz) {
    return Hertz(std::llround(mhz * 1e6));
}
constexpr Hertz distance(Hertz a, Hertz b) {
    return a < b ? b - a : a - b;
}

inline double linear(Decibel ratio) {
    return std::pow(10.0, ratio.count() / 10);
}
inline Decibel decibel(double ratio) {
    return Decibel(10 * std::log10(ratio));
}
inline double milliwatts(Dbm power) {
    return std::pow(10.0, power.count() / 10);
}
inline Dbm dbm(double milliwatts) {
    return Dbm(10 * std::log10(milliwatts));
}

/// The power of signals that have nothing to do with each other: their milliwatts add.
///
/// Requires at least one power.
inline Dbm power_sum(std::span<const Dbm> powers) {
    double sum_mw = 0;
    for (const auto power : powers) sum_mw += milliwatts(power);
    return dbm(sum_mw);
}

inline namespace literals {

consteval Hertz operator""_Hz(unsigned long long n) {
    return Hertz(static_cast<std::int64_t>(n));
}
consteval Hertz operator""_kHz(unsigned long long n) {
    return Hertz(static_cast<std::int64_t>(n) * 1'000);
}
consteval Hertz operator""_MHz(unsigned long long n) {
    return Hertz(static_cast<std::int64_t>(n) * 1'000'000);
}
consteval Metres operator""_m(unsigned long long n) {
    return Metres(static_cast<double>(n));
}
consteval Metres operator""_m(long double x) {
    return Metres(static_cast<double>(x));
}
consteval Degrees operator""_deg(unsigned long long n) {
    return Degrees(static_cast<double>(n));
}
consteval Decibel operator""_dB(long double x) {
    return Decibel(static_cast<double>(x));
}
consteval Decibel operator""_dB(unsigned long long n) {
    return Decibel(static_cast<double>(n));
}
consteval Dbm operator""_dBm(long double x) {
    return Dbm(static_cast<double>(x));
}
consteval Dbm operator""_dBm(unsigned long long n) {
    return Dbm(static_cast<double>(n));
}

}  // namespace literals
/// Whether two powers are one step of a transmitter: written in mW and in dBm they differ a little.
constexpr bool is_same_power(Dbm a, Dbm b) {
    const Decibel difference = a - b;
    return difference <= Decibel(0.05) && -difference <= Decibel(0.05);
}

}  // namespace fieldpeg::spectrum
