#pragma once

#include "server/spectrum/scene.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/verdict.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"

#include <cstddef>
#include <initializer_list>
#include <string_view>
#include <vector>

/// Small invented flying days, with gear of the library.
namespace fieldpeg::testing {

using namespace spectrum::literals;

constexpr spectrum::Decibel cable = 0.5_dB;
constexpr spectrum::Envelope circuit{0, 80, 50, 3, 40};  // the usual flying area, 30 to 130 m out
constexpr double eye_m = 1.7;

inline spectrum::Antenna circular(std::string_view name,
                                  spectrum::Polarisation hand = spectrum::Polarisation::rhcp) {
    return {.pattern = antenna(name), .polarisation = hand, .azimuth = {}, .elevation = {}};
}
inline spectrum::Antenna upright(std::string_view name) {
    return {.pattern = antenna(name),
            .polarisation = spectrum::Polarisation::vertical,
            .azimuth = {},
            .elevation = {}};
}

/// A scene that pilots walk into one by one.
class Field {
public:
    /// A transmitter and one receiver at `stands` that hears it, of one more owner; returns the
    /// receiver's index.
    std::size_t add(spectrum::Hertz f, spectrum::Dbm power, const spectrum::Station& at,
                    const spectrum::Point& stands, std::string_view emission_name = "fm-video",
                    std::string_view receiver_name = "fm-video-5g8",
                    const spectrum::Antenna& sends = circular("circular-omni"),
                    const spectrum::Antenna& hears = circular("circular-omni")) {
        scene_.emissions.push_back(emission(emission_name));
        scene_.transmitters.push_back({scene_.emissions.size() - 1, f, power, sends, cable, at});
        scene_.profiles.push_back(receiver(receiver_name));
        scene_.receivers.push_back({scene_.profiles.size() - 1, scene_.transmitters.size() - 1,
                                    hears, cable, stands, scene_.receivers.size()});
        return scene_.receivers.size() - 1;
    }

    spectrum::Scene& scene() { return scene_; }

    /// How each receiver stands by itself.
    std::vector<spectrum::Standing> standings() const {
        const Assessed day(scene_);
        std::vector<spectrum::Standing> all;
        for (const auto& reception : day.receptions) all.push_back(spectrum::standing(*reception));
        return all;
    }
    spectrum::Standing standing(std::size_t receiver) const { return standings()[receiver]; }

    const spectrum::ReceiverProfile& profile(std::size_t receiver) const {
        return scene_.profiles[scene_.receivers[receiver].profile];
    }

private:
    spectrum::Scene scene_;
};

/// Pilots side by side on the line, 3 m apart, all flying the circuit.
inline Field pilots_on(const std::vector<spectrum::Hertz>& channels, spectrum::Dbm power,
                       std::string_view goggles_antenna = "circular-omni") {
    Field field;
    for (std::size_t i = 0; i < channels.size(); ++i)
        field.add(channels[i], power, circuit, {3.0 * static_cast<double>(i), 0, eye_m}, "fm-video",
                  "fm-video-5g8", circular("circular-omni"), circular(goggles_antenna));
    return field;
}

}  // namespace fieldpeg::testing
