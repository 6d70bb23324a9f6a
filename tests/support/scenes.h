#pragma once

#include "server/spectrum/scene.h"

#include <cstddef>
#include <cstdint>
#include <random>
#include <string_view>

/// Random moments of flying days, with gear of the library.
namespace fieldpeg::testing {

using namespace spectrum::literals;

/// How the frequencies of a scene lie to each other.
enum class Channels {
    one_band,     ///< whole megahertz, close together, so that products fall on receivers
    fine,         ///< the same a few kilohertz off: no common step worth a table
    three_bands,  ///< 1.3, 2.4 and 5 GHz, where f_b - 2 f_a meets a receiver
};

spectrum::Antenna upright(std::string_view name, spectrum::Polarisation polarisation);
spectrum::Antenna random_antenna(std::mt19937_64& rng);
spectrum::Envelope random_envelope(std::mt19937_64& rng);
/// Where somebody on the pilot line may stand.
spectrum::Point random_place(std::mt19937_64& rng);

/// 2 to `most` transmitters in the air and on the ground, some on one channel, FM and digital, some
/// of them rare, hopping or the ground side of a two-way system. Each pilot is an owner from 1 on,
/// seen by nobody, by one receiver or by several together, now and then through a relay or beside
/// it. Stand-offs differ. Now and then a receiver hears nothing.
spectrum::Scene random_scene(std::mt19937_64& rng, Channels channels, int most = 8);

/// The same with transmitter 0 on the ground, the relay of owner 0, heard by one receiver a few
/// metres away or two; every other time it is fed with the picture of transmitter 1. Up to `most`
/// others.
spectrum::Scene random_scene_with_relay(std::mt19937_64& rng, int most = 4);

}  // namespace fieldpeg::testing
