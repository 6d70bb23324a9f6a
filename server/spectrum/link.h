#pragma once

#include "server/spectrum/geometry.h"
#include "server/spectrum/scene.h"

#include <cstddef>
#include <vector>

namespace fieldpeg::spectrum {

/// Taken off the wanted signal: what multipath, tilt and people cost it at the rim of the area
/// [ours: by Monte Carlo, docs/model.md, section 12], and between fixed points [ours: assumed].
inline constexpr Decibel fade_wanted_air = 6_dB;
inline constexpr Decibel fade_wanted_ground = 3_dB;

/// One end of a link at one place.
struct End {
    Antenna antenna;
    Decibel loss;
    Point at;
    bool flies;  ///< a directional antenna on it looks who knows where
};

/// Gain of the way from one antenna's cable to the other's, always below 0 dB in practice:
///
///     L = G_t - loss_t + G_r - loss_r - PL - PolLoss
Decibel link_gain(const End& a, const End& b, Hertz frequency, Role role);

/// Of the wanted signal where it is weakest, fade taken off.
Decibel wanted_gain(const Transmitter& transmitter, const Receiver& receiver);
/// Of a disturbance.
Decibel unwanted_gain(const Transmitter& transmitter, const Receiver& receiver, Geometry geometry);
/// From one transmitter into the antenna socket of another.
Decibel coupling(const Transmitter& from, const Transmitter& into);

/// All link gains of a scene, as power ratios. They do not depend on channels within a band nor on
/// powers, so one table serves for as long as nobody moves or changes an antenna.
class LinkTable {
public:
    explicit LinkTable(const Scene& scene);

    /// One transmitter has moved: what belongs to it is computed anew.
    void update(const Scene& scene, std::size_t transmitter);

    double wanted(std::size_t receiver) const { return wanted_[receiver]; }
    double unwanted(Geometry geometry, std::size_t receiver, std::size_t transmitter) const {
        return (geometry == Geometry::ref ? ref_ : worst_)[receiver * transmitters_ + transmitter];
    }
    double coupling(std::size_t from, std::size_t into) const {
        return coupling_[into * transmitters_ + from];
    }

private:
    void set_link(const Scene& scene, std::size_t receiver, std::size_t transmitter);
    void set_coupling(const Scene& scene, std::size_t from, std::size_t into);

    std::size_t transmitters_;
    std::vector<double> wanted_;  ///< 0 for a receiver that hears nothing
    std::vector<double> ref_;
    std::vector<double> worst_;
    std::vector<double> coupling_;  ///< 0 into oneself
};

}  // namespace fieldpeg::spectrum
