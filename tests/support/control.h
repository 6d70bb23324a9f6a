#pragma once

#include <string>
#include <string_view>

/// What steers an aircraft, and what takes that away, as day files have it.
namespace fieldpeg::testing {

/// For the end of a pilot's tables: a handset and a control receiver, as usual.
inline constexpr std::string_view steered = "[pilot.handset]\n[pilot.control]\n";

/// The place "rim" above the far rim of the circuit as seen from line-1, and the area "corner"
/// about it: near whoever flies there.
inline std::string far_rim_text() {
    return "[[field.place]]\nname = \"rim\"\nat_m = [14, 136]\nheight_m = 20\n"
           "[[field.area]]\nname = \"corner\"\ncentre_m = [10, 130]\nradius_m = 10\n"
           "height_m = [14, 28]\n";
}

/// An emitter of the field; `more` are further lines.
inline std::string emitter_text(std::string_view name, std::string_view place,
                                std::string_view more) {
    return "[[field.emitter]]\nname = \"" + std::string(name) + "\"\nplace = \"" +
           std::string(place) + "\"\n" + std::string(more) + "\n";
}

}  // namespace fieldpeg::testing
