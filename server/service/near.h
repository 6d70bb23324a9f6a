#pragma once

#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::service {

/// What is near a frequency where nobody says how near.
inline constexpr double neighbourhood_mhz = 20;

/// How long after a moment somebody found radiating unasked is thought to have done so then already
/// [ours: battery packs last longer, memories do not].
inline constexpr std::int64_t found_out_ms = 15LL * 60 * 1000;

/// A moment of the day as it is believed to have been by what was said later: gear, places and
/// areas as they were declared since, and what was soon found to radiate without having been asked.
class Hindsight {
public:
    Hindsight(v1::DayState then, std::int64_t at_ms);

    /// Takes in an event from after the moment, in their order, and how it is told in words.
    void take(const v1::Event& event, std::string_view sentence);

    const v1::DayState& then() const { return then_; }
    const v1::DayState& now() const { return now_; }
    std::int64_t at_ms() const { return at_ms_; }
    const std::vector<v1::LaterFact>& later() const { return later_; }

private:
    bool changes(const v1::Event& event);
    void put(const v1::Event& event);

    v1::DayState then_, now_;
    std::int64_t at_ms_;
    std::vector<v1::LaterFact> later_;
};

/// Who could have hit whom: everything that radiated at the moment, nearest in frequency first, and
/// what it made of the receivers tuned near the frequency, by what was known then and is now.
/// Requires a query in range.
v1::NearReply near(const v1::NearQuery& query, const Hindsight& moment);

}  // namespace fieldpeg::service
