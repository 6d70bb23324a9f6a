#pragma once

#include <array>
#include <string_view>

namespace fieldpeg::service {

/// What is said wherever the day is looked at as a whole.
inline constexpr std::array<std::string_view, 5> cautions = {
    "Margins are estimates from declared gear and places. A good verdict is no promise and no "
    "clearance to launch.",
    "Fly with a spotter and a tested failsafe; a lost picture is a falling aircraft.",
    "Keep away from high-gain and high-power antennas: 'relay check' names a distance and its "
    "source.",
    "Which bands, powers and licences are allowed is for the national authority and the club's own "
    "rules.",
    "If the server does not answer: do not switch on unless the marshal says so."};

}  // namespace fieldpeg::service
