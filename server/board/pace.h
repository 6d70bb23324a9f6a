#pragma once

#include <algorithm>
#include <chrono>

namespace fieldpeg::board {

/// How fast one client is listened to: so many at once, then so many a second.
class Pace {
public:
    using Time = std::chrono::steady_clock::time_point;
    using Wait = std::chrono::steady_clock::duration;

    static constexpr double at_once = 40;
    static constexpr double per_second = 10;

    /// How long to wait before the next one is taken.
    Wait taken(Time now) {
        using Seconds = std::chrono::duration<double>;
        if (last_ != Time{})
            held_ = std::min(at_once, held_ + per_second * Seconds(now - last_).count());
        last_ = now;
        held_ -= 1;
        if (held_ >= 0) return Wait::zero();
        return std::chrono::duration_cast<Wait>(Seconds(-held_ / per_second));
    }

private:
    double held_ = at_once;
    Time last_{};
};

}  // namespace fieldpeg::board
