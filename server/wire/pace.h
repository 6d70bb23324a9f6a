#pragma once

#include <algorithm>
#include <chrono>

namespace fieldpeg::wire {

/// So much at once, then so much a second. Whoever asks for more waits, and owes it: up to a limit.
struct Rate {
    double at_once;
    double per_second;
    double owed_most = 0;
};

/// How fast somebody is listened to.
class Pace {
public:
    using Time = std::chrono::steady_clock::time_point;
    using Wait = std::chrono::steady_clock::duration;

    explicit Pace(Rate rate) : rate_(rate), held_(rate.at_once) {}

    /// How long to wait before what weighs so much is taken. It counts from now on.
    Wait taken(Time now, double weight) {
        held_ = held(now);
        last_ = std::max(last_, now);
        held_ = std::max(held_ - weight, -rate_.owed_most);
        if (held_ >= 0) return Wait::zero();
        return std::chrono::duration_cast<Wait>(Seconds(-held_ / rate_.per_second));
    }

    /// Whether it may be had at once; if not, it does not count.
    bool takes(Time now, double weight) {
        held_ = held(now);
        last_ = std::max(last_, now);
        if (held_ < weight) return false;
        held_ -= weight;
        return true;
    }

    /// Nothing is owed: one that is new would be the same.
    bool is_rested(Time now) const { return held(now) >= rate_.at_once; }

private:
    using Seconds = std::chrono::duration<double>;

    double held(Time now) const {
        if (last_ == Time{} || now <= last_) return held_;
        return std::min(rate_.at_once, held_ + rate_.per_second * Seconds(now - last_).count());
    }

    Rate rate_;
    double held_;
    Time last_{};
};

}  // namespace fieldpeg::wire
