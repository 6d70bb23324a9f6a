#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <string>
#include <vector>

/// Who has a peg. Used by pegs.cc and pegs_page.cc.
namespace fieldpeg::show {

/// Whoever may hold a channel: a pilot's aircraft, or a relay.
struct Peg {
    std::string pilot, relay;
    const v1::Transmitter* gear;  ///< null: sends nothing
    const v1::Claim* claim;       ///< null: holds no channel

    std::string name() const { return relay.empty() ? pilot : relay; }
    bool is_held() const { return gear && claim; }
    bool moves() const { return gear && gear->moves_by_itself(); }
};

/// Pilots in the order of the day, behind each their relays.
std::vector<Peg> pegs(const v1::DaySheet& sheet);

/// "Ann", or "mast (relay of Dee)".
std::string name_text(const Peg& peg);
/// "group 1", "always on", or nothing.
std::string group_text(const v1::Claim& claim);
bool is_called_by_mhz(const v1::Channel& channel);
/// Why somebody has no peg.
std::string missing_text(const Peg& peg);

}  // namespace fieldpeg::show
