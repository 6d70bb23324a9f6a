#pragma once

#include "fieldpeg/v1/query.pb.h"

#include <chrono>
#include <limits>
#include <optional>

/// When a client tries again and when it gives up. Times and outcomes are arguments: a test lives
/// through a day in no time.
namespace fieldpeg::link {

/// How long a client tries before it says that there is no answer.
struct Patience {
    std::chrono::milliseconds connect{3000};    ///< one attempt
    std::chrono::milliseconds answer{10'000};   ///< of a server that is connected
    std::chrono::milliseconds elsewhere{4000};  ///< of the same, where another may have the day
    std::chrono::milliseconds all{8000};        ///< attempts together
};

inline constexpr std::chrono::milliseconds back_off_first{100};
inline constexpr std::chrono::milliseconds back_off_most{2000};

/// So often one request is sent. Once more is safe: it goes by the same name, and is done once. But
/// a server that was lost twice while it was asked the same thing may have been lost by it.
inline constexpr int sends_max = 2;

/// What became of an attempt that brought no answer.
enum class Unanswered {
    unsent,    ///< nobody was there to send it to
    sent,      ///< and then the connection was lost, or ended, or nothing came for too long
    for_good,  ///< by a server that will not change its mind, or by another than was joined
};

/// Whether a goodbye is for good. A server that is stopping, or failed, may come back; one that
/// knows us not will know us no better.
bool is_final(const v1::Refusal& goodbye);

/// The attempts at one thing.
class Retry {
public:
    using Time = std::chrono::steady_clock::time_point;
    using Wait = std::chrono::steady_clock::duration;

    /// At having one request answered, begun now.
    static Retry of_a_request(const Patience& patience, Time now) {
        return {now + patience.all, sends_max};
    }
    /// At watching, for as long as somebody wants to.
    static Retry of_watching() { return {Time::max(), std::numeric_limits<int>::max()}; }

    /// How long to wait before the next attempt; none: there is to be none.
    std::optional<Wait> after(Unanswered what, Time now);
    /// What was tried has begun to work: if it breaks off, the wait is short again.
    void succeeded() { back_off_ = back_off_first; }
    bool was_sent_too_often() const { return sends_ >= sends_most_; }

private:
    Retry(Time give_up, int sends_most) : give_up_(give_up), sends_most_(sends_most) {}

    Time give_up_;
    int sends_most_;
    int sends_ = 0;
    Wait back_off_ = back_off_first;
};

inline constexpr std::chrono::seconds ping_every{15};
/// A server that answers no ping for this long is lost.
inline constexpr std::chrono::seconds silent_max{40};
static_assert(2 * ping_every < silent_max, "one answer that was lost is not a lost server");

/// A connection on which nothing has to happen: the server is asked now and then whether it is
/// there, and given up when it says nothing for too long.
class Silence {
public:
    using Time = std::chrono::steady_clock::time_point;
    enum class Due { nothing, ping, giving_up };

    explicit Silence(Time now) : heard_(now), asked_(now) {}

    void heard(Time now) { heard_ = now; }
    void asked(Time now) { asked_ = now; }
    Due due(Time now) const;
    /// When something will be due.
    Time next() const;

private:
    Time heard_;
    Time asked_;
};

}  // namespace fieldpeg::link
