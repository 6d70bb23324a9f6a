#pragma once

#include "server/service/timer.h"

#include <cstdint>
#include <functional>
#include <map>
#include <random>
#include <utility>

namespace fieldpeg::simulation {

/// Where every chance of a run comes from.
using Chance = std::mt19937_64;

/// Time, and what is to happen in it. The desk wakes by it too: there may be only one at a time.
class Clockwork {
public:
    using Time = service::SteadyTime::time_point;
    using Happening = std::function<void()>;

    Clockwork();
    ~Clockwork();
    Clockwork(const Clockwork&) = delete;
    Clockwork& operator=(const Clockwork&) = delete;

    void after(std::int64_t wait_ms, Happening happening) { at(now_ms_ + wait_ms, happening); }
    void at(std::int64_t steady_ms, Happening happening);
    /// The time goes on to what is next, and that happens. False: nothing ever will.
    bool next();

    std::int64_t steady_ms() const { return now_ms_; }
    Time steady() const { return Time(std::chrono::milliseconds(now_ms_)); }
    /// As somebody has set the server's clock.
    std::int64_t utc_ms() const { return now_ms_ + ahead_ms_; }
    void jump(std::int64_t by_ms) { ahead_ms_ += by_ms; }

private:
    std::int64_t now_ms_ = 1'000'000;
    std::int64_t ahead_ms_ = 1'800'000'000'000;
    std::uint64_t last_ = 0;  ///< what is to happen at one time happens in the order it was said
    std::map<std::pair<std::int64_t, std::uint64_t>, Happening> happenings_;
};

}  // namespace fieldpeg::simulation
