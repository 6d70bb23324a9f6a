#include "tests/support/scenes.h"

#include "tests/support/gear.h"
#include "tests/support/random.h"

namespace fieldpeg::testing {
namespace {

using spectrum::Decibel;
using spectrum::Degrees;
using spectrum::Hertz;
using spectrum::Point;
using spectrum::Polarisation;
using spectrum::Scene;

Hertz random_frequency(std::mt19937_64& rng, Channels channels) {
    const Hertz step = Hertz(5'000'000 * whole(rng, 0, 20) + 1'000'000 * whole(rng, 0, 1));
    switch (channels) {
        case Channels::one_band:
            return 5700_MHz + step;
        case Channels::fine:
            return 5700_MHz + step + Hertz(1'000 * whole(rng, 0, 9));
        case Channels::three_bands:
            break;
    }
    return one_of(rng, {1260_MHz, 2420_MHz, 4980_MHz}) + Hertz(4'000'000 * whole(rng, 0, 10));
}

Hertz channel_of_next(std::mt19937_64& rng, const Scene& scene, Channels channels) {
    if (scene.transmitters.empty() || chance(rng, 70)) return random_frequency(rng, channels);
    const auto last = static_cast<int>(scene.transmitters.size()) - 1;
    return scene.transmitters[static_cast<std::size_t>(whole(rng, 0, last))].frequency;
}

void add_receiver(std::mt19937_64& rng, Scene& scene, std::optional<std::size_t> hears,
                  const Point& at) {
    const auto last = static_cast<int>(scene.profiles.size()) - 1;
    scene.receivers.push_back({static_cast<std::size_t>(whole(rng, 0, last)), hears,
                               random_antenna(rng), Decibel(between(rng, 0, 2)), at,
                               static_cast<std::size_t>(whole(rng, 0, 1))});
}

void add_transmitter(std::mt19937_64& rng, Scene& scene, Channels channels,
                     const spectrum::Station& at) {
    const auto last = static_cast<int>(scene.emissions.size()) - 1;
    scene.transmitters.push_back(
        {static_cast<std::size_t>(whole(rng, 0, last)), channel_of_next(rng, scene, channels),
         spectrum::Dbm(between(rng, 0, 30)), random_antenna(rng), Decibel(between(rng, 0, 2)), at});
}

/// Gear for the scene: one or two kinds of it, so that its tables stay small.
Scene with_gear(std::mt19937_64& rng, Channels channels) {
    Scene scene;
    scene.emissions.push_back(emission("fm-video"));
    if (chance(rng, 60))
        scene.emissions.push_back(emission(one_of(rng, {"ofdm-20", "ofdm-10", "fm-video-wide"})));
    if (channels == Channels::three_bands) {
        for (const auto* name : {"fm-video-1g3", "fm-video-2g4", "fm-video-5g8-wide"})
            scene.profiles.push_back(receiver(name));
        return scene;
    }
    scene.profiles.push_back(receiver("fm-video-5g8"));
    if (chance(rng, 50))
        scene.profiles.push_back(
            receiver(one_of(rng, {"ofdm-20-5g8", "fm-video-5g8-sharp", "ofdm-40-5g8"})));
    return scene;
}

void populate(std::mt19937_64& rng, Scene& scene, Channels channels, int count) {
    for (int i = 0; i < count; ++i) {
        if (chance(rng, 65))
            add_transmitter(rng, scene, channels, random_envelope(rng));
        else
            add_transmitter(rng, scene, channels, random_place(rng));
        const auto hears = scene.transmitters.size() - 1;
        const int receivers = one_of(rng, {0, 1, 1, 1, 2});
        for (int r = 0; r < receivers; ++r) add_receiver(rng, scene, hears, random_place(rng));
    }
}

}  // namespace

spectrum::Antenna upright(std::string_view name, Polarisation polarisation) {
    return {.pattern = antenna(name), .polarisation = polarisation, .azimuth = {}, .elevation = {}};
}

spectrum::Antenna random_antenna(std::mt19937_64& rng) {
    const auto hand = one_of(rng, {Polarisation::rhcp, Polarisation::lhcp});
    const auto plane = one_of(rng, {Polarisation::vertical, Polarisation::horizontal});
    if (chance(rng, 50)) return upright("circular-omni", hand);
    if (chance(rng, 40)) return upright("dipole", plane);
    auto directional =
        chance(rng, 60) ? upright("circular-patch", hand) : upright("wide-panel", plane);
    directional.azimuth = Degrees(between(rng, -180, 180));
    directional.elevation = Degrees(between(rng, -10, 30));
    directional.turns = chance(rng, 20);
    return directional;
}

spectrum::Envelope random_envelope(std::mt19937_64& rng) {
    const double low_m = between(rng, 2, 40);
    return {between(rng, -80, 80), between(rng, -20, 150), between(rng, 10, 80), low_m,
            low_m + between(rng, 0, 60)};
}

Point random_place(std::mt19937_64& rng) {
    return {between(rng, -30, 30), between(rng, -15, 5), between(rng, 0.8, 4)};
}

Scene random_scene(std::mt19937_64& rng, Channels channels, int most) {
    Scene scene = with_gear(rng, channels);
    populate(rng, scene, channels, whole(rng, 2, most));
    if (scene.receivers.empty()) add_receiver(rng, scene, 0, random_place(rng));
    if (chance(rng, 20)) add_receiver(rng, scene, std::nullopt, random_place(rng));
    return scene;
}

Scene random_scene_with_relay(std::mt19937_64& rng, int most) {
    Scene scene = with_gear(rng, Channels::one_band);
    const Point tripod = random_place(rng);
    add_transmitter(rng, scene, Channels::one_band, tripod);
    const int goggles = whole(rng, 1, 2);
    for (int i = 0; i < goggles; ++i)
        add_receiver(rng, scene, 0,
                     {tripod.x_m + between(rng, -15, 15), tripod.y_m - between(rng, 0.5, 12), 1.7});
    populate(rng, scene, Channels::one_band, whole(rng, 1, most - 1));
    return scene;
}

}  // namespace fieldpeg::testing
