#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <string>
#include <string_view>

/// Flying days of an invented club, as day files and as sheets.
namespace fieldpeg::testing {

/// A day file that uses every key there is.
std::string_view whole_day();

/// `text` with `from`, which must be in it, once changed to `to`.
std::string changed(std::string_view text, std::string_view from, std::string_view to);

/// The sheet of a day file. Throws std::logic_error with all that is wrong with the file.
v1::DaySheet sheet_of(std::string_view text);

/// Places line-1 to line-4 (4 m apart), tripod (10 m to the side), chair (22 m behind it) and pits;
/// areas circuit (30 to 130 m out) and valley (0.9 to 2.7 km out).
std::string field_text();

/// Somebody with usual gear on `place`, flying the circuit.
struct PilotText {
    std::string name;
    std::string place = "line-1";
    std::string channel = "R1";
    std::string power_mw = "25";
    std::string stage = "on_air = true";  ///< or "on_bench = true", or nothing: held
    std::string area = "circuit";
    std::string more = "";          ///< lines of the pilot's table
    std::string more_video = "";    ///< lines of the video's table
    std::string more_goggles = "";  ///< lines of the receiver's table
};
std::string text_of(const PilotText& pilot);

/// A relay on the tripod.
struct RelayText {
    std::string name;
    std::string owner;
    std::string channel = "R8";
    std::string power_mw = "25";
    std::string place = "tripod";
    std::string more = "";    ///< lines of the relay's table
    std::string tables = "";  ///< tables below it
};
std::string text_of(const RelayText& relay);

}  // namespace fieldpeg::testing
