#pragma once

#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <map>
#include <utility>
#include <vector>

/// Who was in the air when, and for how long, folded from the log.
namespace fieldpeg::day {

/// Follows the log and keeps every flight: an unbroken time on the air of an aircraft or a relay.
/// Another channel or power on the way does not break it; what is always on is no flight.
class Airtime {
public:
    /// The day as it is after one more entry.
    void take(const v1::DayState& state);
    /// In the order in which they began; what has no end yet lasts until now.
    std::vector<v1::Flight> flights(std::int64_t now_ms) const;

private:
    struct Begun {
        v1::Flight flight;
        bool is_flown = false;           ///< on the air, not only told that it may be
        std::uint64_t seen_version = 0;  ///< the last at which it went on
    };
    template <class One>
    void look_at(const One& one, const v1::DayState& state);
    bool take_up(std::uint32_t id, std::int64_t at_ms, v1::Flight& flight);
    void end(const std::pair<const std::uint32_t, Begun>& one, v1::Flight::End how,
             const v1::DayState& state);

    std::map<std::uint32_t, Begun> begun_;  ///< and not ended, by id
    std::vector<std::pair<std::uint32_t, v1::Flight>> ended_;
};

/// The reply: flights with their totals, and how many aircraft were in the air at once at most.
v1::AirtimeReply airtime(std::vector<v1::Flight> flights);

}  // namespace fieldpeg::day
