#pragma once

#include <boost/asio/ip/address.hpp>

#include <algorithm>
#include <chrono>
#include <cstddef>
#include <map>

namespace fieldpeg::wire {

/// Slows down those who guess, and those who knock without a ticket: an address that fails too
/// often is not listened to for a while, and one that knocks too often not so often.
class Gate {
public:
    using Time = std::chrono::steady_clock::time_point;

    static constexpr int failures_max = 5;
    static constexpr std::chrono::seconds closed_for{30};
    static constexpr std::size_t addresses_max = 4096;
    /// Behind one router a whole club may stand, whose phones all come as one address; all the same
    /// it leaves a third of those who may wait (day::waiting_max) to others, and whoever joins over
    /// and over again does not fill the log [ours].
    static constexpr int knocks_at_once = 20;
    static constexpr std::chrono::seconds knock_again_after{30};

    bool admits(const boost::asio::ip::address& from, Time now) const {
        const auto known = failures_.find(from);
        return known == failures_.end() || known->second.count < failures_max ||
               now - known->second.last >= closed_for;
    }

    void failed(const boost::asio::ip::address& from, Time now) {
        if (failures_.size() >= addresses_max)
            std::erase_if(failures_,
                          [&](const auto& one) { return now - one.second.last >= closed_for; });
        if (failures_.size() >= addresses_max && !failures_.contains(from)) return;
        auto& one = failures_[from];
        if (now - one.last >= closed_for) one.count = 0;
        ++one.count;
        one.last = now;
    }

    /// Somebody wants to join without a ticket. False: too many did from this address; one more may
    /// each half minute.
    bool takes_knock(const boost::asio::ip::address& from, Time now) {
        const auto is_forgotten = [&](const Time& paid_until) { return paid_until <= now; };
        if (knocks_.size() >= addresses_max)
            std::erase_if(knocks_, [&](const auto& one) { return is_forgotten(one.second); });
        if (knocks_.size() >= addresses_max && !knocks_.contains(from)) return false;
        auto& paid_until = knocks_[from];
        const auto next = std::max(paid_until, now) + knock_again_after;
        if (next - now > knocks_at_once * knock_again_after) return false;
        paid_until = next;
        return true;
    }

    void succeeded(const boost::asio::ip::address& from) { failures_.erase(from); }

private:
    struct Failures {
        int count = 0;
        Time last{};
    };
    std::map<boost::asio::ip::address, Failures> failures_;
    std::map<boost::asio::ip::address, Time> knocks_;  ///< until when each has used up its share
};

}  // namespace fieldpeg::wire
