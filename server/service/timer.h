#pragma once

#include <boost/asio/basic_waitable_timer.hpp>

#include <chrono>

namespace fieldpeg::service {

/// The time by which the desk wakes. Steady time, unless a simulation gives its own, before
/// anything runs.
struct SteadyTime {
    using duration = std::chrono::steady_clock::duration;
    using rep = duration::rep;
    using period = duration::period;
    using time_point = std::chrono::steady_clock::time_point;
    static constexpr bool is_steady = true;

    static time_point now() { return source(); }

    static inline time_point (*source)() = &std::chrono::steady_clock::now;
};

using Timer = boost::asio::basic_waitable_timer<SteadyTime>;

}  // namespace fieldpeg::service
