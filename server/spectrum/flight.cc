#include "server/spectrum/flight.h"

#include <boost/assert.hpp>
#include <boost/math/distributions/normal.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <type_traits>
#include <utility>

namespace fieldpeg::spectrum {

const decltype(normal_table) normal_table = [] {
    std::remove_const_t<decltype(normal_table)> shares;
    for (std::size_t i = 0; i < shares.size(); ++i) {
        const double x = static_cast<double>(i) / normal_steps_per_unit - normal_limit;
        shares[i] = std::erfc(-x / std::numbers::sqrt2) / 2;
    }
    return shares;
}();

FlightGain::FlightGain(std::vector<double> medians_db, Decibel fading)
    : medians_db_(std::move(medians_db)), fading_(fading) {
    BOOST_ASSERT(!medians_db_.empty());
    BOOST_ASSERT(fading > Decibel(0));
}

Decibel FlightGain::exceeded(double share) const {
    BOOST_ASSERT(0 < share && share < 1);
    const double sigma = fading_.count();
    const double z = boost::math::quantile(boost::math::normal(), 1 - share);
    if (medians_db_.size() == 1) return Decibel(medians_db_.front() + sigma * z);
    // Every place's own level lies in this bracket, so the level of all does.
    const auto [least, greatest] = std::ranges::minmax(medians_db_);
    double low = least + sigma * z, high = greatest + sigma * z;
    constexpr double resolution_db = 1e-6;
    double x = (low + high) / 2;
    const auto count = static_cast<double>(medians_db_.size());
    while (high - low > resolution_db) {
        double above = 0, falls = 0;
        for (const double median : medians_db_) {
            const auto [below_here, slope] = normal_at((median - x) / sigma);
            above += below_here;
            falls += slope;
        }
        const double too_much = above / count - share;
        (too_much > 0 ? low : high) = x;
        const double newton = x + too_much * count * sigma / falls;
        if (std::abs(newton - x) < resolution_db) return Decibel(newton);
        x = low < newton && newton < high ? newton : (low + high) / 2;
    }
    return Decibel(x);
}

double FlightGain::share_above(Decibel gain) const {
    double above = 0;
    for (const double median : medians_db_)
        above += normal_at((median - gain.count()) / fading_.count()).share;
    return above / static_cast<double>(medians_db_.size());
}

}  // namespace fieldpeg::spectrum
