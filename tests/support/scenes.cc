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

/// Goggles of one owner, and inputs of a relay, are of whatever profile shows the emission.
bool shows(const spectrum::ReceiverProfile& profile, const spectrum::Emission& emission) {
    const bool takes_any_level = profile.strongest_wanted >= spectrum::Dbm(0);  // analogue
    return takes_any_level == emission.constant_envelope;
}

std::size_t random_profile(std::mt19937_64& rng, const Scene& scene,
                           std::optional<std::size_t> hears) {
    const auto last = static_cast<int>(scene.profiles.size()) - 1;
    const auto first = static_cast<std::size_t>(whole(rng, 0, last));
    if (!hears) return first;
    const auto& emission = scene.emissions[scene.transmitters[*hears].emission];
    for (std::size_t i = 0; i < scene.profiles.size(); ++i) {
        const auto profile = (first + i) % scene.profiles.size();
        if (shows(scene.profiles[profile], emission)) return profile;
    }
    return first;
}

spectrum::Receiver& add_receiver(std::mt19937_64& rng, Scene& scene,
                                 std::optional<std::size_t> hears, const Point& at,
                                 std::size_t owner) {
    return scene.receivers.emplace_back(spectrum::Receiver{random_profile(rng, scene, hears), hears,
                                                           random_antenna(rng),
                                                           Decibel(between(rng, 0, 2)), at, owner});
}

spectrum::Transmitter& add_transmitter(std::mt19937_64& rng, Scene& scene, Channels channels,
                                       const spectrum::Station& at) {
    const auto last = static_cast<int>(scene.emissions.size()) - 1;
    auto& added = scene.transmitters.emplace_back(spectrum::Transmitter{
        static_cast<std::size_t>(whole(rng, 0, last)), channel_of_next(rng, scene, channels),
        spectrum::Dbm(between(rng, 0, 30)), random_antenna(rng), Decibel(between(rng, 0, 2)), at});
    if (chance(rng, 15)) added.duty = one_of(rng, {0.01, 0.05, 0.3});
    if (chance(rng, 15)) added.harmonic_filter = Decibel(between(rng, 0, 30));
    return added;
}

void hop_about(std::mt19937_64& rng, spectrum::Transmitter& transmitter) {
    const Hertz half(1'000'000 * whole(rng, 5, 40));
    transmitter.hops =
        spectrum::HopBand{transmitter.frequency - half, transmitter.frequency + half};
    transmitter.duty = between(rng, 0.02, 1);
}

/// Goggles that see a transmitter: one receiver, or two or three for one picture.
void add_goggles(std::mt19937_64& rng, Scene& scene, std::size_t hears, const Point& at,
                 std::size_t owner) {
    const int receivers = one_of(rng, {1, 1, 1, 2, 2, 3});
    for (int i = 0; i < receivers; ++i) add_receiver(rng, scene, hears, at, owner);
}

/// What a relay hears of its owner's aircraft, and the relay's own goggles.
void add_chain(std::mt19937_64& rng, Scene& scene, std::size_t video, std::size_t relay,
               std::size_t owner) {
    const auto mast = std::get<Point>(scene.transmitters[relay].at);
    const int inputs = one_of(rng, {1, 1, 2});
    for (int i = 0; i < inputs; ++i) add_receiver(rng, scene, video, mast, owner).feeds = relay;
    if (chance(rng, 30)) add_goggles(rng, scene, video, random_place(rng), owner);
}

/// Gear for the scene: one or two kinds of it, so that its tables stay small.
Scene with_gear(std::mt19937_64& rng, Channels channels) {
    Scene scene;
    scene.emissions.push_back(emission("fm-video"));
    const bool digital = chance(rng, 40);
    if (digital)
        scene.emissions.push_back(emission(one_of(rng, {"ofdm-20", "ofdm-10"})));
    else if (chance(rng, 30))
        scene.emissions.push_back(emission("fm-video-wide"));
    if (channels == Channels::three_bands) {
        for (const auto* name : {"fm-video-1g3", "fm-video-2g4", "fm-video-5g8-wide"})
            scene.profiles.push_back(receiver(name));
    } else {
        scene.profiles.push_back(receiver("fm-video-5g8"));
        if (chance(rng, 30)) scene.profiles.push_back(receiver("fm-video-5g8-sharp"));
    }
    if (digital) scene.profiles.push_back(receiver(one_of(rng, {"ofdm-20-5g8", "ofdm-10-5g8"})));
    return scene;
}

