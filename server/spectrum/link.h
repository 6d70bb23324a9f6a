#pragma once

#include "server/spectrum/flight.h"
#include "server/spectrum/geometry.h"
#include "server/spectrum/scene.h"

#include <cstddef>
#include <memory>
#include <vector>

namespace fieldpeg::spectrum {

class LinkMemory;
struct Places;

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

/// Over the whole flight, from each place of the transmitter's area.
FlightGain flight_gain(const Transmitter& transmitter, const Receiver& receiver, Role role);
/// Of a disturbance.
Decibel unwanted_gain(const Transmitter& transmitter, const Receiver& receiver, Geometry geometry);
/// The same from an area whose places are listed, usually.
Decibel usual_gain(const Places& area, const Transmitter& transmitter, const Receiver& receiver);
/// From one transmitter into the antenna socket of another.
Decibel coupling(const Transmitter& from, const Transmitter& into);

/// The gain of a wanted link over its flight, and the levels of it that verdicts ask for.
struct WantedGain {
    explicit WantedGain(FlightGain flight);

    /// What is exceeded for a share of the flight.
    Decibel exceeded(double share) const;

    FlightGain flight;

private:
    Decibel good_, usable_, seldom_beyond_usable_, seldom_beyond_good_;
};

/// All link gains of a scene, the unwanted ones as power ratios. They do not depend on channels
/// within a band nor on powers, so one table serves for as long as nobody moves or changes an
/// antenna.
class LinkTable {
public:
    explicit LinkTable(const Scene& scene);
    /// The same, with what is known of other scenes.
    LinkTable(const Scene& scene, LinkMemory& memory);

    /// One transmitter has moved: what belongs to it is computed anew.
    void update(const Scene& scene, std::size_t transmitter);

    /// Requires that the receiver hears something.
    const WantedGain& wanted(std::size_t receiver) const { return *wanted_[receiver]; }
    double unwanted(Geometry geometry, std::size_t receiver, std::size_t transmitter) const {
        return (geometry == Geometry::usual ? usual_
                                            : closest_)[receiver * transmitters_ + transmitter];
    }
    double coupling(std::size_t from, std::size_t into) const {
        return coupling_[into * transmitters_ + from];
    }

private:
    /// Those that a memory has given to the ends of a scene.
    struct Numbers {
        Numbers(const Scene& scene, LinkMemory& memory);
        std::vector<std::size_t> transmitters, receivers;
    };
    void set_links(const Scene& scene, std::size_t transmitter, const Numbers& numbers,
                   LinkMemory& memory);
    void set_coupling(std::size_t from, std::size_t into, const Numbers& numbers,
                      LinkMemory& memory);

    std::size_t transmitters_;
    std::vector<std::shared_ptr<const WantedGain>> wanted_;
    std::vector<double> usual_;
    std::vector<double> closest_;
    std::vector<double> coupling_;  ///< 0 into oneself
};

}  // namespace fieldpeg::spectrum
