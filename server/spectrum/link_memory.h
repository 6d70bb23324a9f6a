#pragma once

#include "server/spectrum/link.h"
#include "server/spectrum/many_ways.h"
#include "server/spectrum/scene.h"

#include <cstddef>
#include <memory>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {

/// Gains between ends of links, each worked out once. A plain value that whoever assesses one scene
/// after another keeps between them. What it gives depends on the two ends alone, which it compares
/// by value: it saves time and changes nothing. Many fly over one area with one antenna, and stand
/// at one place, so that it serves within one scene already.
class LinkMemory {
public:
    /// The number of an end: those from which every gain is the same have one. Numbers are good
    /// until `make_room`.
    std::size_t number_of(const Transmitter& transmitter);
    std::size_t number_of(const Receiver& receiver);

    /// Between ends, by number: flight_gain, unwanted_gain and coupling as power ratios.
    std::shared_ptr<const WantedGain> wanted(std::size_t transmitter, std::size_t receiver);
    double unwanted(Geometry geometry, std::size_t transmitter, std::size_t receiver);
    double coupling(std::size_t from, std::size_t into);

    /// Forgets all if it has become too much [ours].
    void make_room();

private:
    static constexpr std::size_t ends_max = 256;
    static constexpr double unknown = -1;

    struct Ways {
        double usual = unknown;
        double closest = unknown;
        std::shared_ptr<const WantedGain> wanted;
    };
    struct From {
        Transmitter transmitter;
        Hertz reference;             ///< of its band
        std::optional<Places> area;  ///< all over it
        std::vector<Ways> to;        ///< by receiver
        std::vector<double> into;    ///< by transmitter
    };

    Ways& ways(std::size_t transmitter, std::size_t receiver);
    double usual(From& from, const Receiver& receiver);

    std::vector<From> transmitters_;
    std::vector<Receiver> receivers_;
};

}  // namespace fieldpeg::spectrum