/// One who flies, with whatever else they bring, as long as there are no more than `most` on the
/// air.
void add_pilot(std::mt19937_64& rng, Scene& scene, Channels channels, std::size_t owner,
               std::size_t most) {
    const bool flies = chance(rng, 75);
    add_transmitter(
        rng, scene, channels,
        flies ? spectrum::Station(random_envelope(rng)) : spectrum::Station(random_place(rng)));
    const auto video = scene.transmitters.size() - 1;
    if (owner > 1 && chance(rng, 10))
        hop_about(rng, scene.transmitters[video]);
    else if (chance(rng, 85))
        add_goggles(rng, scene, video, random_place(rng), owner);
    const auto is_room = [&] { return scene.transmitters.size() < most; };
    if (is_room() && chance(rng, 15)) {  // the ground side of a two-way system
        auto& uplink = add_transmitter(rng, scene, channels, random_place(rng));
        uplink.frequency = scene.transmitters[video].frequency;
        uplink.emission = scene.transmitters[video].emission;
        uplink.spares = owner;
    }
    if (is_room() && !scene.transmitters[video].hops && chance(rng, 20)) {
        add_transmitter(rng, scene, channels, random_place(rng));
        const auto relay = scene.transmitters.size() - 1;
        add_receiver(rng, scene, relay, random_place(rng), owner).body =
            Decibel(chance(rng, 50) ? 10 : 0);
        add_chain(rng, scene, video, relay, owner);
    }
}

void populate(std::mt19937_64& rng, Scene& scene, Channels channels, std::size_t most) {
    for (std::size_t owner = 1; scene.transmitters.size() < most; ++owner)
        add_pilot(rng, scene, channels, owner, most);
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
    return {between(rng, -80, 80),       between(rng, -20, 150),
            between(rng, 10, 80),        low_m,
            low_m + between(rng, 0, 60), one_of(rng, {30.0, 30.0, 2.0, 10.0, 60.0})};
}

Point random_place(std::mt19937_64& rng) {
    return {between(rng, -30, 30), between(rng, -15, 5), between(rng, 0.8, 4)};
}

Scene random_scene(std::mt19937_64& rng, Channels channels, int most) {
    Scene scene = with_gear(rng, channels);
    populate(rng, scene, channels, static_cast<std::size_t>(whole(rng, 2, most)));
    if (scene.receivers.empty()) add_receiver(rng, scene, 0, random_place(rng), 1);
    if (chance(rng, 20)) add_receiver(rng, scene, std::nullopt, random_place(rng), 0);
    return scene;
}

Scene random_scene_with_relay(std::mt19937_64& rng, int most) {
    Scene scene = with_gear(rng, Channels::one_band);
    const Point mast = random_place(rng);
    add_transmitter(rng, scene, Channels::one_band, mast).duty = 1;
    constexpr std::size_t relay = 0, owner = 0;
    const int goggles = whole(rng, 1, 2);
    for (int i = 0; i < goggles; ++i)
        add_receiver(rng, scene, relay,
                     {mast.x_m + between(rng, -15, 15), mast.y_m - between(rng, 0.5, 12), 1.7},
                     owner)
            .body = Decibel(chance(rng, 30) ? 10 : 0);
    if (chance(rng, 50)) {
        add_transmitter(rng, scene, Channels::one_band, random_envelope(rng));
        add_chain(rng, scene, 1, relay, owner);
    }
    populate(rng, scene, Channels::one_band,
             scene.transmitters.size() + static_cast<std::size_t>(whole(rng, 1, most - 1)));
    return scene;
}

}  // namespace fieldpeg::testing
