#pragma once

#include "server/day/comparison.h"

#include "fieldpeg/v1/event.pb.h"

#include <vector>

namespace fieldpeg::day {

/// Who did it, for the warnings.
struct Cause {
    std::uint32_t id = 0;  ///< transmitter or sighting
    std::uint32_t by = 0;  ///< the person who did it
    bool is_sighting = false;
    bool is_relay = false;
    bool comes_on = false;
    bool allowed = false;  ///< by the marshal, against somebody
    v1::Channel channel;
    double power_dbm = 0;
};

/// What to tell whom after a change: everybody but the cause's owner whose picture on the air gets
/// worse, by what is on the air before and after.
std::vector<v1::Warning> warnings(const v1::DayState& before, const v1::DayState& after,
                                  const Cause& cause, Memory& memory);

}  // namespace fieldpeg::day
