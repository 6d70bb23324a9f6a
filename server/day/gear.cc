#include "server/day/gear.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

using spectrum::Dbm;
using spectrum::Decibel;
using spectrum::Degrees;

template <class Field>
std::vector<spectrum::Curve::Knot> knots(const Field& field) {
    std::vector<spectrum::Curve::Knot> list;
    for (const auto& knot : field)
        list.push_back({spectrum::from_mhz(knot.offset_mhz()), Decibel(knot.level_db())});
    return list;
}

}  // namespace

spectrum::Emission emission(const v1::Emission& from) {
    return {spectrum::Density::make(knots(from.density())).value(), from.sigma_mhz(),
            from.constant_envelope()};
}

spectrum::ReceiverProfile receiver_profile(const v1::ReceiverProfile& from) {
    return {spectrum::Selectivity::make(knots(from.selectivity())).value(),
            Decibel(from.noise_figure_db()),
            Dbm(from.iip3_dbm()),
            Dbm(from.p1db_dbm()),
            Dbm(from.strongest_wanted_dbm()),
            Decibel(from.watchable_db()),
            Decibel(from.sharp_db()),
            spectrum::from_mhz(from.front_end_low_mhz()),
            spectrum::from_mhz(from.front_end_high_mhz()),
            Decibel(from.front_end_rejection_db())};
}

spectrum::AntennaPattern antenna_pattern(const v1::Antenna& from) {
    spectrum::AntennaPattern pattern{Decibel(from.gain_dbi()), std::nullopt,
                                     Degrees(from.vertical_width_deg()), Decibel(from.floor_db()),
                                     Decibel(from.axial_ratio_db())};
    if (from.has_horizontal_width_deg())
        pattern.horizontal_width = Degrees(from.horizontal_width_deg());
    return pattern;
}

spectrum::Polarisation polarisation(v1::Polarisation::Kind from) {
    switch (from) {
        case v1::Polarisation::rhcp:
            return spectrum::Polarisation::rhcp;
        case v1::Polarisation::lhcp:
            return spectrum::Polarisation::lhcp;
        case v1::Polarisation::horizontal:
            return spectrum::Polarisation::horizontal;
        default:
            return spectrum::Polarisation::vertical;
    }
}

bool is_power_measured(const v1::Transmitter& transmitter, double power_dbm) {
    const auto is_it = [&](double dbm) {
        return spectrum::is_same_power(spectrum::Dbm(dbm), spectrum::Dbm(power_dbm));
    };
    return std::ranges::find(transmitter.measured(), "power") != transmitter.measured().end() ||
           std::ranges::any_of(transmitter.measured_power_dbm(), is_it);
}

}  // namespace fieldpeg::day
